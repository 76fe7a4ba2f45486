"""From the score to its texture: who plays the tune, the bass and the rest, in which harmony and form."""

from __future__ import annotations

from reduce.analyse.bass import bass
from reduce.analyse.figures import figures
from reduce.analyse.harmony import harmony
from reduce.analyse.melody import melody, survey
from reduce.analyse.parallels import parallels
from reduce.analyse.phrases import phrases
from reduce.analyse.roles import counters, roles
from reduce.analyse.streams import streams
from reduce.model.decision import Decision
from reduce.model.rules import Rules
from reduce.model.score import Score
from reduce.model.texture import Texture

__all__ = ["bass", "melody", "streams", "texture"]


def texture(score: Score, rules: Rules) -> tuple[Texture, tuple[Decision, ...]]:
    """Everything the arranging needs to know about the score, and the decisions that led there."""
    lines, stream_of = streams(score)
    seen = survey(score, lines, stream_of, rules)
    if seen is None:
        return Texture(streams=lines, stream_of=stream_of), ()
    tune, tune_decisions = melody(score, lines, seen, rules)
    low, low_decisions = bass(score, lines, stream_of, tune, rules)
    second = counters(score, seen, tune, rules)
    named = roles(score, stream_of, seen, tune, low, second, rules)
    chords, keys = harmony(score, rules)
    repeats = parallels(score, rules)
    rearranged = rules.level.order < rules.whole("voicing.as-written.from-level")  # else nobody asks for figures
    found = Texture(
        streams=lines,
        stream_of=stream_of,
        roles=named,
        tune=tune,
        bass=low,
        counters=second,
        phrases=phrases(score, tune, chords, keys, rules, repeats),
        chords=chords,
        keys=keys,
        figures=figures(score, stream_of, named, chords, rules) if rearranged else (),
        parallels=repeats,
    )
    return found, tune_decisions + low_decisions
