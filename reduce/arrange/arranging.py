"""The acts of arranging in their order, from the score's texture to a draft with its reasons."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from functools import partial

from reduce.arrange.agreeing import agreeing
from reduce.arrange.arrangement import Arrangement, Request
from reduce.arrange.as_written import bass_line, inner_voices, strokes_apart
from reduce.arrange.by_figures import accompaniment
from reduce.arrange.chosen import figures_told, moved_across, octaves_chosen
from reduce.arrange.desk import speed, taste_of
from reduce.arrange.easing import LAST, LAST_CALM, Relief, relief, slowest
from reduce.arrange.easing import explained as explained_easing
from reduce.arrange.echoes import alike
from reduce.arrange.explain import Ledger, explained_additions, explained_fates, explained_fingers
from reduce.arrange.fates import stood_for, traced
from reduce.arrange.fold import Room
from reduce.arrange.framing import key_named
from reduce.arrange.given_back import given_back
from reduce.arrange.handed import handed_down
from reduce.arrange.hands_again import Model, hands_again
from reduce.arrange.held import edited, locked, locked_slurs
from reduce.arrange.left_out import LeftOut
from reduce.arrange.marks import merge_marks
from reduce.arrange.marks_pauses import held_to_the_end
from reduce.arrange.overrule import where
from reduce.arrange.plain_notes import without_signed
from reduce.arrange.planned import Plan, planned
from reduce.arrange.plucked import dotted, plucked
from reduce.arrange.priced import priced
from reduce.arrange.rebroken import rebroken
from reduce.arrange.resting import without_signs
from reduce.arrange.restruck import restruck
from reduce.arrange.rhythm import fit_rhythm
from reduce.arrange.rhythm_strong import strong_beats
from reduce.arrange.same_again import bass_again, same_again
from reduce.arrange.strands import Refused, assembled, kept_legal, one_voice
from reduce.arrange.tempo import shown, slowed
from reduce.arrange.tremolo import alternating
from reduce.arrange.tried_out import unfit
from reduce.arrange.tune_hands import hands_of
from reduce.arrange.writing import names, weighted, written
from reduce.hands.check import bar_loads, check
from reduce.hands.fingers import fingered
from reduce.hands.report import BarLoad, Report
from reduce.model.decision import Rejected
from reduce.model.draft import Draft, DraftNote
from reduce.model.problem import Problem
from reduce.model.record import dataclass, replace
from reduce.model.rules import Rules
from reduce.model.score import Score, Tempo
from reduce.model.texture import Texture


@dataclass(frozen=True, kw_only=True)
class _Filled:
    """Both hands filled: the notes, which source note each outer one claims, and all that tells why others are left out."""

    notes: tuple[DraftNote, ...]
    claims: Mapping[str, str]
    refused: tuple[Refused, ...]
    left_out: LeftOut
    ways: Mapping[int, str]  # what eased bars play, where it is not what their step says


def arrange(score: Score, texture: Texture, rules: Rules, request: Request) -> Arrangement:
    """The draft of a score for a level.

    Raises:
        UsageError: bars that the score does not have, or a key that is none.
    """
    eased = _in_best_key(score, texture, rules, request)
    tried = _lightened(eased, rules)
    plan, ledger, draft, filled = tried.plan, tried.ledger, tried.draft, tried.filled
    notes, claims = draft.notes, dict(filled.claims)
    score, texture, bars, level, problems = plan.desk.score, plan.desk.texture, plan.desk.bars, rules.level, tried.problems
    if tried.report is not None:
        proposed = ledger.taken("tempo-1")
        if proposed is not None:  # a class keeps the tempo of its easiest level
            ledger.add(slowed(proposed, plan.frame.marked, tried.asked, tried.state.tempos, bars, level))
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
        sung=len(sung), lost=len(sung - kept), eased=len(sung - kept) if tried is eased else _unsung(eased, sung),
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class _Tried:
    """The piece in one key, eased as far as it can be; ``asked`` are the tempi before that, ``report`` is the last check that was made.

    ``settled`` is what was decided before the hands were filled, ``patience`` the tempo that its theme may be slowed to.
    """

    plan: Plan
    settled: Ledger
    patience: float
    ledger: Ledger
    draft: Draft
    filled: _Filled
    state: Relief
    asked: tuple[Tempo, ...]
    report: Report | None
    problems: tuple[Problem, ...]

    @property
    def over(self) -> int:
        """Bars with more at the limit than the level allows."""
        return sum(load.over_budget for load in self.report.load) if self.report is not None else 0

    @property
    def hurt(self) -> int:
        """Those bars, and the bars whose tune had to lose notes for it."""
        return 2 * self.over + len(self.state.calm.keys() | self.state.plain)


def _in_best_key(score: Score, texture: Texture, rules: Rules, request: Request) -> _Tried:
    """The piece in the key that was asked for; with ``auto``, where bars ask for too much at once, in the key with the fewest of them.

    Bars whose tune goes without notes count half: the key without any of both is looked for.
    """
    first = best = _tried(score, texture, rules, request, 1)
    free = request.key == "auto" and request.frame is None and not any(c.action == "key" for c in first.plan.choices)
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


def _lightened(tried: _Tried, rules: Rules) -> _Tried:
    """The piece with all that its bars were eased by and do not need."""
    if tried.report is None or not (tried.state.ease or tried.state.calm or tried.state.plain):
        return tried

    def attempt(state: Relief) -> Report:
        return check(_attempted(tried, state).draft, rules.level, rules)

    state = given_back(tried.state, tried.report, tried.plan.desk.echoes, attempt, rules)
    if state is tried.state:
        return tried
    found = _attempted(tried, state)
    return replace(found, report=check(found.draft, rules.level, rules))


def _unsung(tried: _Tried, sung: Collection[str]) -> int:
    """How many of the source's notes of the tune the piece has not."""
    desk, until = tried.plan.desk, min(tried.plan.desk.end, tried.plan.frame.until)
    notes, claims, roles = tried.draft.notes, tried.filled.claims, desk.texture.roles
    traces = traced(desk.score.notes, notes, roles, claims, desk.shift, desk.start, desk.start, until, tried.plan.silent)
    return sum(not trace.draft_notes for trace in traces if trace.note.id in sung)


def _attempted(tried: _Tried, state: Relief) -> _Tried:
    """The piece realised anew, from what was settled, with other bars eased."""
    ledger = tried.settled.copy()
    filled = _realised(tried.plan, state, ledger, tried.patience)
    return replace(tried, ledger=ledger, filled=filled, draft=_draft(tried.plan, filled.notes, state.tempos), state=state)


def _passed(tried: _Tried) -> Rejected:
    """The key of a try, with the reason why another one is looked for."""
    desk = tried.plan.desk
    count = tried.over or tried.hurt
    bars = f"{count} bars" if count > 1 else "one bar"
    has, loses = ("have", "lose") if count > 1 else ("has", "loses")
    why = f"{bars} {has} more than one thing at the limit" if tried.over else f"{bars} of the tune {loses} notes"
    return Rejected(key_named(desk.texture, desk.score, tried.plan.frame), why)


def _tried(score: Score, texture: Texture, rules: Rules, request: Request, calmest: int) -> _Tried:
    """The piece planned, realised and eased; ``calmest`` is the last step of a calmer tune."""
    settled = Ledger()
    plan, asked, problems = planned(score, texture, rules, request, settled)
    resolution, bars, level, steady = plan.desk.score.resolution, plan.desk.bars, rules.level, request.frame is not None
    beat = bars[0].meter.beat_ticks(resolution) / resolution if bars else 1.0
    report = None
    state = Relief(tempos=asked)
    rounds = rounds_of(rules, len(bars), calmest)
    patience = slowest(asked, rules, beat) if rounds and not steady else 0.0
    weigh = rules.numbers("accompaniment.section.unfit-bars")[level.order - 1] > 0
    for attempt in range(rounds + 1):
        ledger = settled.copy()
        filled = _realised(plan, state, ledger, patience)
        draft = _draft(plan, filled.notes, state.tempos)
        if not rounds:
            break
        report = check(draft, level, rules)
        if attempt == rounds:
            break
        sung = replace(draft, notes=tuple(n for n in filled.notes if n.role == "melody"))
        tune = bar_loads(sung, level, rules) if level.at_limit_per_bar <= 1 else ()
        wish = relief(report, tune, asked, state, rules, beat, steady=steady, calmest=calmest)
        if wish is None:
            break
        if weigh and (wish.ease or wish.calm):  # the tempo is settled: a figure that more bars can bear comes before lighter bars
            weigh = False
            found = unfit(bars, rules, state.tempos, tune, partial(_under, plan, state, patience))
            if any(found.values()):
                plan = replace(plan, desk=replace(plan.desk, unfit=found))
                continue
        ease, slim, calm = (alike(steps, plan.desk.echoes) for steps in (wish.ease, wish.slim, wish.calm))
        state = replace(wish, ease=ease, slim=slim, calm=calm)
    return _Tried(
        plan=plan, settled=settled, patience=patience, ledger=ledger, draft=draft, filled=filled, state=state, asked=asked, report=report,
        problems=problems,
    )  # fmt: skip


def rounds_of(rules: Rules, bars: int, calmest: int) -> int:
    """How often a piece of so many bars is arranged anew at most; 0 where the level eases nothing.

    A calmer tune comes last, when the left hand of its bar and of the bar before have been through all their steps: each of its steps
    takes the rounds for another such hand.
    """
    if rules.level.order > rules.whole("easing.bar.up-to-level"):
        return 0
    rounds = rules.whole("easing.bar.rounds") + LAST * (calmest - 1)
    return min(rounds, rules.whole("easing.bar.rounds-long")) if bars > rules.whole("key.weigh.tries-bars") else rounds


def _under(plan: Plan, state: Relief, patience: float, figure: str) -> Sequence[BarLoad]:
    """The load of each bar with one figure all through and without company in the right hand."""
    plan = replace(plan, desk=replace(plan.desk, only=figure))
    filled = _realised(plan, replace(state, ease=dict.fromkeys(range(len(plan.desk.bars)), 1)), Ledger(), patience)
    return bar_loads(_draft(plan, filled.notes, state.tempos), plan.desk.rules.level, plan.desk.rules)


def _realised(plan: Plan, state: Relief, ledger: Ledger, patience: float) -> _Filled:
    """Both hands filled at a tempo, with the given bars (index into the kept ones) eased.

    ``patience`` is the tempo that the piece may be slowed to before its theme loses a note.
    """
    score, texture, rules = plan.desk.score, plan.desk.texture, plan.desk.rules
    desk = replace(plan.desk, pace=speed(state.tempos, score.resolution), ease=state.ease, small=bool(state.small), slim=state.slim)
    level, bars, never = rules.level, desk.bars, taste_of(rules).never
    rooms, ways = tuple[Room, ...](), dict[int, str]()
    chords = desk.chords
    quarters = desk.pace(desk.start) * 60 / score.resolution
    tune, decided = without_signed(plan.tune, bars, state.plain, score.resolution)
    ledger.extend(decided)
    tune, decided = fit_rhythm(
        tune,
        bars,
        rules,
        resolution=score.resolution,
        quarters=quarters,
        slowest=patience,
        phrases=texture.phrases,
        chords=desk.chords,
        calm={bars[place].index for place in state.calm},
    )
    ledger.extend(decided)
    tune = strong_beats(tune, bars, state.calm, score.resolution)
    if level.order >= rules.whole("voicing.as-written.from-level"):
        desk, bass = strokes_apart(desk, plan.bass, ledger)
        bass = bass_again(bass_line(desk, bass, tune, plan.boundaries, ledger), tune, desk)
        bass = octaves_chosen(bass, plan.choices, bars, "left", ledger)
        inner, rooms = inner_voices(desk, tune, bass)
        inner = same_again(inner, tune, bass, desk)
        short, rest = (int(rules.number(f"voicing.as-written.{name}") * score.resolution) for name in ("short-bass", "short-rest"))
        short = min(short, *(bar.meter.beat_ticks(score.resolution) for bar in bars))
        bass, inner = one_voice(bass, inner, short, rest, int(level.shortest * score.resolution))
        inner = restruck(rebroken(inner, bass, desk, ledger), desk)
        presses = assembled(tune, bass, alternating(inner, bass, desk, ledger))
    else:
        hands = hands_of(desk, tune, plan.boundaries, ledger)
        given = [tone for tone, left in zip(tune, hands, strict=True) if left]
        found = accompaniment(desk, tune, plan.bass, quarters, given)
        left, right, chords, ways = found.left, found.right, found.chords, dict(found.ways)
        ledger.extend(d for d in found.decisions if d.by != "arranger")
        figures_told(plan.choices, [d for d in found.decisions if d.by == "arranger"], bars, ledger)
        low = {(tone.onset, tone.midi) for tone in given}
        sung = (replace(k, hand="left", sung=True) if k.outer and (k.onset, k.midi) in low else k for k in assembled(tune, (), right))
        presses = tuple(sorted([*left, *sung], key=lambda k: (k.onset, k.hand, k.strand, k.midi)))
    named = [place for c in plan.choices if c.action == "melody" and (place := where(c, bars))]
    presses = handed_down(presses, tune, plan.bass, [(first.start, last.end) for first, last in named], desk, ledger)
    presses = moved_across(presses, plan.choices, desk, ledger)
    presses, refused = kept_legal(presses, desk.spans, desk.most, desk.playable, level.lowest, level.highest, never)
    models: Mapping[int, Model] = {}
    if level.order >= rules.whole("voicing.same-again.from-level"):
        hers = [(place[0].start, place[1].end) for c in plan.choices if (place := where(c, bars))]
        presses, models = hands_again(
            presses, desk, hers,
            lambda row: not kept_legal(row, desk.spans, desk.most, desk.playable, level.lowest, level.highest, never)[1],
        )  # fmt: skip
    notes, claims = written(presses, names(desk.sounds, plan.speller, desk.chords), bars, desk.start)
    if "accent" in level.articulations:
        notes = weighted(notes, plan.events, desk.start)
    notes = plucked(dotted(notes, desk), desk, ledger)
    left_out = LeftOut(rooms, refused, chords, rules, desk.shift, never, desk.pace, {
        bars[place].start: (bars[place].end, bars[place].start - bars[model.first].start, model.up) for place, model in models.items()
    })  # fmt: skip
    return _Filled(notes=notes, claims=claims, refused=refused, left_out=left_out, ways=ways)


def _draft(plan: Plan, notes: tuple[DraftNote, ...], tempos: tuple[Tempo, ...]) -> Draft:
    """The draft's frame around its notes, counted from its own first bar."""
    score, start = plan.desk.score, plan.desk.start
    return Draft(
        resolution=score.resolution,
        title=score.title,
        subtitle=plan.desk.rules.level.title,
        composer=score.composer,
        rights=score.rights,
        source=score.source,
        level=plan.desk.rules.level.name,
        transposed=plan.desk.shift,
        first_bar=plan.frame.first,
        bars=tuple(replace(bar, index=i, start=bar.start - start) for i, bar in enumerate(plan.desk.bars)),
        notes=notes,
        tempos=tuple(replace(t, onset=max(0, t.onset - start)) for t in shown(tempos, score.tempos, plan.desk.bars[0].meter)),
    )
