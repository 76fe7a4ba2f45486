"""What the arranger's own choices cost: obeyed, and reported with the limits of the level that they pass."""

from __future__ import annotations

from collections.abc import Sequence

from reduce.hands.check import check
from reduce.model.decision import Decision
from reduce.model.draft import Draft
from reduce.model.record import replace
from reduce.model.rules import Rules


def priced(decisions: Sequence[Decision], draft: Draft, rules: Rules) -> tuple[Decision, ...]:
    """The decisions, with the worst breach in the bars of each choice told in its sentence and figures."""
    report = check(draft, rules.level, rules)
    out = []
    for decision in decisions:
        if decision.by == "arranger":
            first, last = (bar - draft.first_bar for bar in decision.bars)
            inside = [b for b in report.breaches if first <= b.bar <= last and decision.hand in ("both", b.hand)]
            if inside:
                worst = max(inside, key=lambda b: (b.hard, b.measured / b.limit if b.limit else 1.0))
                sentence = f"{decision.sentence[:-1]}; the price: {worst.sentence[0].lower()}{worst.sentence[1:]}"
                decision = replace(decision, sentence=sentence, measured=worst.measured, limit=worst.limit, unit=worst.unit)
        out.append(decision)
    return tuple(out)
