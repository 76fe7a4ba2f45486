"""Many lines on one staff of a condensed score: streams of one rhythm share a stem, two voices a staff."""

from __future__ import annotations

import itertools
from bisect import bisect_left, bisect_right
from collections.abc import Sequence

from reduce.model.draft import DraftNote
from reduce.model.score import Bar
from reduce.notate.metre import WHOLE
from reduce.notate.voices import Chord

MOST_VOICES = 4


def without_unisons(notes: Sequence[DraftNote]) -> list[DraftNote]:
    """Drop what another instrument plays on the same key: of two notes that overlap the shorter stays, it has the rhythm."""
    by_key: dict[int, list[DraftNote]] = {}
    for note in notes:
        by_key.setdefault(note.midi, []).append(note)
    kept: list[DraftNote] = []
    for column in by_key.values():
        column.sort(key=lambda note: (note.duration, note.onset))
        starts: list[int] = []
        chosen: list[DraftNote] = []
        for note in column:
            at = bisect_left(starts, note.onset)
            if (at and chosen[at - 1].end > note.onset) or (at < len(starts) and starts[at] < note.end):
                continue
            starts.insert(at, note.onset)
            chosen.insert(at, note)
        kept += chosen
    kept.sort(key=lambda note: (note.onset, -note.midi, note.id))
    return kept


def without_octaves(notes: Sequence[tuple[int, DraftNote]], bars: Sequence[Bar]) -> list[tuple[int, DraftNote]]:
    """Drop, bar by bar, the streams that only double at the octave what another stream of the staff plays.

    ``notes``: (stream, note), the first stream of a bar to play a thing keeps it.
    """
    starts = [bar.start for bar in bars]
    by_bar: dict[int, dict[int, list[DraftNote]]] = {}
    for stream, note in notes:
        by_bar.setdefault(bisect_right(starts, note.onset) - 1, {}).setdefault(stream, []).append(note)
    gone: set[str] = set()
    for streams in by_bar.values():
        told: set[tuple[int, int, int]] = set()
        for found in streams.values():
            said = {(note.onset, note.duration, note.midi % 12) for note in found}
            if said <= told:
                gone.update(note.id for note in found)
            told |= said
    return [(stream, note) for stream, note in notes if note.id not in gone]


def shared_lanes(notes: Sequence[tuple[int, DraftNote]], bars: Sequence[Bar], resolution: int) -> list[list[Chord]]:
    """Lay out ``notes`` (stream, note) of one staff as lanes, highest first.

    In each bar streams with the same rhythm share a lane; where more than two remain, the pairs that need the fewest ties
    are joined, held notes being tied on under moving ones.  Nothing is lost.
    """
    lanes: list[list[Chord]] = []
    starts = [bar.start for bar in bars]
    by_bar: list[list[tuple[int, DraftNote]]] = [[] for _ in bars]
    for stream, note in notes:
        k = max(bisect_right(starts, note.onset) - 1, 0)
        while k < len(bars) and bars[k].start < note.end:
            by_bar[k].append((stream, note))
            k += 1
    for bar, inside in zip(bars, by_bar, strict=True):
        for k, lane in enumerate(_bar_lanes(inside, bar, 4 * resolution)):
            if k == len(lanes):
                lanes.append([])
            lanes[k] += lane
    while len(lanes) < 2:
        lanes.append([])
    return lanes


def _bar_lanes(notes: Sequence[tuple[int, DraftNote]], bar: Bar, whole: int) -> list[list[Chord]]:
    by_stream: dict[int, list[DraftNote]] = {}
    for stream, note in notes:
        by_stream.setdefault(stream, []).append(note)
    groups: dict[tuple[tuple[int, int], ...], list[DraftNote]] = {}
    for found in by_stream.values():
        rhythm = tuple(sorted({(max(note.onset, bar.start), min(note.end, bar.end)) for note in found}))
        groups.setdefault(rhythm, []).extend(found)
    lanes = [(_edges(rhythm), found) for rhythm, found in groups.items()]
    while len(lanes) > 2:
        price, a, b = min((_price(lanes[a], lanes[b], bar, whole), a, b) for a, b in itertools.combinations(range(len(lanes)), 2))
        if price >= _NEVER and len(lanes) <= MOST_VOICES:
            break
        joined = (lanes[a][0] | lanes[b][0], lanes[a][1] + lanes[b][1])
        lanes = [lane for k, lane in enumerate(lanes) if k not in (a, b)] + [joined]
    lanes.sort(key=lambda lane: -sum(note.midi * note.duration for note in lane[1]) / sum(note.duration for note in lane[1]))
    return [_slices(edges, found, bar) for edges, found in lanes]


_NEVER = 1 << 20


def _edges(rhythm: Sequence[tuple[int, int]]) -> frozenset[int]:
    return frozenset(edge for pair in rhythm for edge in pair)


def _price(a: tuple[frozenset[int], list[DraftNote]], b: tuple[frozenset[int], list[DraftNote]], bar: Bar, whole: int) -> int:
    """Ties that joining two lanes costs; triplets are never joined with notes that they do not fit."""
    ties = sum(1 for note in a[1] for edge in b[0] - a[0] if note.onset < edge < note.end)
    ties += sum(1 for note in b[1] for edge in a[0] - b[0] if note.onset < edge < note.end)
    off = [frozenset(edge for edge in edges if (edge - bar.start) * WHOLE % whole) for edges in (a[0], b[0])]
    if (off[0] or off[1]) and ties and not (a[0] <= b[0] or b[0] <= a[0]):
        return _NEVER + ties
    return ties


def _slices(edges: frozenset[int], notes: Sequence[DraftNote], bar: Bar) -> list[Chord]:
    """The chords between neighbouring edges; a note that goes on is tied."""
    found: list[Chord] = []
    for start, end in itertools.pairwise(sorted(edges)):
        sounding = sorted((note for note in notes if note.onset < end and note.end > start), key=lambda note: (note.midi, note.id))
        if sounding:
            found.append((start, end, tuple(sounding)))
    return found
