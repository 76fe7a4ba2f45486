"""Where systems begin: bars a line for beginners, no last line with one bar."""

from __future__ import annotations

from collections.abc import Sequence

from reduce.model.score import Bar
from reduce.notate.style import Style


def system_breaks(bars: Sequence[Bar], style: Style) -> frozenset[int]:
    """Indices of the bars that begin a new system.

    With ``style.bars_a_line`` bars on a line a pick-up is not counted, and the last lines share their bars so that none is
    left with a single one.  0 bars a line: the page decides.
    """
    size = style.bars_a_line
    first = 1 if bars and bars[0].pickup else 0
    count = len(bars) - first
    if size <= 0 or count <= size:
        return frozenset()
    starts = list(range(first + size, len(bars), size))
    if size > 2 and count % size == 1:
        starts[-1] -= 1
    return frozenset(starts)
