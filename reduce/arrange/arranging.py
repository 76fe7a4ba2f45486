"""The acts of arranging in their order, from the score's texture to a draft with its reasons."""

from __future__ import annotations

from reduce.arrange.agreeing import agreeing
from reduce.arrange.arrangement import Arrangement, Request
from reduce.arrange.attempts import Tried, eased, given_all_back, unsung
from reduce.arrange.easing import LAST_CALM, Relief
from reduce.arrange.easing import explained as explained_easing
from reduce.arrange.explain import Ledger, explained_additions, explained_fates, explained_fingers
from reduce.arrange.fates import stood_for, traced
from reduce.arrange.framing import key_named
from reduce.arrange.held import edited, locked, locked_slurs
from reduce.arrange.marks import merge_marks
from reduce.arrange.marks_pauses import held_to_the_end
from reduce.arrange.planned import planned
from reduce.arrange.priced import priced
from reduce.arrange.resting import without_signs
from reduce.arrange.tempo import slowed
from reduce.arrange.whole_figures import left_bars, price
from reduce.arrange.whole_ways import in_one_key
from reduce.hands.fingers import fingered
from reduce.model.decision import Rejected
from reduce.model.record import replace
from reduce.model.rules import Rules
from reduce.model.score import Score
from reduce.model.texture import Texture


def arrange(score: Score, texture: Texture, rules: Rules, request: Request) -> Arrangement:
    """The draft of a score for a level.

    Raises:
        UsageError: bars that the score does not have, or a key that is none.
    """
    first = _in_best_key(score, texture, rules, request)
    tried = _in_whole_figures(given_all_back(first, rules), score, texture, rules, request)
    plan, ledger, draft, filled = tried.plan, tried.ledger, tried.draft, tried.filled
    notes, claims = draft.notes, dict(filled.claims)
    score, texture, bars, level, problems = plan.desk.score, plan.desk.texture, plan.desk.bars, rules.level, tried.problems
    if tried.report is not None:
        proposed = ledger.taken("tempo-1")
        if proposed is not None:  # a class keeps the tempo of its easiest level
            ledger.add(slowed(proposed, plan.frame.marked, tried.asked, tried.state.tempos, bars, level, tried.slowed))
        explained_easing(ledger, tried.report, tried.state, bars, rules, plan.tune, filled.ways)

    if request.together:
        notes, moved = agreeing(notes, plan.desk, ledger)
        claims = {source: owner for source, owner in claims.items() if owner not in moved}
    notes = held_to_the_end(notes, score, bars)
    notes, faults = locked(notes, draft, request.earlier, plan.choices, ledger)
    problems += faults
    marks, decided = merge_marks(without_signs(score, plan.frame.until, plan.desk.end), texture, notes, rules, bars)
    marks = locked_slurs(marks, notes, draft, request.earlier, plan.choices)
    ledger.extend(decided)
    notes, marks, faults = edited(notes, marks, draft, plan.choices, ledger)
    problems += faults
    start, end, shift = plan.desk.start, plan.desk.end, plan.desk.shift
    traces = traced(score.notes, notes, texture.roles, claims, shift, start, start, min(end, plan.frame.until), plan.silent)
    fates = explained_fates(ledger, traces, score, texture, bars, filled.left_out, level)
    standing = stood_for(traces)
    notes = tuple(replace(n, sources=standing.get(n.id, n.sources)) for n in notes)
    notes = explained_additions(ledger, notes, bars, start)
    draft = replace(draft, notes=notes, marks=marks)
    fingers = fingered(draft, level)
    explained_fingers(ledger, fingers, bars, level)
    draft = replace(draft, notes=tuple(replace(n, finger=told) if (told := fingers.get(n.id, "")) != n.finger else n for n in notes))
    decisions = priced(ledger.decisions(), draft, rules) if plan.choices else ledger.decisions()
    frame = replace(plan.frame, tempos=tried.state.tempos)
    sung, kept = {name for tone in plan.tune for name in tone.sources}, {name for note in notes for name in note.sources}
    return Arrangement(
        draft=draft, decisions=decisions, fates=fates, problems=problems, refused=filled.refused, frame=frame,
        sung=len(sung), lost=len(sung - kept), eased=len(sung - kept) if tried is first else unsung(first, sung),
    )  # fmt: skip


def _in_best_key(score: Score, texture: Texture, rules: Rules, request: Request) -> Tried:
    """The piece in the key that was asked for; with ``auto``, where bars ask for too much at once, in the key with the fewest of them.

    Bars whose tune goes without notes count half: the key without any of both is looked for.
    """
    first = best = _tried(score, texture, rules, request, 1)
    free = _any_key(first, request)
    if not best.hurt or rules.level.at_limit_per_bar > 1:
        return best
    if not free or len(first.plan.desk.bars) > rules.whole("key.weigh.tries-bars"):
        return best if not best.over else _tried(score, texture, rules, request, LAST_CALM)
    tries = rules.whole("key.weigh.tries")
    passed, wish = [_passed(first)], request
    for _ in range(tries):
        other = _tried(score, texture, rules, replace(request, passed=tuple(passed)), 1)
        if _passed(other).what in {item.what for item in passed}:  # the level knows no other key
            break
        if other.hurt < best.hurt:
            best, wish = other, replace(request, passed=tuple(passed))
        if not best.hurt:
            return best
        passed.append(_passed(other))
    return best if not best.over else _tried(score, texture, rules, wish, LAST_CALM)


def _passed(tried: Tried, left: int = 0) -> Rejected:
    """The key of a try, with the reason why another one is looked for; ``left``: so many bars leave their figure."""
    desk = tried.plan.desk
    count = left or tried.over or tried.hurt
    bars = f"{count} bars" if count > 1 else "one bar"
    if left:
        return Rejected(key_named(desk.texture, desk.score, tried.plan.frame), f"{bars} would leave the left hand's figure")
    has, loses = ("have", "lose") if count > 1 else ("has", "loses")
    why = f"{bars} {has} more than one thing at the limit" if tried.over else f"{bars} of the tune {loses} notes"
    return Rejected(key_named(desk.texture, desk.score, tried.plan.frame), why)


def _tried(score: Score, texture: Texture, rules: Rules, request: Request, calmest: int) -> Tried:
    """The piece planned, realised and eased; ``calmest`` is the last step of a calmer tune."""
    settled = Ledger()
    plan, asked, problems = planned(score, texture, rules, request, settled)
    return eased(plan, settled, asked, problems, Relief(tempos=asked), rules, calmest, steady=request.frame is not None)


def _in_whole_figures(tried: Tried, score: Score, texture: Texture, rules: Rules, request: Request) -> Tried:
    """The piece in the key and in the way in which the fewest bars leave their figure, where that costs less than those bars do."""
    if not rules.numbers("easing.figures.tries")[rules.level.order - 1] or not left_bars(tried.state.ease, tried.filled.ways):
        return tried
    first = best = in_one_key(tried, rules)
    count = len(tried.plan.desk.bars)
    fixed = rules.level.at_limit_per_bar > 1 or count > rules.whole("key.weigh.tries-bars") or not _any_key(tried, request)
    if fixed or not first.standing.left:
        return first.piece
    least, step = price(first.standing, first.standing, count, rules), rules.number("easing.figures.key")
    passed = [_passed(first.piece, len(first.standing.left))]
    for place in range(rules.whole("key.weigh.tries")):
        if step * (place + 1) >= least:
            break
        other = _tried(score, texture, rules, replace(request, passed=tuple(passed)), 1)
        if _passed(other).what in {item.what for item in passed}:
            break
        if other.over <= first.standing.over:
            found = in_one_key(given_all_back(other, rules), rules)
            cost = price(found.standing, first.standing, count, rules) + step * (place + 1)
            if not found.standing.harder(first.standing) and cost < least:
                best, least = found, cost
            passed.append(_passed(found.piece, len(found.standing.left)))
        else:
            passed.append(_passed(other))
    return best.piece


def _any_key(tried: Tried, request: Request) -> bool:
    """Whether the key is the tool's own choice."""
    return request.key == "auto" and request.frame is None and not any(c.action == "key" for c in tried.plan.choices)
