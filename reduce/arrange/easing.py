"""Where a bar asks for more than the level gives, the stretch is arranged anew, lighter.

The order of relief is the one a teacher tries: a slower tempo for the whole piece, then fewer notes under the tune, then a
quieter left hand.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import field
from typing import TypeVar

from reduce.arrange.chord_sizes import CLOSE, LAST_STROKES, closer, slimmer, within
from reduce.arrange.easing_cause import AS_REPEATED, Cause, causes
from reduce.arrange.explain import Ledger, and_list, bars_named
from reduce.arrange.line import Tone
from reduce.hands.report import BarLoad, Report
from reduce.model.decision import Decision, Rejected
from reduce.model.level import Level
from reduce.model.record import dataclass, replace
from reduce.model.rules import Rules
from reduce.model.score import Bar, Tempo

_Value = TypeVar("_Value")

MOST = LAST_STROKES  # steps of relief for one bar
LAST = 5  # where one thing at a time may be at its limit
LEAST_CHORD = 2  # notes
LAST_CALM = 3  # steps of a calmer tune: no short values, notes on strong beats, one note a bar
_EASED_BY_FEWER_NOTES = frozenset({"reach", "black-keys", "cross-rhythm", "voices", "crowd", "span", "budget"})
_WIDE = frozenset({"reach", "black-keys", "crowd", "span"})
STEPS = (
    "",
    "the chord notes under the tune are left out",
    "chords lose a note and strike only on the beats",
    "the left hand strikes once for each harmony",
    "the left hand holds one key that needs no accidental",
    "the left hand rests",
)
ON_THE_BEATS = "the left hand strikes only on the beats"
AT_HALF_PACE = "the broken chord goes at half its pace"
NO_SIGN = "chords go without the note that needs an accidental and strike only on the beats"
HELD_ON = "the left hand holds on what it has"
KEPT = "the left hand keeps its figure and leaves notes of the harmony out"
KEPT_NO_SIGN = "the left hand keeps its figure and goes without the note that needs an accidental"
BY_TURNS = "the left hand plays in every second bar"
IN_THE_FIGURE = frozenset({STEPS[1], KEPT, KEPT_NO_SIGN, BY_TURNS})  # what is lighter, and no other figure
_NO_OTHER_WAY: Mapping[int, str] = {}


@dataclass(frozen=True, slots=True, kw_only=True)
class Relief:
    """What the next attempt changes: tempi, steps of relief by bar (index in the draft), steps of a calmer tune likewise.

    ``plain``: the bars whose tune comes without the ornamental notes that need a sign; ``why``: what asked for a bar's last step;
    ``small``: the bars that ask for chords of one note less all through; ``slim``: by bar how much lighter a chord has to be: 1 keeps it
    away from the widest reach, 2 takes a note as well.
    """

    tempos: tuple[Tempo, ...]
    ease: Mapping[int, int] = field(default_factory=dict)
    calm: Mapping[int, int] = field(default_factory=dict)
    plain: frozenset[int] = frozenset()
    small: frozenset[int] = frozenset()
    slim: Mapping[int, int] = field(default_factory=dict)
    why: Mapping[int, Cause] = field(default_factory=dict)


def relief(
    report: Report,
    tune: Sequence[BarLoad],
    asked: tuple[Tempo, ...],
    before: Relief,
    rules: Rules,
    beat: float,
    *,
    steady: bool = False,
    calmest: int = 1,
) -> Relief | None:
    """The next thing to try, or None where nothing is left to ease.

    ``report`` is the check of the draft, ``tune`` the load of its tune alone: what the tune by itself asks for, no lighter left hand can
    mend.  ``asked`` are the tempi before any relief; ``beat`` quarter-notes in a felt beat (1.5 in compound time): the level's tempo limits
    count beats.  ``steady``: others play along, so the tempo stays.  ``calmest``: the last step of a calmer tune.
    """
    few = int(rules.number("easing.tempo.few") * len(report.load))
    strict = rules.level.at_limit_per_bar <= 1
    settled = steady or (strict and before.slim)  # where chords were laid anew the tempo was fit for the piece before
    slower = None if settled else _slower(report, asked, before.tempos, rules, beat, few)
    if slower is not None:
        return replace(before, tempos=slower)
    heavy = rules.number("easing.bar.heavy-load")  # of the bar alone: measured against its piece, one choice would touch bars far away
    over = {load.bar for load in report.load if load.over_budget}
    alone = {load.bar for load in tune if load.over_budget} if strict else set[int]()
    signed = {load.bar for load in tune if load.over_budget and "accidentals" in load.at_limit} - before.plain - before.calm.keys()
    hopeless = {bar for bar in alone if before.ease.get(bar, 0)}  # with step 1 the right hand has the tune and nothing else
    hopeless |= {bar for bar in over if strict and before.ease.get(bar, 0) == before.ease.get(bar - 1, 0) == LAST}
    needy = {load.bar for load in report.load if load.total > heavy} | (over - hopeless)
    leeway = rules.numbers("easing.bar.leeway")[rules.level.order - 1]
    quick = {b.bar for b in report.breaches if b.what in ("speed", "speed-together") and b.measured > leeway * b.limit}
    pressed = quick | {b.bar for b in report.breaches if b.what in _EASED_BY_FEWER_NOTES and b.bar not in hopeless}
    needy |= pressed
    found = causes(report, rules.level, _EASED_BY_FEWER_NOTES | {"speed", "speed-together"}, heavy)
    steps = dict(before.ease)
    beyond = {b.bar for b in report.breaches if b.what in _WIDE}
    if strict:
        slim = closer(report.load, before.ease, before.slim, hopeless) if rules.level.notes_left > LEAST_CHORD else dict(before.slim)
    else:
        slim = slimmer(report.load, before.ease, before.slim, beyond, heavy, rules.level)
    for bar in needy - {bar for bar in slim if slim[bar] > before.slim.get(bar, 0)}:
        most = (
            MOST if not strict else LAST if bar in over else MOST if bar in pressed else 1
        )  # else one bar would leave its section's figure
        steps[bar] = min(most, steps.get(bar, 0) + 1)
        steps[bar] = max(steps[bar], before.ease.get(bar, 0))
    full = {load.bar for load in report.load if load.over_budget and "notes at once" in load.at_limit} - hopeless
    spare = strict and rules.level.notes_left > LEAST_CHORD
    wide = frozenset(bar for bar in full if spare and before.ease.get(bar, 0) == 1 and steps[bar] == 2)
    small = before.small or wide
    if not before.small:  # smaller chords everywhere come before single bars with smaller ones
        steps |= dict.fromkeys(wide, 1)
    for bar in over - hopeless:  # nothing left to take away here: the hand comes from too far
        if strict and before.ease.get(bar, 0) == LAST and bar:
            steps[bar - 1] = min(LAST, steps.get(bar - 1, 0) + 1)
    calm = dict(before.calm)
    for bar in hopeless - signed:
        calm[bar] = min(calmest, calm.get(bar, 0) + 1)
    plain = (before.plain - calm.keys()) | (hopeless & signed)  # where that is not enough a calmer tune is tried instead
    was = (dict(before.ease), dict(before.calm), before.plain, before.small, dict(before.slim))
    if (steps, calm, plain, small, slim) != was:
        risen = {bar for bar, step in steps.items() if step > before.ease.get(bar, 0)}
        risen |= {bar for bar, step in slim.items() if step > before.slim.get(bar, 0)}
        why = {**before.why, **{bar: cause for bar, cause in found.items() if bar in risen}}
        return replace(before, ease=steps, calm=calm, plain=plain, small=small, slim=slim, why=why)
    slower = _slower(report, asked, before.tempos, rules, beat, few // 4) if strict and not steady else None
    return replace(before, tempos=slower) if slower is not None else None


def slowest(asked: tuple[Tempo, ...], rules: Rules, beat: float) -> float:
    """The slowest tempo, quarters a minute, that keeps the character of a piece with these tempi; 0 where none has a number."""
    first = next((t.quarters for t in asked if t.quarters), 0.0) or 0.0
    step, share = rules.number("easing.tempo.step"), rules.numbers("easing.tempo.least")[rules.level.order - 1]
    fastest, slow = rules.level.tempo_max * beat, step * -(-first * share // step)  # a piece felt in whole bars is counted in beats here
    return min(first, max(rules.level.tempo_min * beat, min(slow, fastest)))


def _slower(
    report: Report, asked: tuple[Tempo, ...], tempos: tuple[Tempo, ...], rules: Rules, beat: float, few: int
) -> tuple[Tempo, ...] | None:
    """The tempi slowed until all but ``few`` bars are inside the level's notes a second, or None.

    Those few are thinned instead, and no piece is slowed out of its character: not below the level's slowest tempo, nor below a share
    of the tempo that was asked for.
    """
    worst: dict[int, float] = {}
    for b in report.breaches:
        if b.what in ("speed", "speed-together") and b.limit > 0:
            worst[b.bar] = max(worst.get(b.bar, 1.0), b.measured / b.limit)
    if rules.level.at_limit_per_bar <= 1:  # slower, such a bar has one thing at its limit less
        near = rules.number("load.bar.near-limit") - 0.01
        for load in report.load:
            if load.over_budget and "speed" in load.at_limit:
                worst[load.bar] = max(worst.get(load.bar, 1.0), dict(load.parts)["speed"] / near)
    excess = sorted(worst.values(), reverse=True)[few:]
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
    state: Relief,
    bars: tuple[Bar, ...],
    rules: Rules,
    tune: Sequence[Tone],
    ways: Mapping[int, str] = _NO_OTHER_WAY,
) -> None:
    """What was eased in the bars and why, one decision a run of bars.

    ``tune`` is what it was made of; ``ways`` tells what is played in a bar where it is not what the step says.
    """
    level, ease = rules.level, state.ease
    for (first, last), step in _runs(state.calm):
        if step > 1:
            kept = "its notes on the strong beats stay" if step == 2 else "the first note of each bar stays"
            ledger.add(
                Decision(
                    id="",
                    kind="rhythm",
                    bars=(bars[first].index, bars[last].index),
                    weight="medium",
                    certainty=0.5,
                    hand="right",
                    sentence=(
                        f"{bars_named(bars[first], bars[last])}: of the tune only {kept}, because in every key tried two things were at "
                        "the limit together; other notes of it are lost."
                    ),
                    rule="easing.bar",
                    setting="level.at-limit-per-bar",
                    limit=float(level.at_limit_per_bar),
                    unit="things at the limit",
                    source_notes=tuple(
                        source for tone in tune if bars[first].start <= tone.onset < bars[last].end for source in tone.sources
                    ),
                )
            )
    _left_over(ledger, report, bars, level)
    _smaller_chords(ledger, state, bars, level)
    asked = {bar: state.why.get(bar, AS_REPEATED) for bar in (*ease, *state.slim)}
    _closer(ledger, state, asked, bars, rules)
    turns = [bar for bar in sorted(ease) if ways.get(bar) == BY_TURNS]
    _by_turns(ledger, turns, asked, bars, level)
    rest = {bar: (step, asked[bar].setting, ways.get(bar, "")) for bar, step in ease.items() if bar not in turns}
    for (first, last), (step, _, way) in _runs(rest):
        cause = max((asked[bar] for bar in range(first, last + 1)), key=lambda cause: cause.excess)
        lighter = way or (ON_THE_BEATS if step == 2 and level.at_limit_per_bar > 1 else STEPS[step])
        ledger.add(
            Decision(
                id="",
                kind="chord" if step < 3 or way in IN_THE_FIGURE else "figure",
                bars=(bars[first].index, bars[last].index),
                weight="medium",
                certainty=0.7,
                sentence=f"{bars_named(bars[first], bars[last])}: {lighter}, because {cause.words}; the sound is thinner.",
                rule="easing.bar",
                setting=cause.setting,
                measured=cause.measured,
                limit=cause.limit,
                unit=cause.unit,
            )
        )


def _by_turns(ledger: Ledger, turns: Sequence[int], asked: Mapping[int, Cause], bars: tuple[Bar, ...], level: Level) -> None:
    """That the left hand plays in every second bar, one decision a stretch."""
    rows: list[list[int]] = []
    for bar in turns:
        if rows and rows[-1][-1] == bar - 2:
            rows[-1].append(bar)
        else:
            rows.append([bar])
    for row in rows:
        first, last, cause = row[0] - 1, row[-1], max((asked[bar] for bar in row), key=lambda cause: cause.excess)
        count = f"{len(row)} of {last - first + 1} bars"
        ledger.add(
            Decision(
                id="",
                kind="chord",
                bars=(bars[first].index, bars[last].index),
                weight="medium",
                certainty=0.7,
                hand="left",
                sentence=(
                    f"{bars_named(bars[first], bars[last])}: {BY_TURNS}, because in {count} {cause.words}; the sound is thinner, the "
                    "pattern is one."
                ),
                rule="easing.figures",
                setting=cause.setting,
                measured=cause.measured,
                limit=cause.limit,
                unit=cause.unit,
                rejected=(Rejected("the figure in every bar", f"{count} would ask for too much at once"),),
            )
        )


def _closer(ledger: Ledger, state: Relief, asked: Mapping[int, Cause], bars: tuple[Bar, ...], rules: Rules) -> None:
    """That chords lie closer, with all their notes, one decision a run of bars."""
    for (first, last), _ in _runs({bar: step for bar, step in state.slim.items() if step == CLOSE and state.ease.get(bar, 0) < 2}):
        cause = max((asked[bar] for bar in range(first, last + 1)), key=lambda cause: cause.excess)
        ledger.add(
            Decision(
                id="",
                kind="chord",
                bars=(bars[first].index, bars[last].index),
                weight="small",
                certainty=0.7,
                hand="left",
                sentence=(
                    f"{bars_named(bars[first], bars[last])}: the left hand's chords lie within {within(rules)} semitones, "
                    f"because {cause.words}."
                ),
                rule="easing.bar",
                setting=cause.setting,
                measured=cause.measured,
                limit=cause.limit,
                unit=cause.unit,
            )
        )


def _smaller_chords(ledger: Ledger, state: Relief, bars: tuple[Bar, ...], level: Level) -> None:
    """That all chords have one note less, one decision."""
    if not state.small:
        return
    count, notes = len(state.small), level.notes_left - 1
    which = f"{count} bars" if count > 1 else f"bar {bars[min(state.small)].number}"
    ledger.add(
        Decision(
            id="",
            kind="chord",
            bars=(bars[0].index, bars[-1].index),
            weight="medium",
            certainty=0.7,
            hand="left",
            sentence=(
                f"{bars_named(bars[0], bars[-1])}: the left hand's chords have {notes} notes all through, because with {notes + 1} notes "
                f"{which} would have more than one thing at the limit (this level allows {level.at_limit_per_bar})."
            ),
            rule="easing.bar",
            setting="level.at-limit-per-bar",
            measured=2.0,
            limit=float(level.at_limit_per_bar),
            unit="things at the limit",
        )
    )


def _left_over(ledger: Ledger, report: Report, bars: tuple[Bar, ...], level: Level) -> None:
    """The bars that stay above the level's budget when nothing is left to ease, one decision for each pair of limits, and why."""
    if level.at_limit_per_bar > 1:
        return
    rows: dict[tuple[str, ...], list[int]] = {}
    for load in report.load:
        if load.over_budget:
            rows.setdefault(load.at_limit, []).append(load.bar)
    for limits, found in rows.items():
        names = and_list([bars[bar].number for bar in found], 12)
        ledger.add(
            Decision(
                id="",
                kind="rhythm",
                bars=(bars[found[0]].index, bars[found[-1]].index),
                weight="medium",
                certainty=0.4,
                sentence=(
                    f"{'Bars' if len(found) > 1 else 'Bar'} {names}: {and_list(limits)} stay at the limit together (this level allows "
                    f"{level.at_limit_per_bar}), because what is left of the tune asks for them; teach these bars first or leave them out."
                ),
                rule="easing.bar",
                setting="level.at-limit-per-bar",
                measured=float(len(limits)),
                limit=float(level.at_limit_per_bar),
                unit="things at the limit",
            )
        )


def _runs(steps: Mapping[int, _Value]) -> list[tuple[tuple[int, int], _Value]]:
    """((first, last), value) for neighbouring bars with one value."""
    out: list[tuple[tuple[int, int], _Value]] = []
    for bar in sorted(steps):
        if out and out[-1][0][1] == bar - 1 and out[-1][1] == steps[bar]:
            out[-1] = ((out[-1][0][0], bar), steps[bar])
        else:
            out.append(((bar, bar), steps[bar]))
    return out
