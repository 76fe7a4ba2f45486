"""Breaches collected: the worst of each kind in a bar and hand."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from reduce.hands.report import Breach, BreachKind, Side
from reduce.hands.terms import Sheet
from reduce.model.draft import DraftNote
from reduce.model.record import replace
from reduce.model.score import Bar


class Tally:
    """Collects breaches: the worst of each kind in a bar and hand, with how often it comes."""

    def __init__(self, sheet: Sheet) -> None:
        self._sheet = sheet
        self._found: dict[tuple[int, str, str, bool], Breach] = {}

    def add(
        self,
        bar: int,
        onset: int,
        hand: Side,
        what: BreachKind,
        sentence: str,
        measured: float,
        limit: float,
        unit: str,
        hard: bool = False,
        notes: tuple[str, ...] = (),
    ) -> None:
        place = (bar, hand, what, hard)
        known = self._found.get(place)
        new = Breach(
            bar=bar,
            number=self._sheet.number(bar),
            onset=onset,
            hand=hand,
            what=what,
            sentence=sentence,
            measured=round(float(measured), 3),
            limit=round(float(limit), 3),
            unit=unit,
            hard=hard,
            notes=notes,
        )
        if known is None:
            self._found[place] = new
        else:
            worse = new if abs(new.measured - new.limit) > abs(known.measured - known.limit) else known
            self._found[place] = replace(worse, count=known.count + 1)

    def closed(self) -> tuple[Breach, ...]:
        return tuple(sorted(self._found.values(), key=lambda b: (b.bar, not b.hard, b.onset, b.hand, b.what)))


def placed(bars: Sequence[Bar], notes: Sequence[DraftNote]) -> Iterator[tuple[Bar, DraftNote]]:
    """Every note with the bar that it begins in, in order."""
    i = 0
    for note in sorted(notes, key=lambda n: n.onset):
        while i + 1 < len(bars) and note.onset >= bars[i + 1].start:
            i += 1
        yield bars[i], note
