"""Load: how hard each bar is, as a sum that can be explained."""

from __future__ import annotations

from collections.abc import Sequence
from statistics import median

from reduce.hands.figures import BarFigures
from reduce.hands.report import BarLoad
from reduce.hands.terms import Sheet
from reduce.model.level import Level
from reduce.model.record import dataclass
from reduce.model.rules import Rules

DIMENSIONS = ("speed", "span", "notes at once", "shifts", "leaps", "rhythm", "independence", "accidentals", "ledger lines")
_SHIFTS = DIMENSIONS.index("shifts")
_YARDSTICK = 4  # the level (intermediate) that weights are taken against


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What one bar may ask for, by dimension; ``usual`` if moves and leaps are those of the scale's hand, whoever plays."""

    speed_one: float
    speed_both: float
    span_right: float
    span_left: float
    crowd_right: float
    crowd_left: float
    moves: float
    leap: float
    rhythm: float
    independence: float
    accidentals: float
    ledger: float
    usual: bool


def limits_of(level: Level, rules: Rules) -> Limits:
    """The limits of a level; where it has none, the yardstick of ``rules/load.toml`` at its place."""

    def scale(name: str) -> float:
        return rules.numbers(f"load.scale.{name}")[level.order - 1]

    return Limits(
        speed_one=level.notes_per_second_one,
        speed_both=level.notes_per_second_both,
        span_right=level.span_right,
        span_left=level.span_left,
        crowd_right=level.notes_right,
        crowd_left=level.notes_left,
        moves=0.9 + level.moves_per_8_bars / 8,  # one move is a bar's fair share, more come from what eight bars allow
        leap=1 / level.octave_seconds,
        rhythm=scale("rhythm"),
        independence=scale("independence"),
        accidentals=scale("accidentals"),
        ledger=max(1.0, level.ledger_max),
        usual=False,
    )


def yardstick(rules: Rules, order: int = _YARDSTICK) -> Limits:
    """The limits of one place on the scale, whatever the level's own settings say."""

    def scale(name: str) -> float:
        return rules.numbers(f"load.scale.{name}")[order - 1]

    return Limits(
        speed_one=scale("speed-one"),
        speed_both=scale("speed-both"),
        span_right=scale("span"),
        span_left=scale("span"),
        crowd_right=scale("crowd"),
        crowd_left=scale("crowd"),
        moves=scale("moves"),
        leap=scale("leap"),
        rhythm=scale("rhythm"),
        independence=scale("independence"),
        accidentals=scale("accidentals"),
        ledger=scale("ledger"),
        usual=True,
    )


def shares(bar: BarFigures, limits: Limits) -> tuple[float, ...]:
    """What the bar takes of each limit, in the order of `DIMENSIONS`; 1 is the limit."""
    return (
        max(bar.speed_one / limits.speed_one, bar.speed_both / limits.speed_both),
        max(bar.span_right / limits.span_right, bar.span_left / limits.span_left),
        max(_beyond_one(bar.crowd_right, limits.crowd_right), _beyond_one(bar.crowd_left, limits.crowd_left)),
        (bar.usual_moves if limits.usual else bar.moves) / limits.moves,
        (bar.usual_leap if limits.usual else bar.leap) / limits.leap,
        bar.rhythm / limits.rhythm,
        bar.independence / limits.independence,
        bar.accidentals / limits.accidentals,
        bar.ledger / limits.ledger,
    )


def _beyond_one(keys: int, limit: float) -> float:
    """Share of the keys that a hand may hold beyond a single one: a single note is never at the limit."""
    if keys <= 1:
        return 0.0
    return (keys - 1) / (limit - 1) if limit > 1 else float(keys)


def loads(sheet: Sheet, bars: Sequence[BarFigures], level: Level, rules: Rules) -> tuple[tuple[BarLoad, ...], float]:
    """The load of every bar, and the median of those that sound."""
    limits, fixed = limits_of(level, rules), yardstick(rules)
    familiar, side = rules.number("load.bar.familiar"), rules.number("load.bar.neighbours") / 2
    near = rules.number("load.bar.near-limit")
    parts = [shares(bar, limits) for bar in bars]

    def smoothed(own: Sequence[float]) -> list[float]:
        padded = [own[0], *own, own[-1]] if own else []
        return [(1 - 2 * side) * b + side * (a + c) for a, b, c in zip(padded, padded[1:], padded[2:], strict=False)]

    def eased(bar: BarFigures, row: Sequence[float]) -> float:
        return sum(x * x for x in row) * (1 - (1 - familiar) * bar.familiar)

    own = [eased(bar, row) for bar, row in zip(bars, parts, strict=True)]
    totals = smoothed(own)
    weights = smoothed([eased(bar, shares(bar, fixed)) for bar in bars])
    sounding = [t for t, bar in zip(totals, bars, strict=True) if not bar.silent]
    middle = median(sounding) if sounding else 0.0
    most = rules.number("load.bar.outlier") * middle
    found = []
    for i, (bar, row) in enumerate(zip(bars, parts, strict=True)):
        pressing = (*row[:_SHIFTS], bar.pressed_moves / limits.moves, *row[_SHIFTS + 1 :])  # what no rest takes the edge off
        full = tuple(name for name, share in zip(DIMENSIONS, pressing, strict=True) if share >= near)
        found.append(
            BarLoad(
                bar=i,
                number=sheet.number(i),
                total=round(totals[i], 3),
                weight=round(weights[i], 3),
                parts=tuple((name, round(share, 2)) for name, share in zip(DIMENSIONS, row, strict=True)),
                at_limit=full,
                over_budget=len(full) > level.at_limit_per_bar,
                outlier=not bar.silent and len(sounding) > 3 and totals[i] > most and own[i] > most,
                familiar=bar.familiar >= 1,
            )
        )
    return tuple(found), round(middle, 3)
