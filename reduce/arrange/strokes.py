"""What the figures strike: when, how full, and how much lighter in bars that are eased."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from reduce.arrange.chord_sizes import cut, smaller, told
from reduce.arrange.desk import Desk
from reduce.arrange.easing import AT_HALF_PACE, STEPS
from reduce.arrange.echoes import strikes_alike
from reduce.arrange.figures import Strike, accompany
from reduce.arrange.figures_sections import Section
from reduce.arrange.lightened import idle, lightened, slower, smaller_chords
from reduce.arrange.line import Tone
from reduce.arrange.meeting import met
from reduce.arrange.outline import Outline
from reduce.model.decision import Decision
from reduce.model.record import dataclass, replace
from reduce.model.texture import Chord


@dataclass(frozen=True, slots=True, kw_only=True)
class Strokes:
    """The ``strikes`` of both hands and what was decided about them; ``smaller``: bars (positions) whose chords have a note less.

    ``ways`` tells of eased bars (positions) what is played there, where it is not what the step says.
    """

    strikes: tuple[Strike, ...]
    decisions: tuple[Decision, ...]
    smaller: frozenset[int]
    ways: Mapping[int, str]
    parts: tuple[Section, ...]


def strokes(
    desk: Desk, chords: Sequence[Chord], tune: Sequence[Tone], bass: Sequence[Tone], quarters: float, given: Sequence[Tone]
) -> Strokes:
    """The strikes of each section's figure on these harmonies; ``given`` are the notes of the tune that the left hand has."""
    rules, resolution = desk.rules, desk.score.resolution
    strikes, decisions, parts = accompany(
        chords, desk.texture.figures, desk.bars, rules,
        resolution=resolution, quarters=quarters, tune=tune, bass=bass, phrases=desk.texture.phrases,
        chosen=desk.figures, own=desk.motions, unfit=desk.unfit, only=desk.only, settled=desk.settled,
    )  # fmt: skip
    if desk.small:
        strikes = smaller_chords(desk, strikes)
    fewer: Sequence[tuple[int, int]] = ()
    if desk.slim:
        fewer = smaller(desk, strikes, [desk.place(decision.onset or 0) for decision in decisions])
        strikes, decisions = cut(desk, strikes, fewer), (*decisions, *told(desk, strikes, fewer))
    ways = dict.fromkeys(slower(desk, strikes), AT_HALF_PACE) if desk.ease else {}
    if desk.ease:
        lighter = lightened(desk, strikes)
        ways |= dict.fromkeys(idle(desk, strikes, lighter), STEPS[1])
        strikes = tuple(lighter)
    strikes = strikes_alike(strikes, chords, desk.bars, tune, desk.motions, desk.echoes)
    if rules.level.order <= rules.whole("accompaniment.root-and-fifth.with-the-tune-up-to-level"):
        strikes = met(strikes, desk.bars, tune, resolution)
    if given:
        strikes = tuple(_waiting(strikes, given))
    thin = frozenset(place for low, high in fewer for place in range(low, high + 1))
    return Strokes(strikes=strikes, decisions=decisions, smaller=thin, ways=ways, parts=parts)


def _waiting(strikes: Sequence[Strike], given: Sequence[Tone]) -> Iterator[Strike]:
    """The strikes without those that would meet a note of the tune that the left hand has: in that hand, or below it in the other."""
    line = Outline(given)
    for strike in strikes:
        met = line.during(strike.onset, strike.end)
        if not met:
            yield strike
        elif met[0].onset > strike.onset:
            yield replace(strike, end=met[0].onset)
