"""Where a bar asks for more than the level gives, the stretch is arranged anew, lighter.

The order of relief is the one a teacher tries: a slower tempo for the whole piece, then fewer notes under the tune, then a
quieter left hand.
"""

from __future__ import annotations

from collections.abc import Mapping
from itertools import groupby

from reduce.arrange.explain import Ledger, and_list, bars_named
from reduce.hands.report import Report
from reduce.model.decision import Decision, Rejected
from reduce.model.record import dataclass, replace
from reduce.model.rules import Rules
from reduce.model.score import Bar, Tempo

MOST = 3  # steps of relief for one bar
_EASED_BY_FEWER_NOTES = frozenset({"reach", "black-keys", "cross-rhythm", "voices", "crowd", "span", "budget"})
_STEPS = (
    "",
    "the chord notes under the tune are left out",
    "chords lose a note and strike only on the beats",
    "the left hand strikes once for each harmony",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Relief:
    """What the next attempt changes: tempi, and steps of relief by bar index (of the draft's bars)."""

    tempos: tuple[Tempo, ...]
    ease: Mapping[int, int]


def relief(
    report: Report,
    asked: tuple[Tempo, ...],
    tempos: tuple[Tempo, ...],
    ease: Mapping[int, int],
    rules: Rules,
    beat: float,
    *,
    steady: bool = False,
) -> Relief | None:
    """The next thing to try, or None where nothing is left to ease.

    ``asked`` are the tempi before any relief; ``beat`` quarter-notes in a felt beat (1.5 in compound time): the level's tempo limits count
    beats.  ``steady``: others play along, so the tempo stays.
    """
    slower = None if steady else _slower(report, asked, tempos, rules, beat)
    if slower is not None:
        return Relief(tempos=slower, ease=ease)
    heavy = rules.number("easing.bar.heavy-load")  # of the bar alone: measured against its piece, one choice would touch bars far away
    needy = {load.bar for load in report.load if load.over_budget or load.total > heavy}
    leeway = rules.numbers("easing.bar.leeway")[rules.level.order - 1]
    quick = {b.bar for b in report.breaches if b.what in ("speed", "speed-together") and b.measured > leeway * b.limit}
    needy |= quick | {b.bar for b in report.breaches if b.what in _EASED_BY_FEWER_NOTES}
    steps = dict(ease)
    for bar in needy:
        steps[bar] = min(MOST, steps.get(bar, 0) + 1)
    return Relief(tempos=tempos, ease=steps) if steps != dict(ease) else None


def slowest(asked: tuple[Tempo, ...], rules: Rules, beat: float) -> float:
    """The slowest tempo, quarters a minute, that keeps the character of a piece with these tempi; 0 where none has a number."""
    first = next((t.quarters for t in asked if t.quarters), 0.0) or 0.0
    step, share = rules.number("easing.tempo.step"), rules.numbers("easing.tempo.least")[rules.level.order - 1]
    return min(first, max(rules.level.tempo_min * beat, step * -(-first * share // step)))


def _slower(report: Report, asked: tuple[Tempo, ...], tempos: tuple[Tempo, ...], rules: Rules, beat: float) -> tuple[Tempo, ...] | None:
    """The tempi slowed until most bars are inside the level's notes a second, or None.

    A few fast bars are thinned instead, and no piece is slowed out of its character: not below the level's slowest tempo, nor below a share
    of the tempo that was asked for.
    """
    worst: dict[int, float] = {}
    for b in report.breaches:
        if b.what in ("speed", "speed-together") and b.limit > 0:
            worst[b.bar] = max(worst.get(b.bar, 1.0), b.measured / b.limit)
    excess = sorted(worst.values(), reverse=True)[int(rules.number("easing.tempo.few") * len(report.load)) :]
    speeds = [t.quarters for t in tempos if t.quarters]
    if not excess or not speeds:
        return None
    step, least = rules.number("easing.tempo.step"), slowest(asked, rules, beat)
    chosen = max(least, step * (speeds[0] / excess[0] // step))
    if chosen >= speeds[0] - 0.5:
        return None
    ratio = chosen / speeds[0]
    return tuple(replace(t, quarters=max(least, round(t.quarters * ratio))) if t.quarters else t for t in tempos)


def explained(
    ledger: Ledger,
    report: Report,
    before: tuple[Tempo, ...],
    after: tuple[Tempo, ...],
    ease: Mapping[int, int],
    bars: tuple[Bar, ...],
    rules: Rules,
) -> None:
    """What was eased and why, one decision a run of bars."""
    level = rules.level
    old = next((t.quarters for t in before if t.quarters), None)
    new = next((t.quarters for t in after if t.quarters), None)
    if old and new and new < old:
        ledger.add(
            Decision(
                id="",
                kind="tempo",
                bars=(bars[0].index, bars[-1].index),
                weight="big",
                certainty=0.8,
                sentence=(
                    f"The tempo is {new:g} quarters a minute instead of {old:g}, because at {old:g} the hands would play more than "
                    f"{level.notes_per_second_both:g} notes a second (this level's limit); the piece loses some drive."
                ),
                rule="easing.tempo",
                setting="level.notes-per-second-both",
                measured=float(old),
                limit=float(new),
                unit="quarters a minute",
                rejected=(Rejected(f"{old:g} a minute", "too fast for the level"),),
            )
        )
    over = {load.bar: load.at_limit for load in report.load}
    for step, run in groupby(_runs(ease), key=lambda pair: pair[1]):
        for first, last in (span for span, _ in run):
            limits = sorted({name for bar in range(first, last + 1) for name in over.get(bar, ())})
            because = f"{and_list(limits)} would be at the limit together" if len(limits) > 1 else "the bar would stand out as too hard"
            ledger.add(
                Decision(
                    id="",
                    kind="chord" if step < 3 else "figure",
                    bars=(bars[first].index, bars[last].index),
                    weight="medium",
                    certainty=0.7,
                    sentence=(
                        f"{bars_named(bars[first], bars[last])}: {_STEPS[step]}, because {because} "
                        f"(this level allows {level.at_limit_per_bar} at once); the sound is thinner."
                    ),
                    rule="easing.bar",
                    setting="level.at-limit-per-bar",
                    limit=float(level.at_limit_per_bar),
                    unit="things at the limit",
                )
            )


def _runs(ease: Mapping[int, int]) -> list[tuple[tuple[int, int], int]]:
    """((first, last), step) for neighbouring bars with one step of relief."""
    out: list[tuple[tuple[int, int], int]] = []
    for bar in sorted(ease):
        if out and out[-1][0][1] == bar - 1 and out[-1][1] == ease[bar]:
            out[-1] = ((out[-1][0][0], bar), ease[bar])
        else:
            out.append(((bar, bar), ease[bar]))
    return out
