"""At most eight big decisions, and first in the log: what a teacher asks before anything else."""

from __future__ import annotations

from collections.abc import Sequence

from reduce.model.decision import Decision, DecisionKind
from reduce.model.record import replace
from reduce.model.rules import Rules

_WHOLE: tuple[DecisionKind, ...] = ("cut", "key", "tempo")  # about the piece as a whole: always before the rest
_SHARE: dict[DecisionKind, int] = {"melody": 3, "figure": 2}  # of one kind at most so many: the longest stretches


def foremost(decisions: Sequence[Decision], rules: Rules) -> tuple[Decision, ...]:
    """The decisions with no more big ones than the log can lead with; the others in the order of the bars.

    The arranger's own choices stay big.  Of the tool's, what concerns the whole piece goes first, then the longest stretches of the tune
    and of the figures; the rest of the big ones become medium.
    """
    most = rules.whole("reasons.big-decisions.most")
    hers = [d for d in decisions if d.weight == "big" and d.by == "arranger"]
    free = max(0, most - len(hers))
    asked = sorted(
        (d for d in decisions if d.weight == "big" and d.by != "arranger"),
        key=lambda d: (d.kind not in _WHOLE, d.kind in _SHARE, d.bars[0] - d.bars[1], d.bars[0]),
    )
    chosen: list[Decision] = []
    for decision in asked:
        alike = sum(other.kind == decision.kind for other in chosen)
        if len(chosen) < free and alike < _SHARE.get(decision.kind, most):
            chosen.append(decision)
    big = {id(d) for d in (*hers, *chosen)}
    kept = [d if d.weight != "big" or id(d) in big else replace(d, weight="medium") for d in decisions]
    return tuple(sorted(kept, key=_place))


def _place(decision: Decision) -> tuple[int, int, int, int]:
    """Big ones first and among them what is played, its key and its tempo; then by bars, weight and moment."""
    weight = {"big": 0, "medium": 1, "small": 2}[decision.weight]
    whole = _WHOLE.index(decision.kind) if decision.kind in _WHOLE else len(_WHOLE)
    if weight == 0:
        return 0, whole, decision.bars[0], decision.onset or 0
    return 1 + (whole == len(_WHOLE)), decision.bars[0], weight, decision.onset or 0
