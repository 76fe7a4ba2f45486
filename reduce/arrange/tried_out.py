"""Figures tried out: which bars would ask for too much at once if the left hand had one figure all through."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from reduce.arrange.figures_sections import candidates
from reduce.arrange.tune_rhythm import FIGURE
from reduce.hands.report import BarLoad
from reduce.model.rules import Rules
from reduce.model.score import Bar, Tempo


def unfit(
    bars: Sequence[Bar], rules: Rules, tempos: Sequence[Tempo], tune: Sequence[BarLoad], attempt: Callable[[str], Sequence[BarLoad]]
) -> Mapping[str, frozenset[int]]:
    """The bars (positions) above the level's budget under each figure that fits all metres and the pace.

    ``attempt`` arranges the piece with one figure and tells the load of every bar; ``tune`` is the load of the tune alone: what that asks
    for no figure can mend.
    """
    quarters = next((tempo.quarters for tempo in tempos if tempo.quarters), rules.level.tempo_min)
    rows = [candidates(meter, quarters, 1.0, rules)[0] for meter in dict.fromkeys(bar.meter for bar in bars)]
    names = [figure for figure in rows[0] if figure != FIGURE and all(figure in row for row in rows)] if rows else []
    alone = {load.bar for load in tune if load.over_budget}
    return {figure: frozenset(load.bar for load in attempt(figure) if load.over_budget) - alone for figure in names if len(names) > 1}
