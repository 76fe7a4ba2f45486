"""The drawing of the load."""

from __future__ import annotations

import pytest

from reduce.engrave.curve_picture import ROW, curve_svgs
from reduce.model.booklet import Curve


@pytest.mark.parametrize(("bars", "rows"), [(1, 1), (73, 1), (100, 1), (101, 2), (299, 3)])
def test_rows_are_equal(bars: int, rows: int) -> None:
    """One column a bar, in rows that differ by no more than the bars that are left over, none wider than the page."""
    made = [*curve_svgs(Curve(heights=(1.0,) * bars, labels=tuple(map(str, range(bars))), black=frozenset(), line=0.5), 180.0)]
    columns = [svg.count("<rect") for svg, _ in made]
    assert rows == len(made)
    assert bars == sum(columns)
    assert max(columns) - min(columns) < rows
    assert max(columns) <= ROW
    assert all(width <= 181 for _, width in made)
    assert all('text-anchor="start">' in svg for svg, _ in made)  # the number of a row's first bar is not cut
