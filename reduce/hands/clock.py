"""Seconds on the sheet: the tempo marks turned into time."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence

from reduce.model.score import Tempo

USUAL_QUARTERS = 96.0  # a minute, where the sheet names no tempo (a walking pulse; common practice)


class Clock:
    """Turns ticks into seconds from the start of the piece.

    ``resolution`` ticks to a quarter-note; ``usual`` quarters a minute hold until the first mark with a number.
    """

    def __init__(self, tempos: Sequence[Tempo], resolution: int, usual: float = USUAL_QUARTERS) -> None:
        marks = sorted((t.onset, float(t.quarters)) for t in tempos if t.quarters and t.quarters > 0)
        if not marks or marks[0][0] > 0:
            # A first mark that comes late still tells the pulse of the piece better than a guess.
            marks.insert(0, (0, marks[0][1] if marks else usual))
        self.known = any(t.quarters for t in tempos)
        self._starts: list[int] = []
        self._seconds: list[float] = []
        self._per_tick: list[float] = []
        self._quarters: list[float] = []
        seconds = 0.0
        for onset, quarters in marks:
            if self._starts:
                seconds += (onset - self._starts[-1]) * self._per_tick[-1]
            self._starts.append(onset)
            self._seconds.append(seconds)
            self._quarters.append(quarters)
            self._per_tick.append(60.0 / (quarters * resolution))

    def at(self, tick: int) -> float:
        """Seconds from the start to ``tick``."""
        i = max(0, bisect_right(self._starts, tick) - 1)
        return self._seconds[i] + (tick - self._starts[i]) * self._per_tick[i]

    def between(self, start: int, end: int) -> float:
        return self.at(end) - self.at(start)

    def quarters(self, tick: int) -> float:
        """Quarter-notes a minute at ``tick``."""
        i = max(0, bisect_right(self._starts, tick) - 1)
        return self._quarters[i]
