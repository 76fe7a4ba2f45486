"""Where lines and pages end."""

from __future__ import annotations

from pathlib import Path

import pytest

import reduce
from reduce.engrave.lines import LETTER, line_starts, page_starts
from reduce.engrave.printed import _lay_out
from reduce.engrave.verovio_layout import _STAFF_LINE

FERRY = Path(__file__).parents[2] / "samples" / "the-last-ferry.musicxml"


@pytest.mark.parametrize(
    ("widths", "line", "wanted", "expected"),
    [
        ([40.0] * 8, 180.0, 4, [4]),  # four bars a line
        ([40.0] * 9, 180.0, 4, [4, 7]),  # 4 + 3 + 2, no line with one bar
        ([40.0] * 9, 180.0, 0, [4, 7]),
        ([20.0] * 8, 180.0, 4, [4]),  # asked for four: not eight, though they would fit
        ([90.0, 90.0, 90.0, 40.0, 40.0], 180.0, 4, [2]),  # wide bars: fewer on a line
        ([200.0, 50.0, 50.0], 180.0, 0, [1]),  # a bar wider than the line stands alone
        ([40.0], 180.0, 4, []),
        ([21.0] * 9, 180.0, 0, [7]),  # a little too long for one line: two, neither with a single bar
    ],
)
def test_lines_are_chosen_together(widths: list[float], line: float, wanted: int, expected: list[int]) -> None:
    """Full, even lines; bars a line as the level asks where they fit; never a last line with a single bar."""
    assert expected == line_starts(widths, line, 10.0, wanted)


def test_a_pick_up_is_not_a_bar() -> None:
    """With a pick-up the first line has its four full bars too."""
    assert [5] == line_starts([15.0] + [35.0] * 8, 180.0, 10.0, 4, pickup=True)


def test_the_page_ends_where_a_hand_rests() -> None:
    """Of two possible page turns the one at a rest is taken, if the page does not get too empty for it."""
    heights, busy = [40.0] * 8, [False] * 8
    assert [5] == page_starts(heights, 230.0, 250.0, 6.0, busy, 0.25)
    assert [4] == page_starts(heights, 230.0, 250.0, 6.0, [k == 3 for k in range(8)], 0.25)


def test_nothing_runs_over_the_page() -> None:
    """The systems of a page and the spaces between them fit its height."""
    heights = [38.0, 52.0, 41.0, 60.0, 45.0, 38.0, 38.0, 71.0, 44.0]
    starts = page_starts(heights, 200.0, 220.0, 6.0, [False] * 9, 0.25)
    for number, (start, end) in enumerate(zip([0, *starts], [*starts, 9], strict=True)):
        assert sum(heights[start:end]) + 6.0 * (end - start - 1) <= (220.0 if number else 200.0)


def test_a_tempo_mark_is_not_cut_at_the_end_of_a_line() -> None:
    """A bar under a long tempo mark does not end a line when it is too narrow for it; without the mark it does."""
    widths = [40.0] * 8
    assert [4] == line_starts(widths, 180.0, 10.0, 4)
    starts = line_starts(widths, 180.0, 10.0, 4, above=[0.0, 0.0, 0.0, 70.0, 0.0, 0.0, 0.0, 0.0])
    assert 4 not in starts


def test_no_tempo_mark_of_the_sample_leaves_its_line() -> None:
    """Every line of the printed sample ends with a bar that is wide enough for the mark over it, or without one."""
    result = reduce.draft(FERRY, level="intermediate")
    found, facts, _ = _lay_out(result.musicxml, result.rules.level, 182.0)
    assert max(facts.letters) > 10
    for system in found:
        begins, ends = _STAFF_LINE.search(system.svg.split(' class="measure"')[-1]).groups()
        width = (int(ends) - int(begins)) / 100  # millimetres
        assert LETTER * result.rules.level.staff_height * facts.letters[system.bars[1] - 1] <= width
