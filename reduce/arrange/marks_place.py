"""What all signs need to know: when the draft's notes begin, and whose part carries the tune."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence

from reduce.model.draft import DraftNote
from reduce.model.record import dataclass
from reduce.model.rules import Rules
from reduce.model.score import Bar, Mark, Score
from reduce.model.texture import Lead, Texture


@dataclass(frozen=True, slots=True)
class Page:
    """The draft as the signs see it.  Ticks are the source's; ``offset`` of them come before the draft's tick 0."""

    score: Score
    texture: Texture
    rules: Rules
    bars: Sequence[Bar]
    notes: Sequence[DraftNote]
    onsets: tuple[int, ...]  # of all draft notes, in source ticks
    leads: tuple[Lead, ...]  # of the tune, inside the kept bars
    offset: int

    @classmethod
    def of(cls, score: Score, texture: Texture, notes: Sequence[DraftNote], rules: Rules, bars: Sequence[Bar]) -> Page:
        start, end = bars[0].start, bars[-1].end
        onsets = tuple(sorted({note.onset + start for note in notes if not note.grace}))
        leads = tuple(lead for lead in texture.tune if lead.end > start and lead.start < end)
        return cls(score, texture, rules, bars, notes, onsets, leads, start)

    @property
    def start(self) -> int:
        return self.bars[0].start

    @property
    def end(self) -> int:
        return self.bars[-1].end

    def bar(self, tick: int) -> Bar:
        """The kept bar that sounds at a source tick."""
        starts = [bar.start for bar in self.bars]
        return self.bars[max(0, bisect_right(starts, tick) - 1)]

    def struck_from(self, tick: int, slack: int = 0) -> int:
        """The first moment at or after ``tick`` at which something is struck (at most ``slack`` ticks later, else ``tick`` itself)."""
        at = bisect_left(self.onsets, tick)
        if at < len(self.onsets) and self.onsets[at] - tick <= slack:
            return self.onsets[at]
        return tick

    def sounding_from(self, tick: int, slack: int = 0) -> int | None:
        """As `struck_from`, but from a rest on to the next moment at which something is struck; None where nothing is any more."""
        place = self.struck_from(tick, slack)
        at = bisect_left(self.onsets, place)
        if at < len(self.onsets) and self.onsets[at] == place:
            return place
        if at == len(self.onsets):
            return None
        low = place - self.offset
        return place if any(note.onset <= low < note.end for note in self.notes) else self.onsets[at]

    def part_at(self, tick: int) -> int | None:
        """The part that has the tune at a moment, or None where nobody has."""
        for lead in self.leads:
            if lead.start <= tick < lead.end:
                return self.part_of(lead)
        return None

    def part_of(self, lead: Lead) -> int | None:
        return next((stream.part for stream in self.texture.streams if stream.id == lead.stream), None)

    def marks(self, kind: str) -> list[Mark]:
        """Source signs of one kind that touch the kept bars."""
        return [
            mark
            for mark in self.score.marks
            if mark.kind == kind and mark.onset < self.end and (mark.end > self.start or mark.onset >= self.start)
        ]

    def numbers(self, first: int, last: int) -> str:
        """Printed bars between two source ticks: "Bars 3–8"."""
        one, two = self.bar(first), self.bar(max(first, last))
        return f"Bar {one.number}" if one is two else f"Bars {one.number}–{two.number}"
