"""The check: is this sheet right for the hands and eyes of its level?"""

from __future__ import annotations

from reduce.hands.breaches import breaches
from reduce.hands.clock import Clock
from reduce.hands.figures import bar_figures
from reduce.hands.fingers import fingers_of
from reduce.hands.grade import estimate
from reduce.hands.load import loads
from reduce.hands.report import BarLoad, Report
from reduce.hands.spots import hard_spots
from reduce.hands.terms import Sheet, Terms
from reduce.hands.touch import touches
from reduce.model.draft import Draft
from reduce.model.level import Level
from reduce.model.rules import Rules

REACH_CAUTION = (
    "Some chords are wider than this hand: they should not be forced. The teacher decides what is rolled, re-spaced or left out; "
    "with pain, ask a physician."
)
REPEAT_CAUTION = (
    "Long quick repetitions or octaves can strain a hand: practise them in short stretches, with rests. Stop at the first tension; "
    "with pain, ask a physician."
)


def bar_loads(draft: Draft, level: Level, rules: Rules) -> tuple[BarLoad, ...]:
    """Only the load of each bar, as `check` finds it: for questions that are asked often."""
    sheet = Sheet(draft, Clock(draft.tempos, draft.resolution, rules.number("hands.tempo.usual")))
    terms = Terms.of(level, rules, None)
    return loads(sheet, bar_figures(sheet, touches(draft, sheet.clock), terms), level, rules)[0]


def check(draft: Draft, level: Level, rules: Rules, span_mm: float | None = None) -> Report:
    """Judge any two-staff piano piece against a level and a hand.

    Args:
        draft: the piece, the tool's own or a person's.
        level: the limits.
        rules: for the settings of the families ``hands`` and ``load``.
        span_mm: the pupil's hand, millimetres from thumb to little finger; without it the level's usual one.

    Returns:
        Breaches, hard spots, load by bar, the level it would call it, cautions.
    """
    sheet = Sheet(draft, Clock(draft.tempos, draft.resolution, rules.number("hands.tempo.usual")))
    terms = Terms.of(level, rules, span_mm)
    lines = touches(draft, sheet.clock)
    bars = bar_figures(sheet, lines, terms)
    load, middle = loads(sheet, bars, level, rules)
    spots, shared = hard_spots(sheet, fingers_of(lines, draft, terms.span), terms, load, middle * rules.number("load.bar.dense"))
    found = breaches(sheet, lines, terms, bars, load, shared, span_mm is not None)
    cautions = []
    if any(spot.kind == "stretch" and spot.caution for spot in spots):
        cautions.append(REACH_CAUTION)
    if any(spot.kind in ("octaves", "repeated-chord") and spot.caution for spot in spots):
        cautions.append(REPEAT_CAUTION)
    return Report(
        level=level.name,
        span=terms.span,
        breaches=found,
        spots=spots,
        load=load,
        median=middle,
        estimate=estimate(bars, lines, rules),
        cautions=tuple(cautions),
    )
