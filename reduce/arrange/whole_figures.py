"""One figure in every bar of its section: where bars had to leave theirs, another way is looked for that all of them can bear.

A slower tempo, another figure for the section or from a phrase on: what costs less than the bars that stand out is taken.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from typing import Generic, NamedTuple, TypeVar

from reduce.arrange.easing import IN_THE_FIGURE
from reduce.arrange.figures_pattern import HOLD, REST
from reduce.arrange.figures_sections import Section, Settled, candidates, ranked
from reduce.arrange.tune_rhythm import FIGURE
from reduce.hands.report import Report
from reduce.model.record import dataclass
from reduce.model.rules import Rules
from reduce.model.score import Bar

_Piece = TypeVar("_Piece")


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """What a way of arranging the piece comes to.

    ``left``: the bars (positions) whose left hand leaves its figure; ``notes`` of the left hand; ``quarters`` a minute; ``changes`` of
    figure; ``misfit`` of the figures (see `misfit`); ``lost`` notes of the tune; ``over`` bars above the level's budget, ``heavy`` ones,
    and ``breaches`` of any limit.
    """

    left: frozenset[int]
    notes: int
    quarters: float
    changes: int = 0
    misfit: float = 0.0
    lost: int = 0
    over: int = 0
    heavy: int = 0
    breaches: int = 0

    def harder(self, other: Standing) -> bool:
        """Whether it asks for more, or has less of the tune, than another one."""
        return any(
            mine > hers
            for mine, hers in (
                (self.over, other.over),
                (self.lost, other.lost),
                (self.heavy, other.heavy),
                (self.breaches, other.breaches),
            )
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """Another way for the piece: figures that are ``settled`` for stretches, or a tempo in ``quarters`` a minute (0 = as it is).

    ``free``: the bars (positions) whose left hand begins anew with its whole figure.
    """

    settled: tuple[Settled, ...] = ()
    quarters: float = 0.0
    free: frozenset[int]


class Trial(NamedTuple, Generic[_Piece]):
    """The piece in one way, and what that comes to."""

    piece: _Piece
    standing: Standing


def left_bars(steps: Mapping[int, int], ways: Mapping[int, str]) -> frozenset[int]:
    """The bars (positions) that leave their figure by their step of relief; ``ways`` tells what is played where the step does not."""
    return frozenset(place for place, step in steps.items() if step > 1 and ways.get(place) not in IN_THE_FIGURE)


def price(standing: Standing, first: Standing, bars: int, rules: Rules) -> float:
    """What a way costs beside the ``first`` one, in bars that leave their figure."""
    slower, thinner, change, other = (rules.number(f"easing.figures.{name}") for name in ("slower", "thinner", "change", "misfit"))
    slow = max(0.0, 1 - standing.quarters / first.quarters) if first.quarters else 0.0
    thin = max(0.0, 1 - standing.notes / first.notes) if first.notes else 0.0
    joints, away = max(0, standing.changes - first.changes), max(0.0, standing.misfit - first.misfit)
    return len(standing.left) + bars * (slower * slow + thinner * thin) + change * joints + other * away


def kept_whole(
    first: Trial[_Piece],
    ways: Callable[[Trial[_Piece]], Iterator[Way]],
    glance: Callable[[_Piece, Way], Standing],
    attempt: Callable[[_Piece, Way], Trial[_Piece]],
    bars: int,
    rules: Rules,
) -> Trial[_Piece]:
    """The cheapest way found from the ``first`` one; none is harder or has less of the tune.

    ``ways`` are offered for a trial, ``glance`` says what one would come to before anything is eased, ``attempt`` eases it.
    """
    best, tries = first, int(rules.numbers("easing.figures.tries")[rules.level.order - 1])
    while best.standing.left and tries > 0:
        now = price(best.standing, first.standing, bars, rules)
        rows = [(price(glance(best.piece, way), first.standing, bars, rules), place, way) for place, way in enumerate(ways(best))]
        better = None
        for hope, _, way in sorted(rows, key=lambda row: row[:2]):
            if hope >= now or tries <= 0:
                break
            tries -= 1
            found = attempt(best.piece, way)
            if not found.standing.harder(first.standing) and price(found.standing, first.standing, bars, rules) < now:
                better = found
                break
        if better is None:
            break
        best = better
    return best


def misfit(parts: Sequence[Section], rules: Rules) -> float:
    """How far the figures are from the best that the level has for what the orchestra does, in bars of mismatch, as sections are made."""
    total = 0.0
    for part in parts:
        name = f"accompaniment.instead-of.{part.source}"
        ranks = ranked(rules.words(name) if name in rules.values else (), rules.level.figures)
        total += (part.last - part.first + 1) * (0.0 if part.figure == FIGURE else ranks.get(part.figure, 1.0))
    return total


def pressed(report: Report, heavy: float, before: Report) -> frozenset[int]:
    """The bars that would have to be eased, and had not before: above the budget, too heavy, or with a breach of a limit."""

    def found(each: Report) -> tuple[set[int], set[tuple[int, str, str]]]:
        hard = {load.bar for load in each.load if load.over_budget or load.total > heavy}
        return hard, {(breach.bar, breach.hand, breach.what) for breach in each.breaches}

    (now, breaches), (known, old) = found(report), found(before)
    return frozenset((now - known) | {bar for bar, _, _ in breaches - old})


def slower_ways(standing: Standing, least: float, bars: int, rules: Rules) -> Iterator[Way]:
    """Slower tempi, quarters a minute, down to the ``least`` one, or to where the tempo alone costs as much as the bars to be mended."""
    step, slower = rules.number("easing.tempo.step"), rules.number("easing.figures.slower")
    floor = max(least, standing.quarters * (1 - len(standing.left) / (slower * bars))) if slower else least
    quarters = step * (-(-standing.quarters // step) - 1)
    while quarters >= floor > 0:
        yield Way(quarters=quarters, free=standing.left)
        quarters -= step


def other_figures(
    parts: Sequence[Section], left: Collection[int], bars: Sequence[Bar], joints: Collection[int], quarters: float, rules: Rules
) -> Iterator[Way]:
    """Figures that are not busier, for a whole section with bars in ``left``, or for phrases of it (``joints``: where one begins)."""
    least = rules.whole("accompaniment.section.bars-min")
    for part in parts:
        if part.hers or not any(part.first <= place <= part.last for place in left):
            continue
        meters = dict.fromkeys(bar.meter for bar in bars[part.first : part.last + 1])
        rows = [candidates(meter, quarters, 1.0, rules)[0] for meter in meters]
        own = [_strokes(row.get(part.figure, ())) or 99 for row in rows]
        names = [
            name
            for name in rows[0]
            if name not in (FIGURE, part.figure)
            and all(name in row and _strokes(row[name]) <= most for row, most in zip(rows, own, strict=True))
        ]
        for first, last in _stretches(part, left, joints, least):
            inside = frozenset(place for place in left if first <= place <= last)
            for name in names:
                yield Way(settled=(Settled(first, last, name, part.figure, len(inside)),), free=inside)


def _strokes(shares: Sequence[str]) -> int:
    return sum(what not in (HOLD, REST) for what in shares)


def _stretches(part: Section, left: Collection[int], joints: Collection[int], least: int) -> list[tuple[int, int]]:
    """The section and, for each group of bars in ``left``, the shortest stretch of whole phrases; all parts are ``least`` bars at least."""
    starts = [part.first, *(place for place in sorted(joints) if part.first + least <= place <= part.last + 1 - least)]
    ends = [*(place - 1 for place in starts[1:]), part.last]
    shortest: dict[tuple[int, ...], tuple[int, int]] = {}
    for first in starts:
        for last in ends:
            inside = tuple(sorted(place for place in left if first <= place <= last))
            if last - first + 1 < min(least, part.last - part.first + 1) or not inside:
                continue
            known = shortest.get(inside)
            if known is None or last - first < known[1] - known[0]:
                shortest[inside] = (first, last)
    return sorted({*shortest.values(), (part.first, part.last)})
