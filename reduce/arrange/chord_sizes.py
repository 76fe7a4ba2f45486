"""Chords of one size: where bars cannot bear the level's fullest chord, they lie closer, or all around them have a note less."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from math import ceil

from reduce.arrange.desk import Desk
from reduce.arrange.echoes import alike
from reduce.arrange.explain import bars_named
from reduce.arrange.figures import Strike
from reduce.hands.report import BarLoad
from reduce.model.decision import Decision, Rejected
from reduce.model.level import Level
from reduce.model.record import replace
from reduce.model.rules import Rules

CLOSE, SMALLER = 1, 2
"""How much lighter a bar's chords are: kept away from the widest reach, or with a note less as well."""

LAST_STROKES = 3
"""The last step of fewer strokes where more than one thing may be at its limit."""

_REACH, _KEYS = "span", "notes at once"
_PLACES = frozenset({_REACH, "shifts", "leaps", "ledger lines"})
_NEVER = 1e9
_ROUNDS = 4  # of extending stretches to the bars that repeat them


def slimmer(
    loads: Sequence[BarLoad], ease: Mapping[int, int], slim: Mapping[int, int], wide: Collection[int], heavy: float, level: Level
) -> dict[int, int]:
    """How much lighter each bar's chords have to be, by what else is at its limit there; ``slim`` is what was tried.

    A chord in close position is tried first.  Where more than chords is too much, fewer strokes come first, and in bars that still
    have notes under the tune (``ease`` 0) chords keep all they have.  ``wide`` are bars whose chords no hand of the level takes, ``heavy``
    is the load above which a bar is eased.
    """
    found = dict(slim)
    for load in loads:
        now, most = slim.get(load.bar, 0), level.at_limit_per_bar
        asked = [name for name in load.at_limit if name in (_REACH, _KEYS)]
        others = len(load.at_limit) - len(asked)
        if not ease.get(load.bar, 0):
            continue
        last = ease[load.bar] >= LAST_STROKES  # a note less may be a sign less, another place no leap
        helps = load.bar in wide or (load.total > heavy and _KEYS in asked) or (load.over_budget and (last or (asked and others <= most)))
        if helps and now < SMALLER:
            found[load.bar] = now + 1
    return found


def closer(loads: Sequence[BarLoad], ease: Mapping[int, int], slim: Mapping[int, int], hopeless: Collection[int]) -> dict[int, int]:
    """The bars whose chords lie close where one thing at a time may be at its limit, and another place may mend one of those that are.

    ``slim`` and ``ease`` are what was tried, ``hopeless`` the bars whose tune alone asks for too much.
    """
    bars = {load.bar for load in loads if load.over_budget and ease.get(load.bar, 0) and not _PLACES.isdisjoint(load.at_limit)}
    return {**dict.fromkeys(bars - set(hopeless), CLOSE), **slim}


def within(rules: Rules) -> int:
    """The widest chord of the left hand, in semitones, whose reach is not at the level's limit."""
    return ceil(rules.number("load.bar.near-limit") * rules.level.span_left) - 1


def smaller(desk: Desk, strikes: Sequence[Strike], sections: Collection[int]) -> tuple[tuple[int, int], ...]:
    """The stretches, first and last bar (position), whose chords have a note less, by the cheapest path: all bars that need it are in one.

    A bar that could bear the full chord and has it not costs one bar; where the size changes costs more, least where a phrase begins or
    one of ``sections`` does (positions).  Bars that repeat each other have chords of one size.
    """
    needs = {place for place, step in desk.slim.items() if step >= SMALLER}
    full = _full(desk, strikes)
    if not needs & full:
        return ()
    phrases = {desk.place(phrase.start) for phrase in desk.texture.phrases if desk.start <= phrase.start < desk.end}
    found: frozenset[int] = frozenset()
    for _ in range(_ROUNDS):
        found = stretches(len(desk.bars), needs, full, phrases | set(sections), desk.rules)
        wider = {place for place in alike(dict.fromkeys(found, 1), desk.echoes) if place in full}
        if wider <= found:
            break
        needs |= wider
    runs = [[place for place in run if place in full] for run in _runs(found)]
    return tuple((run[0], run[-1]) for run in runs if run)


def stretches(count: int, needs: Collection[int], full: Collection[int], joints: Collection[int], rules: Rules) -> frozenset[int]:
    """The bars of ``count`` that have smaller chords: those in ``needs`` among ``full``, the bars with full chords, and as few others."""
    change, joint = rules.number("easing.chords.change-bars"), rules.number("easing.chords.joint-bars")
    least = min(rules.whole("easing.chords.bars-min"), count)
    total = {(0, 1): 0.0, (1, 1): 0.0}  # by size (1 smaller) and how many bars it has been kept
    back: list[dict[tuple[int, int], tuple[int, int]]] = []
    for place in range(count):
        free = place not in full
        price = (0.0 if free or place not in needs else _NEVER, 0.0 if free or place in needs else 1.0)
        if place:
            switch = change + (0.0 if place in joints else joint)
            now: dict[tuple[int, int], float] = {}
            arrive: dict[tuple[int, int], tuple[int, int]] = {}
            for (size, kept), so_far in total.items():
                ways = [((size, min(least, kept + 1)), so_far)]
                if kept >= least:
                    ways.append(((1 - size, 1), so_far + switch))
                for state, cost in ways:
                    if cost < now.get(state, _NEVER * count):
                        now[state], arrive[state] = cost, (size, kept)
            total = now
            back.append(arrive)
        total = {state: cost + price[state[0]] for state, cost in total.items()}
    last = {state: cost for state, cost in total.items() if state[1] >= least}
    state = min(last, key=lambda state: (last[state], state))
    path = [state]
    for arrive in reversed(back):
        state = arrive[state]
        path.append(state)
    return frozenset(place for place, (size, _) in enumerate(reversed(path)) if size)


def cut(desk: Desk, strikes: Sequence[Strike], runs: Sequence[tuple[int, int]]) -> tuple[Strike, ...]:
    """The strikes with the full chords of these stretches one key smaller."""
    places = {place for first, last in runs for place in range(first, last + 1)}
    most = desk.rules.level.notes_left - 1

    def lighter(strike: Strike) -> bool:
        return strike.hand == "left" and strike.kind == "chord" and strike.size > most and desk.place(strike.onset) in places

    return tuple(replace(strike, size=most) if lighter(strike) else strike for strike in strikes)


def told(desk: Desk, strikes: Sequence[Strike], runs: Sequence[tuple[int, int]]) -> tuple[Decision, ...]:
    """One decision for each stretch of smaller chords, and how many of its bars could not bear the full ones of ``strikes``."""
    full = _full(desk, strikes)
    level = desk.rules.level
    most, notes = level.at_limit_per_bar, level.notes_left
    out = []
    for low, high in runs:
        row = [place for place in range(low, high + 1) if place in full]
        needs = sum(desk.slim.get(place, 0) >= SMALLER for place in row)
        why = f"{needs} of {len(row)} bars would ask for too much at once"
        because = f"with {notes} notes {why}" if needs else "the bars that they repeat have"
        first, last = desk.bars[low], desk.bars[high]
        out.append(
            Decision(
                id="",
                kind="chord",
                bars=(first.index, last.index),
                onset=first.start,
                hand="left",
                weight="medium",
                certainty=0.7,
                sentence=(
                    f"{bars_named(first, last)}: the left hand's chords have {notes - 1} notes all through, because {because}; the "
                    "sound is thinner."
                ),
                rule="easing.chords",
                setting="level.at-limit-per-bar",
                measured=float(most + 1),
                limit=float(most),
                unit="things at the limit",
                rejected=(Rejected(f"chords of {notes} notes", why),) if needs else (),
            )
        )
    return tuple(out)


def _full(desk: Desk, strikes: Sequence[Strike]) -> set[int]:
    """The bars (positions) whose left hand has a chord with all the keys of the level."""
    most = desk.rules.level.notes_left
    return {desk.place(s.onset) for s in strikes if s.hand == "left" and s.kind == "chord" and s.size >= most}


def _runs(places: Collection[int]) -> list[list[int]]:
    runs: list[list[int]] = []
    for place in sorted(places):
        if runs and place == runs[-1][-1] + 1:
            runs[-1].append(place)
        else:
            runs.append([place])
    return runs
