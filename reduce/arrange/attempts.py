"""Attempts at a piece: both hands filled at a tempo, checked, and eased bar by bar; what is not needed is given back."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from functools import partial

from reduce.arrange.as_written import bass_line, inner_voices, strokes_apart
from reduce.arrange.by_figures import accompaniment
from reduce.arrange.chosen import figures_told, moved_across, octaves_chosen
from reduce.arrange.desk import speed, taste_of
from reduce.arrange.easing import LAST, Relief, relief, slowest
from reduce.arrange.echoes import alike
from reduce.arrange.explain import Ledger
from reduce.arrange.fates import traced
from reduce.arrange.figures_sections import Section
from reduce.arrange.fold import Room
from reduce.arrange.given_back import given_back
from reduce.arrange.handed import handed_down
from reduce.arrange.hands_again import Model, hands_again
from reduce.arrange.left_out import LeftOut
from reduce.arrange.overrule import where
from reduce.arrange.plain_notes import without_signed
from reduce.arrange.planned import Plan
from reduce.arrange.plucked import dotted, plucked
from reduce.arrange.rebroken import rebroken
from reduce.arrange.restruck import restruck
from reduce.arrange.rhythm import fit_rhythm
from reduce.arrange.rhythm_strong import strong_beats
from reduce.arrange.same_again import bass_again, same_again
from reduce.arrange.strands import Refused, assembled, kept_legal, one_voice
from reduce.arrange.tempo import shown
from reduce.arrange.tremolo import alternating
from reduce.arrange.tried_out import unfit
from reduce.arrange.tune_hands import hands_of
from reduce.arrange.writing import names, weighted, written
from reduce.hands.check import bar_loads, check
from reduce.hands.report import BarLoad, Report
from reduce.model.draft import Draft, DraftNote
from reduce.model.problem import Problem
from reduce.model.record import dataclass, replace
from reduce.model.rules import Rules
from reduce.model.score import Tempo


@dataclass(frozen=True, kw_only=True)
class Filled:
    """Both hands filled: the notes, which source note each outer one claims, and all that tells why others are left out."""

    notes: tuple[DraftNote, ...]
    claims: Mapping[str, str]
    refused: tuple[Refused, ...]
    left_out: LeftOut
    ways: Mapping[int, str]  # what eased bars play, where it is not what their step says
    parts: tuple[Section, ...] = ()  # the sections of the left hand's figures


@dataclass(frozen=True, kw_only=True)
class Tried:
    """The piece in one key, eased as far as it can be; ``asked`` are the tempi before that, ``report`` is the last check that was made.

    ``steady``: the tempo is shared with others; ``slowed``: tempi, quarters a minute, that were given up because so many bars would leave
    their figure.  ``settled`` is what was decided before the hands were filled, ``patience`` the tempo that its theme may be slowed to.
    """

    plan: Plan
    settled: Ledger
    patience: float
    ledger: Ledger
    draft: Draft
    filled: Filled
    state: Relief
    asked: tuple[Tempo, ...]
    report: Report | None
    problems: tuple[Problem, ...]
    steady: bool = False
    slowed: tuple[tuple[float, int], ...] = ()

    @property
    def over(self) -> int:
        """Bars with more at the limit than the level allows."""
        return sum(load.over_budget for load in self.report.load) if self.report is not None else 0

    @property
    def hurt(self) -> int:
        """Those bars, and the bars whose tune had to lose notes for it."""
        return 2 * self.over + len(self.state.calm.keys() | self.state.plain)


def eased(
    plan: Plan,
    settled: Ledger,
    asked: tuple[Tempo, ...],
    problems: tuple[Problem, ...],
    state: Relief,
    rules: Rules,
    calmest: int,
    *,
    steady: bool,
) -> Tried:
    """The planned piece realised and eased on from ``state``; ``steady``: at the tempo that others play it in."""
    resolution, bars, level = plan.desk.score.resolution, plan.desk.bars, rules.level
    beat = bars[0].meter.beat_ticks(resolution) / resolution if bars else 1.0
    report = None
    rounds = rounds_of(rules, len(bars), calmest)
    patience = slowest(asked, rules, beat) if rounds and not steady else 0.0
    weigh = rules.numbers("accompaniment.section.unfit-bars")[level.order - 1] > 0 and not plan.desk.unfit
    for attempt in range(rounds + 1):
        ledger = settled.copy()
        filled = realised(plan, state, ledger, patience)
        draft = drafted(plan, filled.notes, state.tempos)
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
    return Tried(
        plan=plan, settled=settled, patience=patience, ledger=ledger, draft=draft, filled=filled, state=state, asked=asked, report=report,
        problems=problems, steady=steady,
    )  # fmt: skip


def given_all_back(tried: Tried, rules: Rules) -> Tried:
    """The piece with all that its bars were eased by and do not need."""
    if tried.report is None or not (tried.state.ease or tried.state.calm or tried.state.plain):
        return tried

    def attempt(state: Relief) -> Report:
        return check(attempted(tried, state).draft, rules.level, rules)

    state = given_back(tried.state, tried.report, tried.plan.desk.echoes, attempt, rules)
    if state is tried.state:
        return tried
    found = attempted(tried, state)
    return replace(found, report=check(found.draft, rules.level, rules))


def unsung(tried: Tried, sung: Collection[str]) -> int:
    """How many of the source's notes of the tune the piece has not."""
    desk, until = tried.plan.desk, min(tried.plan.desk.end, tried.plan.frame.until)
    notes, claims, roles = tried.draft.notes, tried.filled.claims, desk.texture.roles
    traces = traced(desk.score.notes, notes, roles, claims, desk.shift, desk.start, desk.start, until, tried.plan.silent)
    return sum(not trace.draft_notes for trace in traces if trace.note.id in sung)


def attempted(tried: Tried, state: Relief) -> Tried:
    """The piece realised anew, from what was settled, with other bars eased."""
    ledger = tried.settled.copy()
    filled = realised(tried.plan, state, ledger, tried.patience)
    return replace(tried, ledger=ledger, filled=filled, draft=drafted(tried.plan, filled.notes, state.tempos), state=state)


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
    filled = realised(plan, replace(state, ease=dict.fromkeys(range(len(plan.desk.bars)), 1)), Ledger(), patience)
    return bar_loads(drafted(plan, filled.notes, state.tempos), plan.desk.rules.level, plan.desk.rules)


def realised(plan: Plan, state: Relief, ledger: Ledger, patience: float) -> Filled:
    """Both hands filled at a tempo, with the given bars (index into the kept ones) eased.

    ``patience`` is the tempo that the piece may be slowed to before its theme loses a note.
    """
    score, texture, rules = plan.desk.score, plan.desk.texture, plan.desk.rules
    desk = replace(plan.desk, pace=speed(state.tempos, score.resolution), ease=state.ease, small=bool(state.small), slim=state.slim)
    level, bars, never = rules.level, desk.bars, taste_of(rules).never
    rooms, ways, parts = tuple[Room, ...](), dict[int, str](), tuple[Section, ...]()
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
        left, right, chords, ways, parts = found.left, found.right, found.chords, dict(found.ways), found.parts
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
    return Filled(notes=notes, claims=claims, refused=refused, left_out=left_out, ways=ways, parts=parts)


def drafted(plan: Plan, notes: tuple[DraftNote, ...], tempos: tuple[Tempo, ...]) -> Draft:
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
