"""How long things last: durations in a part's divisions, or by the shape of the note."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

from lxml import etree

from reduce.model.problem import Severity
from reduce.read.figures import exact, whole

LONGEST = 1024  # quarter-notes; beyond it a length is a slip of the program that wrote the file

_TYPES = {
    "maxima": Fraction(32), "long": Fraction(16), "breve": Fraction(8), "whole": Fraction(4), "half": Fraction(2),
    "quarter": Fraction(1), "eighth": Fraction(1, 2), "16th": Fraction(1, 4), "32nd": Fraction(1, 8), "64th": Fraction(1, 16),
    "128th": Fraction(1, 32), "256th": Fraction(1, 64), "512th": Fraction(1, 128), "1024th": Fraction(1, 256),
}  # fmt: skip


class Lengths:
    """Ticks of one part's durations.  ``known`` remembers each text met; ``doubt`` takes severity, code and sentence."""

    def __init__(self, resolution: int, doubt: Callable[[Severity, str, str], None]) -> None:
        self.resolution = resolution
        self.known: dict[str, int] = {}
        self._doubt = doubt
        self._divisions: Fraction | None = None

    def set_divisions(self, text: str | None) -> None:
        """Divisions of a quarter-note from here on."""
        divisions = exact(text)
        if divisions is None or divisions <= 0:
            self._doubt("doubt", "divisions", f"The part counts time in {_shown(text)}; its lengths were taken as quarter-notes.")
            divisions = Fraction(1)
        if divisions != self._divisions:
            self._divisions = divisions
            self.known.clear()

    def ticks(self, text: str | None) -> int:
        """Ticks of a duration; 0 where it cannot be."""
        if text is None:
            return 0
        found = self.known.get(text)
        if found is None:
            found = self.known[text] = self._work_out(text)
        return found

    def signed(self, text: str) -> int:
        """Ticks of an offset, which may look back."""
        text = text.strip()
        return -self.ticks(text[1:]) if text.startswith("-") else self.ticks(text)

    def _work_out(self, text: str) -> int:
        if self._divisions is None:
            self._divisions = Fraction(1)
            self._doubt("doubt", "divisions", "The part does not say how it counts time; its lengths were taken as quarter-notes.")
        length = exact(text)
        if length is None:
            self._doubt("fault", "duration", f"A length of {_shown(text)} cannot be read; the note's shape was taken.")
            return 0
        ticks = length * self.resolution / self._divisions
        if not 0 <= ticks <= LONGEST * self.resolution:
            self._doubt("fault", "duration", f"A length of {_shown(text)} is not possible; the note's shape was taken.")
            return 0
        if ticks.denominator != 1:
            self._doubt("doubt", "rounded", "Some lengths fall between the smallest steps of time kept; they were rounded.")
        return round(ticks)

    def by_sight(self, element: etree._Element, bar: int) -> int:
        """Ticks of a note without a duration, from its shape, dots and tuplet; a rest without shape fills the ``bar``."""
        rest = element.find("rest")
        length = _TYPES.get((element.findtext("type") or "").strip())
        if length is not None:
            length = length * 2 - length / 2 ** min(len(element.findall("dot")), 8)
            ratio = ratio_of(element.find("time-modification"))
            if ratio is not None:
                length = length * ratio[1] / ratio[0]
            return int(length * self.resolution)
        if rest is not None:
            return bar if element.find("duration") is None else 0
        self._doubt("fault", "duration", "A note has neither length nor shape; it was left out.")
        return 0


def ratio_of(element: etree._Element | None) -> tuple[int, int] | None:
    """(3, 2) for a triplet; None for no tuplet."""
    if element is None:
        return None
    actual, normal = whole(element.findtext("actual-notes"), 0), whole(element.findtext("normal-notes"), 0)
    return (actual, normal) if 0 < actual < 1000 and 0 < normal < 1000 and actual != normal else None


def _shown(text: str | None) -> str:
    return repr((text or "").strip()[:20])
