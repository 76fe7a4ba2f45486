"""The frame of a draft: its bars, metre, tempo and key, chosen for the level or shared by a class that plays together."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from reduce.arrange.arrangement import Frame, Request
from reduce.arrange.desk import speed
from reduce.arrange.explain import Ledger, bars_named
from reduce.arrange.key import choose_key, home_key, key_name
from reduce.arrange.length import choose_length, named_bars, rests_at, section_begins, tune_limits
from reduce.arrange.line import Tone, line_of
from reduce.arrange.ornaments import turns_written
from reduce.arrange.overrule import choice_decision, unfitting
from reduce.arrange.parted_bars import parts_of
from reduce.arrange.rhythm_meter import choose_meter, in_the_score, rewritten
from reduce.arrange.tempo import choose_tempo, rewritten_tempo, spoken_tempo
from reduce.model.choice import Choice
from reduce.model.decision import Decision, DecisionKind, Rejected
from reduce.model.errors import UsageError
from reduce.model.problem import Problem
from reduce.model.record import dataclass, replace
from reduce.model.rules import Rules
from reduce.model.score import Bar, Score
from reduce.model.texture import Lead, Texture

RULE = "together"


@dataclass(frozen=True, slots=True, kw_only=True)
class Framed:
    """The score with its values as they are written, its frame, the tune inside it as it sounds in the source; choices that do not fit."""

    score: Score
    frame: Frame
    tune: tuple[Tone, ...]
    problems: tuple[Problem, ...] = ()


def framed(score: Score, texture: Texture, rules: Rules, request: Request, choices: Sequence[Choice], ledger: Ledger) -> Framed:
    """The frame for a level: the class's where ``request`` brings one, else chosen, with the arranger's wishes first.

    Raises `UsageError` for bars that the score does not have, or a key that is none.
    """
    wishes: dict[str, Choice] = {choice.action: choice for choice in choices if choice.action in ("key", "cut")}
    if request.frame is None:
        return _chosen(score, texture, rules, request, wishes, ledger)
    shared, alone = request.frame, _chosen(score, texture, rules, request, {}, Ledger()).frame
    ledger.extend(_told(score, texture, alone, shared, rules))
    _, tune = _tune(score, texture, shared.first, shared.last, shared.until)
    problems = _passed_over(wishes, texture, shared, score)
    return Framed(score=rewritten(score, shared.factor, shared.meters), frame=shared, tune=tune, problems=problems)


def _chosen(score: Score, texture: Texture, rules: Rules, request: Request, wishes: Mapping[str, Choice], ledger: Ledger) -> Framed:
    """What the level, or the arranger, would have."""
    for choice in wishes.values():
        ends = (score.bars[0], score.bars[-1])
        choice_decision(ledger, choice, ends, f"the key is {choice.value}" if choice.action == "key" else f"bars {choice.value} are played")
    length = wishes["cut"].value if "cut" in wishes else request.bars or request.length
    first, last, decided = choose_length(score, texture, rules, length, broad=request.broad > 0)
    ledger.extend(decided)
    until = rests_at(score, texture, score.bars[first : last + 1]) if length in (None, "level") else score.bars[last].end
    bars, tune = _tune(score, texture, first, last, until)
    pace = speed(score.tempos, score.resolution)(bars[0].start) * 60 / score.resolution
    written = turns_written(tune, bars, rules, score.resolution)
    factor, decided = choose_meter(score, rules, bars, written, pace, request.broad, texture.phrases)
    ledger.extend(decided)
    marked = spoken_tempo(score, bars[0])
    score = rewritten(score, factor, rules.level.meters)
    bars = score.bars[first : last + 1]
    marked = rewritten_tempo(marked, score, bars[0])
    tempos, decided = choose_tempo(score, rules, bars, marked)
    ledger.extend(decided)
    key = wishes["key"].value if "key" in wishes else request.key
    shift, steps, keys, decided = choose_key(score, texture, rules, key, tune, bars, request.passed)
    ledger.extend(decided)
    frame = Frame(
        level=rules.level.title, first=first, last=last, until=until, factor=factor, halves=request.broad > 0, meters=rules.level.meters,
        tempos=tempos, marked=marked, shift=shift, steps=steps, keys=tuple(keys),
    )  # fmt: skip
    return Framed(score=score, frame=frame, tune=tune)


def _tune(score: Score, texture: Texture, first: int, last: int, until: int) -> tuple[Sequence[Bar], tuple[Tone, ...]]:
    """The bars, and the tune in them; only a cut takes the tail of another phrase off."""
    bars = score.bars[first : last + 1]
    lowest, highest = tune_limits(texture, bars)
    start = bars[0].start if section_begins(score, bars[0]) else lowest
    end = min(highest, until) if last < len(score.bars) - 1 else bars[-1].end
    tune = led_line(score, texture.tune, start, end)
    beat = bars[-1].meter.beat_ticks(score.resolution)
    if tune and until < bars[-1].end and tune[-1].onset >= bars[-1].start and tune[-1].duration < beat:
        tune = (*tune[:-1], replace(tune[-1], end=bars[-1].end))  # it led on to what is not played: now it closes
    return bars, tune


def led_line(score: Score, leads: Sequence[Lead], start: int, end: int) -> tuple[Tone, ...]:
    """The notes of the leads as one line between two ticks, as the source sounds."""
    by_id = score.note_by_id
    ids = [name for lead in leads for name in lead.notes if start <= by_id[name].onset < end]
    return tuple(replace(tone, end=min(tone.end, end)) for tone in line_of(ids, by_id))


def _told(score: Score, texture: Texture, alone: Frame, shared: Frame, rules: Rules) -> tuple[Decision, ...]:
    """Bars, tempo, key and metre of the class, and what this level would have by itself."""
    bars = score.bars[shared.first : shared.last + 1]
    why = f"as {shared.level} has it, so that the drafts can be played together"

    def decision(kind: DecisionKind, name: str, told: Sequence[str], figures: Sequence[float], unit: str) -> Decision:
        own, what = told
        sentence = f"{what}, {why}; " + ("this level alone would have the same." if own == what else f"this level alone would have {own}.")
        return Decision(
            id=f"{name}-together", kind=kind, bars=(shared.first, shared.last), sentence=sentence[:1].upper() + sentence[1:],
            onset=bars[0].start, weight="big", rule=RULE, measured=figures[0], limit=figures[1], unit=unit, by="arranger",
            rejected=() if own == what else (Rejected(own, "the drafts could not be played together"),),
        )  # fmt: skip

    def stretch(frame: Frame) -> str:
        return bars_named(score.bars[frame.first], score.bars[frame.last]).lower()

    def metre(frame: Frame) -> str:
        if shared.halves and not frame.halves:  # the bars are parted for the class only
            return in_the_score(bars)[0]
        first = rewritten(score, frame.factor, frame.meters).bars[shared.first]
        values = {2.0: " in doubled values", 0.5: " in halved values"}.get(float(frame.factor), "")
        return f"{first.meter}{values}{', each bar as two' if frame.halves and parts_of(bars) > 1 else ''}"

    frames = (alone, shared)
    counts = [float(sum(not bar.parent for bar in score.bars[frame.first : frame.last + 1])) for frame in frames]
    speeds = [float(frame.quarters or 0) for frame in frames]
    signs = [float(max((abs(key.fifths) for key in frame.keys), default=0)) for frame in frames]
    keys = [key_named(texture, score, frame) for frame in frames]
    found = [
        decision("cut", "cut", [stretch(frame) for frame in frames], counts, "bars"),
        decision("tempo", "tempo", [f"{number:g} quarters a minute" for number in speeds], speeds, "quarters a minute"),
        decision("key", "key", keys, signs, "sharps or flats"),
    ]
    metres = [metre(frame) for frame in frames]
    if metres[0] != metres[1]:
        factors = [float(frame.factor) for frame in frames]
        found.append(decision("rhythm", "metre", metres, factors, "times the values"))
    return tuple(found)


def key_named(texture: Texture, score: Score, frame: Frame) -> str:
    """The key that a frame puts its bars in, by name."""
    bars = score.bars[frame.first : frame.last + 1]
    home, mode = home_key(texture, bars)
    moved = (7 * home + frame.shift) % 12
    return key_name(min((fifths for fifths in range(-6, 7) if (7 * fifths - moved) % 12 == 0), key=lambda fifths: abs(fifths - home)), mode)


def _passed_over(wishes: Mapping[str, Choice], texture: Texture, shared: Frame, score: Score) -> tuple[Problem, ...]:
    """The arranger's wishes for this level alone that would take it out of the class."""
    found = []
    for choice in wishes.values():
        try:
            same = choice.action == "key" or named_bars(choice.value, score.bars) == (shared.first, shared.last)
        except UsageError:
            same = False
        if choice.action == "key":
            same = choice.value.replace("#", "♯").lower().split()[0] == key_named(texture, score, shared).lower().split()[0]
        if not same:
            found.append(unfitting(choice, f"drafts that are played together have the bars and the key of {shared.level}: choose it there"))
    return tuple(found)
