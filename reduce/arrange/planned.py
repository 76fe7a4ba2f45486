"""What is settled before the hands are filled: length, metre, tempo, key, and the tune in its octave."""

from __future__ import annotations

from collections.abc import Mapping

from reduce.arrange.arrangement import Frame, Request
from reduce.arrange.chosen import figures_chosen, octaves_chosen
from reduce.arrange.desk import Desk, echoes_of, speed
from reduce.arrange.explain import Ledger
from reduce.arrange.framing import framed, led_line
from reduce.arrange.key_spelling import Speller
from reduce.arrange.length import closed
from reduce.arrange.line import Tone
from reduce.arrange.marks_articulation import articulate
from reduce.arrange.marks_colour import Event, colour
from reduce.arrange.ornaments import dress_ornaments
from reduce.arrange.overrule import overruled, unfitting, where
from reduce.arrange.own_motion import own_motion
from reduce.arrange.resting import at_rest
from reduce.arrange.sounding import bed
from reduce.arrange.tune_hands import tune_placed
from reduce.model.choice import Choice
from reduce.model.problem import Problem
from reduce.model.record import dataclass, replace
from reduce.model.rules import Rules
from reduce.model.score import Score, Tempo
from reduce.model.texture import Texture


@dataclass(frozen=True, kw_only=True)
class Plan:
    """What is settled before the hands are filled: the desk, the tune and the bass as they sound in the draft's key."""

    desk: Desk
    frame: Frame
    tune: tuple[Tone, ...]
    bass: tuple[Tone, ...]
    boundaries: tuple[int, ...]
    speller: Speller
    events: tuple[Event, ...]
    silent: Mapping[str, str]
    choices: tuple[Choice, ...]


def planned(
    score: Score, texture: Texture, rules: Rules, request: Request, ledger: Ledger
) -> tuple[Plan, tuple[Tempo, ...], tuple[Problem, ...]]:
    """The arranger's choices, length, metre, tempo and key, and the tune in its octave."""
    choices = tuple(c for c in request.choices if not c.levels or rules.level.name in c.levels)
    heard = overruled(score, texture, rules, choices, ledger)
    texture, problems = heard.texture, heard.problems
    made = framed(score, texture, rules, request, choices, ledger)
    score, frame, source_tune = made.score, made.frame, made.tune
    bars, keys, tempos = score.bars[frame.first : frame.last + 1], frame.keys, frame.tempos
    start, end, shift, steps = bars[0].start, bars[-1].end, frame.shift, frame.steps
    silent = heard.silent
    if frame.until < end:
        texture, gone = at_rest(score, texture, bars[-1], frame.until, ledger)
        silent = {**gone, **silent}
    speller = Speller.of(bars, list(keys), shift, steps)
    bars = closed(tuple(replace(bar, key=key) for bar, key in zip(bars, keys, strict=True)))
    figures, faults = figures_chosen(choices, bars, rules)
    desk = Desk(
        score=score, texture=texture, rules=rules, bars=bars, shift=shift, steps=steps, figures=figures,
        sounds=bed(score, texture, shift, start, end, silent, heard.wanted, rules.number("voicing.chord-notes.doubt-from")),
        pace=speed(tempos, score.resolution),
    )  # fmt: skip
    if rules.level.order < rules.whole("voicing.as-written.from-level"):
        desk = replace(desk, motions=own_motion(desk.sounds, bars, score.resolution), echoes=echoes_of(desk))
    events, decided = colour(score, rules, bars)
    ledger.extend(decided)
    boundaries = tuple(sorted({p.start for p in texture.phrases} | {lead.start for lead in texture.tune}))
    tune = tune_placed(desk, tuple(speller.tone(tone) for tone in source_tune), boundaries, ledger)
    tune = octaves_chosen(tune, choices, bars, "right", ledger)
    nowhere = tuple(
        unfitting(c, f"this draft has no bars {c.bars}") for c in choices if c.action in ("octave", "move") and where(c, bars) is None
    )
    tune, decided = articulate(tune, bars, rules, texture.parallels)
    ledger.extend(decided)
    tune, decided = dress_ornaments(tune, bars, rules, resolution=score.resolution)
    ledger.extend(decided)
    bass = tuple(speller.tone(tone) for tone in led_line(score, texture.bass, start, frame.until))
    bass, _ = articulate(bass, bars, rules, texture.parallels)
    bass, _ = dress_ornaments(bass, bars, rules, resolution=score.resolution)
    plan = Plan(
        desk=desk, frame=frame, tune=tune, bass=bass, boundaries=boundaries, speller=speller, events=events,
        silent=silent, choices=choices,
    )  # fmt: skip
    return plan, tempos, (*problems, *made.problems, *faults, *nowhere)
