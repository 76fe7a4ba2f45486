"""Pairs the ends of slurs."""

from __future__ import annotations

from lxml import etree

from reduce.read.pieces import Piece, Sign


class Slurs:
    """The slurs of one part, told apart by number; finished ones go to ``signs``."""

    def __init__(self, signs: list[Sign]) -> None:
        self._signs = signs
        self._open: dict[str, Piece] = {}
        self._ends: dict[str, Piece] = {}

    def read(self, element: etree._Element, piece: Piece) -> None:
        """Open or close a slur.  One that changes voice may close, in the order of the file, before it opens."""
        number = element.get("number") or "1"
        kind = element.get("type")
        if kind == "start":
            end = self._ends.get(number)
            if end is not None and end.onset > piece.onset and number not in self._open:
                del self._ends[number]
                self._join(piece, end)
            else:
                self._open[number] = piece
        elif kind == "stop":
            begin = self._open.get(number)
            if begin is not None and begin.onset <= piece.onset:
                del self._open[number]
                self._join(begin, piece)
            else:
                self._ends[number] = piece

    def bar_over(self) -> None:
        """Ends without beginning wait no longer than their bar."""
        if self._ends:
            self._ends.clear()

    def _join(self, first: Piece, last: Piece) -> None:
        self._signs.append(Sign("slur", first.staff, first.bar, first.onset, last.onset + last.duration, pieces=(first, last)))
