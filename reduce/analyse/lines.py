"""The outline of each playing line, and the grid of beats on which lines are compared."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping, Sequence

from reduce.model.record import dataclass
from reduce.model.score import Note, Score
from reduce.model.texture import Stream


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """The top edge of one stream, moment by moment: parallel tuples in time order.

    ``ends`` are clipped at the next onset; ``sizes`` count the notes struck together; ``staff_places`` are diatonic.
    """

    stream: int
    notes: tuple[Note, ...]
    ends: tuple[int, ...]
    sizes: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """Felt beats.  ``starts`` has one more entry than there are beats; ``bars`` the bar index of each beat;
    ``inside`` its place in the bar (0 = downbeat); ``per_bar`` the usual number of beats a bar."""

    starts: tuple[int, ...]
    bars: tuple[int, ...]
    inside: tuple[int, ...]
    per_bar: int

    def at(self, tick: int) -> int:
        """Index of the beat that holds ``tick`` (clamped to the piece)."""
        return min(max(bisect_right(self.starts, tick) - 1, 0), len(self.bars) - 1)


def outline(score: Score, streams: Sequence[Stream], stream_of: Mapping[str, int]) -> tuple[Line, ...]:
    """The highest struck note of each stream at each of its onsets (graces left out)."""
    top: list[dict[int, Note]] = [{} for _ in streams]
    size: list[dict[int, int]] = [{} for _ in streams]
    for note in score.notes:
        if note.kind != "struck" or note.duration <= 0:
            continue
        stream = stream_of.get(note.id)
        if stream is None:
            continue
        held = top[stream].get(note.onset)
        if held is None:
            top[stream][note.onset] = note
            size[stream][note.onset] = 1
        else:
            size[stream][note.onset] += 1
            if note.midi > held.midi:
                top[stream][note.onset] = note
    lines = []
    for index, (tops, sizes) in enumerate(zip(top, size, strict=True)):
        onsets = sorted(tops)
        notes = tuple(tops[t] for t in onsets)
        following = [*onsets[1:], 1 << 60][: len(onsets)]
        ends = tuple(min(n.onset + n.duration, after) for n, after in zip(notes, following, strict=True))
        lines.append(Line(stream=index, notes=notes, ends=ends, sizes=tuple(sizes[t] for t in onsets)))
    return tuple(lines)


def grid(score: Score) -> Grid:
    """Cut the piece into felt beats, counted back from the bar line in a pick-up bar and forward in every other bar."""
    starts: list[int] = []
    bars: list[int] = []
    inside: list[int] = []
    counts: dict[int, int] = {}
    for bar in score.bars:
        if bar.length <= 0:
            continue
        beat = max(1, bar.meter.beat_ticks(score.resolution))
        first = bar.length % beat if bar.pickup else 0
        cuts = sorted({0, *range(first, bar.length, beat)})
        missing = max(0, bar.meter.ticks(score.resolution) - bar.length) // beat if bar.pickup else 0
        for place, cut in enumerate(cuts):
            starts.append(bar.start + cut)
            bars.append(bar.index)
            inside.append(place + missing)
        counts[len(cuts)] = counts.get(len(cuts), 0) + 1
    usual = max(counts, key=lambda n: (counts[n], n)) if counts else 1
    return Grid(starts=(*starts, score.end), bars=tuple(bars), inside=tuple(inside), per_bar=usual)
