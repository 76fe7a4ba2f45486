"""Where lines and pages end: full lines, no last line with one bar, a page turn where a hand rests."""

from __future__ import annotations

from collections.abc import Sequence

LOOSE_LAST = 0.55  # the last line may be this empty before it costs
LETTER = 0.28  # width of a letter of a tempo mark, as a share of the staff's height
_CUT = 25.0  # price of a line whose last bar is too narrow for the tempo mark over it


def line_starts(
    widths: Sequence[float], line: float, prefix: float, wanted: int = 0, pickup: bool = False, above: Sequence[float] = ()
) -> list[int]:
    """The bars that begin a line, the first one left out (dynamic programming over all ways to break).

    ``widths`` natural widths of the bars in millimetres, ``line`` the length of a line, ``prefix`` what clef and key take at
    the head of each line but the first, ``wanted`` bars a line (0 = as it falls; a pick-up is not counted), ``above`` the widths of
    the tempo marks that begin at the bars: none ends beyond the end of its line.
    """
    count = len(widths)
    best: list[tuple[float, int]] = [(0.0, 0)]
    for end in range(1, count + 1):
        choice: tuple[float, int] | None = None
        length = 0.0
        for start in range(end - 1, -1, -1):
            length += widths[start]
            bars = end - start - (1 if pickup and start == 0 else 0)
            if choice is not None and (length > 1.6 * line or bars > 24):
                break
            fill = (length + (prefix if start else 0)) / line
            price = best[start][0] + _price(fill, bars, end == count, start == 0, wanted)
            if above and _cut(above[end - 1], widths[end - 1], fill, 0.0 if end < count else line * (1 - fill)):
                price += _CUT
            if choice is None or price < choice[0]:
                choice = (price, start)
        assert choice is not None
        best.append(choice)
    starts: list[int] = []
    end = count
    while end:
        end = best[end][1]
        if end:
            starts.append(end)
    return starts[::-1]


def _cut(mark: float, bar: float, fill: float, free: float) -> bool:
    """Whether a tempo mark ends beyond its line, when its bar is the last: ``free`` millimetres are left behind the bar."""
    return mark > (bar + free if free > 0 else bar / fill if fill > 0 else bar)


def _price(fill: float, bars: int, last: bool, first: bool, wanted: int) -> float:
    """How far a line is from a good one; ``fill`` natural width against the line."""
    price = 1.0
    if fill > 1:
        price += 400 * (fill - 1) ** 2 + 8 * (fill - 1)
    elif not last or first:
        price += 12 * (1 - fill) ** 2
    elif fill < LOOSE_LAST:
        price += 12 * (LOOSE_LAST - fill) ** 2
    if last and not first and bars == 1:
        price += 50
    if last and first and fill > 1 and bars > 1:
        price += 50  # verovio breaks a single line that is too long where it likes
    if wanted and not (last and bars < wanted):
        price += 6 * (bars - wanted) ** 2
    elif wanted:
        price += 0.5 * (wanted - bars)
    return price


def page_starts(heights: Sequence[float], first_page: float, page: float, gap: float, turns: Sequence[bool], busy_turn: float) -> list[int]:
    """The systems that begin a page, the first one left out.

    ``heights`` of the systems, ``first_page`` and ``page`` the free height, ``gap`` the least space between systems, all in
    millimetres; ``turns[k]``: a hand rests where system k ends, so that the page may be turned there;
    ``busy_turn`` the cost of a turn elsewhere, in pages.
    """
    count = len(heights)
    best: list[tuple[float, int]] = [(0.0, 0)]
    for end in range(1, count + 1):
        choice: tuple[float, int] | None = None
        height = -gap
        for start in range(end - 1, -1, -1):
            height += heights[start] + gap
            room = first_page if start == 0 else page
            if height > room and choice is not None:
                break
            fill = height / room
            price = best[start][0] + 1.0
            price += 1000 * (fill - 1) if fill > 1 else (0.0 if end == count else 3 * (1 - fill) ** 2)
            if end == count and start and end - start == 1:
                price += 0.8  # a last page with a single line
            if end < count and not turns[end - 1]:
                price += busy_turn
            if choice is None or price < choice[0]:
                choice = (price, start)
        assert choice is not None
        best.append(choice)
    starts: list[int] = []
    end = count
    while end:
        end = best[end][1]
        if end:
            starts.append(end)
    return starts[::-1]
