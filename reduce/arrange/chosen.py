"""The arranger's own octaves, figures and hands, put in the place of what the tool would have done."""

from __future__ import annotations

from collections.abc import Sequence

from reduce.arrange.desk import Desk
from reduce.arrange.explain import Ledger
from reduce.arrange.line import Tone, moved
from reduce.arrange.overrule import choice_decision, unfitting, where
from reduce.arrange.strands import Key as Press
from reduce.model.choice import Choice
from reduce.model.decision import Decision
from reduce.model.problem import Problem
from reduce.model.record import replace
from reduce.model.rules import Rules
from reduce.model.score import Bar


def octaves_chosen(tones: tuple[Tone, ...], choices: Sequence[Choice], bars: Sequence[Bar], hand: str, ledger: Ledger) -> tuple[Tone, ...]:
    """The line with the arranger's octaves in it (a choice without a hand means the tune)."""
    for choice in choices:
        if choice.action != "octave" or (choice.hand or "right") != hand:
            continue
        place = where(choice, bars)
        if place is not None:
            octaves = int(choice.value)
            start, end = place[0].start, place[1].end
            tones = tuple(moved(t, 12 * octaves, 7 * octaves, f"choice-{choice.place}") if start <= t.onset < end else t for t in tones)
            line = "the tune" if hand == "right" else "the bass"
            choice_decision(ledger, choice, place, f"{line} is moved by {octaves:+d} octave{'s' if abs(octaves) > 1 else ''}")
    return tones


def figures_chosen(
    choices: Sequence[Choice], bars: Sequence[Bar], rules: Rules
) -> tuple[tuple[tuple[int, int, str], ...], tuple[Problem, ...]]:
    """The arranger's figures by position of the kept bars; unknown ones, and levels without figures, are problems."""
    out: list[tuple[int, int, str]] = []
    problems: list[Problem] = []
    for choice in choices:
        if choice.action != "figure":
            continue
        place = where(choice, bars)
        if place is None:
            problems.append(unfitting(choice, f"this draft has no bars {choice.bars}"))
        elif f"accompaniment.{choice.value}.four" not in rules.values:
            known = sorted(name.split(".")[1] for name in rules.values if name.startswith("accompaniment.") and name.endswith(".four"))
            problems.append(unfitting(choice, f"there is no figure {choice.value!r}; known are {', '.join(known)}"))
        elif rules.level.order >= rules.whole("voicing.as-written.from-level"):
            problems.append(unfitting(choice, "this level keeps the orchestra's own accompaniment"))
        else:
            out.append((bars.index(place[0]), bars.index(place[1]), choice.value))
    return tuple(out), tuple(problems)


def figures_told(choices: Sequence[Choice], decided: Sequence[Decision], bars: Sequence[Bar], ledger: Ledger) -> None:
    """Enters the arranger's figures under her choices, with what the tool would have played."""
    for choice in choices:
        place = where(choice, bars) if choice.action == "figure" else None
        told = [d for d in decided if place is not None and d.bars[0] >= place[0].index and d.bars[1] <= place[1].index]
        if place is not None and told:
            words = told[0].sentence.partition(": ")[2].removesuffix(", as the arranger chose.")
            choice_decision(ledger, choice, place, f"the left hand plays {words}", told[0].rejected)


def moved_across(presses: tuple[Press, ...], choices: Sequence[Choice], desk: Desk, ledger: Ledger) -> tuple[Press, ...]:
    """Inner notes that the arranger gives to the other hand."""
    for choice in choices:
        place = where(choice, desk.bars) if choice.action == "move" else None
        if place is None:
            continue
        start, end = place[0].start, place[1].end
        presses = tuple(
            replace(p, hand=choice.value, strand=2) if start <= p.onset < end and not p.outer and p.hand != choice.value else p  # type: ignore[arg-type]
            for p in presses
        )
        choice_decision(ledger, choice, place, f"the inner notes go to the {choice.value} hand")
    return tuple(sorted(presses, key=lambda k: (k.onset, k.hand, k.strand, k.midi)))
