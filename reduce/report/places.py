"""Where in the score: printed bars and beats."""

from __future__ import annotations

from bisect import bisect_right
from fractions import Fraction

from reduce.model.score import Bar, Score


class Places:
    """Names moments of a score the way they are read on the page."""

    def __init__(self, score: Score) -> None:
        self._bars = score.bars
        self._starts = [bar.start for bar in score.bars]
        self._resolution = score.resolution

    def number(self, index: int) -> str:
        """The printed number of a bar; '' where there is none."""
        return self._bars[index].number if 0 <= index < len(self._bars) else ""

    def bar_at(self, onset: int) -> Bar:
        """The bar that ``onset`` (ticks) falls into."""
        return self._bars[max(0, bisect_right(self._starts, onset) - 1)]

    def beat(self, onset: int, bar: Bar) -> int | float:
        """The beat of ``onset`` (ticks), 1 on the bar line; in a pick-up bar counted from the full bar it lacks.

        Felt beats: 6/8 has two.  Whole where it falls on the beat, else with three decimals at most.
        """
        lacking = max(0, bar.meter.ticks(self._resolution) - bar.length) if bar.pickup else 0
        ticks, beat = onset - bar.start + lacking, bar.meter.beat_ticks(self._resolution)
        return round((ticks + beat) / beat, 3) if ticks % beat else 1 + ticks // beat


def plain(value: float | Fraction) -> int | float:
    """A number without needless decimals."""
    whole = int(value)
    return whole if value == whole else round(float(value), 3)
