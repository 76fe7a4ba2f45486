"""The level that a piano piece belongs to."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from reduce.hands.clock import Clock
from reduce.hands.figures import BarFigures, bar_figures, entropy
from reduce.hands.report import Estimate
from reduce.hands.terms import Sheet, Terms
from reduce.hands.touch import Touch, touches
from reduce.model.draft import Draft, Hand
from reduce.model.rules import Rules

LEVELS = ("first-year", "late-beginner", "early-intermediate", "intermediate", "late-intermediate", "advanced")
_MOST = 0.85  # of the bars lie below the figure that counts: a few hard bars do not make a hard piece
_UNITS = {
    "speed-one": "notes a second",
    "speed-both": "notes a second",
    "span": "semitones",
    "crowd": "keys",
    "moves": "moves a bar",
    "leap": "octaves a second",
    "rhythm": "points",
    "independence": "points",
    "accidentals": "signs a bar",
    "ledger": "lines",
    "signature": "sharps or flats",
    "value": "notes to a quarter",
    "variety": "bits",
}
# How much each figure says about the level; playing counts more than reading (judgement).
_WEIGHT = {
    "speed-one": 1.5, "speed-both": 1.5, "span": 1.0, "crowd": 1.5, "moves": 1.0, "leap": 1.0, "rhythm": 1.0,
    "independence": 1.0, "accidentals": 0.7, "ledger": 0.5, "signature": 0.5, "value": 0.8, "variety": 1.5,
}  # fmt: skip


def estimate_level(draft: Draft, rules: Rules) -> Estimate:
    """The level of any piano score, with the figures that say so."""
    sheet = Sheet(draft, Clock(draft.tempos, draft.resolution, rules.number("hands.tempo.usual")))
    lines = touches(draft, sheet.clock)
    terms = Terms.of(rules.level, rules, rules.number("load.scale.hand"))
    return estimate(bar_figures(sheet, lines, terms), lines, rules)


def estimate(bars: Sequence[BarFigures], lines: dict[Hand, tuple[Touch, ...]], rules: Rules) -> Estimate:
    """The same from figures that are at hand already.

    Each figure finds its place on the scale of ``rules/load.toml``; the piece's place is the weighted mean of the hardest of them.
    """
    sounding = [bar for bar in bars if not bar.silent]
    values = {
        "speed-one": _high([b.speed_one for b in sounding]),
        "speed-both": _high([b.speed_both for b in sounding]),
        "span": _high([float(max(b.span_right, b.span_left)) for b in sounding]),
        "crowd": _high([float(max(b.crowd_right, b.crowd_left)) for b in sounding]),
        "moves": sum(b.usual_moves for b in sounding) / len(sounding) if sounding else 0.0,
        "leap": _high([b.usual_leap for b in sounding]),
        "rhythm": _high([b.rhythm for b in sounding]),
        "independence": _high([b.independence for b in sounding]),
        "accidentals": _high([float(b.accidentals) for b in sounding]),
        "ledger": _high([float(b.ledger) for b in sounding]),
        "signature": _high([float(b.signature) for b in sounding]),
        "value": _high([b.value for b in sounding]),
        "variety": max((entropy(line) for line in lines.values()), default=0.0),
    }
    places = {name: place(value, rules.numbers(f"load.scale.{name}")) for name, value in values.items()}
    left = rules.number("load.estimate.hardest-share") * sum(_WEIGHT.values())
    whole, total = left, 0.0
    for name in sorted(places, key=lambda name: -places[name]):
        share = min(left, _WEIGHT[name])
        total += share * places[name]
        left -= share
    mean = total / whole
    return Estimate(
        level=LEVELS[max(0, min(len(LEVELS) - 1, int(mean + 0.5) - 1))],
        place=round(mean, 2),
        figures=tuple((name, round(value, 2), _UNITS[name], round(places[name], 2)) for name, value in values.items()),
    )


def place(value: float, scale: Sequence[float]) -> float:
    """Where a value lies on a rising scale, 1 at its first mark; below it in proportion, beyond the last at most one more."""
    if value <= scale[0]:
        return value / scale[0] if scale[0] else 0.0
    for i, (low, high) in enumerate(pairwise(scale)):
        if value <= high:
            return i + 1 + (value - low) / (high - low)
    return len(scale) + min(1.0, (value - scale[-1]) / scale[-1] * 2)


def _high(values: Sequence[float]) -> float:
    """The value that most bars stay below."""
    if not values:
        return 0.0
    row = sorted(values)
    return row[min(len(row) - 1, int(_MOST * len(row)))]
