"""Where the tune comes back, and where all hold: what an excerpt must not break off."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from reduce.arrange.line import bar_at
from reduce.model.record import dataclass
from reduce.model.score import Bar, Score
from reduce.model.texture import Texture

_ALIKE = 0.75  # share of the notes of two bars that agree in place and key
_GAP = 1  # bars in which a return may differ before it goes on


@dataclass(frozen=True, slots=True)
class Return:
    """The tune of the bars from ``first`` on comes again in ``second``..``last`` (indices), in the same key; octaves do not count."""

    first: int
    second: int
    last: int


def returns_of(score: Score, texture: Texture, least: int) -> tuple[Return, ...]:
    """Every return of at least ``least`` bars of the tune, at least as far away, in order; its ends agree, and most of its bars do."""
    rows = _sung(score, texture)
    places: dict[frozenset[tuple[int, int]], list[int]] = {}
    for index, row in enumerate(rows):
        if len(row) > 1:
            places.setdefault(row, []).append(index)
    apart = Counter(later - earlier for found in places.values() for k, later in enumerate(found) for earlier in found[:k])
    out = []
    for distance in sorted(bars for bars, count in apart.items() if bars >= least and count >= least // 2):
        start = last = -1
        agreed = 0
        for second in [*range(distance, len(rows)), len(rows) + _GAP + 1]:
            alike = second < len(rows) and _alike(rows[second - distance], rows[second])
            if start >= 0 and second - last > _GAP + 1:
                if last - start + 1 >= least and 3 * agreed >= 2 * (last - start + 1):
                    out.append(Return(start - distance, start, last))
                start, agreed = -1, 0
            if alike:
                start, last, agreed = (second if start < 0 else start), second, agreed + 1
    return tuple(sorted(out, key=lambda item: (item.second, item.first)))


def within_return(found: Sequence[Return], first: int, last: int, closing: frozenset[int], period: int) -> bool:
    """Whether an excerpt ends in the middle of the return of something that it stated.

    It does not where a whole ``period`` of the return has been heard and its model came to a close there (``closing`` bars).
    """
    for item in found:
        if first <= item.first and item.second <= last < item.last and item.last >= item.second:
            model = item.first + last - item.second
            if not (last - item.second + 1 >= period and model in closing):
                return True
    return False


def held_by_all(score: Score) -> dict[int, int]:
    """Bars (indices) that end with a fermata over all that still sounds, each with the tick where it ends.

    An upbeat of a beat at most may follow in the bar.  A note that begins and ends with a held one is held as well: one sign serves two
    players on a staff (common practice).
    """
    until: dict[int, int] = {}
    signed = {(note.onset, note.end) for note in score.notes if note.fermata and note.duration}
    for _, end in signed:
        bar = bar_at(score.bars, end - 1)
        if bar.end - end <= bar.meter.beat_ticks(score.resolution):
            until[bar.index] = max(until.get(bar.index, 0), end)
    for note in score.notes if until else ():
        if note.duration and (note.onset, note.end) not in signed:
            place = note.bar
            while place < len(score.bars) and score.bars[place].start < note.end:
                if note.onset < until.get(place, 0) <= note.end:
                    del until[place]
                place += 1
    return until


def _sung(score: Score, texture: Texture) -> list[frozenset[tuple[int, int]]]:
    """For each bar what the tune strikes in it: place and pitch class."""
    rows: list[set[tuple[int, int]]] = [set() for _ in score.bars]
    bars: Sequence[Bar] = score.bars
    by_id = score.note_by_id
    for lead in texture.tune:
        for name in lead.notes:
            note = by_id[name]
            if note.duration:
                rows[note.bar].add((note.onset - bars[note.bar].start, note.midi % 12))
    return [frozenset(row) for row in rows]


def _alike(one: frozenset[tuple[int, int]], other: frozenset[tuple[int, int]]) -> bool:
    return bool(one) and bool(other) and 2 * len(one & other) >= _ALIKE * (len(one) + len(other))
