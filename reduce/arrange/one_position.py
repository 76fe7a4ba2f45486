"""Hands that stay: the tune shared between two hands, and the left hand's own notes, in as few positions as can be.

A position is what the hand reaches without moving, from its lowest key upwards, on a real keyboard.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Collection, Mapping, Sequence
from functools import lru_cache
from itertools import pairwise

from reduce.arrange.counted import times
from reduce.arrange.explain import Ledger, bars_named
from reduce.arrange.line import Tone
from reduce.hands.keyboard import centres, is_black
from reduce.model.decision import Decision
from reduce.model.record import dataclass
from reduce.model.rules import Rules
from reduce.model.score import Bar

_NEVER = 1e9
_HANDS_MEET = 60  # the left hand's highest key in a shared tune: middle C, the last that its staff holds with one ledger line


@dataclass(frozen=True, slots=True, kw_only=True)
class Prices:
    """What sharing a tune costs: ``left`` per note in the left hand, ``switch`` per change of hands, ``quick`` more for one after a note
    shorter than ``quarter`` ticks, ``move`` of a hand inside a phrase and ``shift`` of one where a phrase begins or after a rest."""

    left: float
    switch: float
    quick: float = 0.0
    quarter: int = 0
    move: float
    shift: float


def position(low: int, span: float) -> int:
    """The highest key that a hand of ``span`` millimetres reaches from ``low`` without moving."""
    at = centres()
    width = round(10 * span) + 10
    return bisect_right(at, at[low] + width) - 1


def shared(tune: Sequence[Tone], starts: Collection[int], span: float, lowest: int, prices: Prices) -> tuple[bool, ...]:
    """Whether the left hand has each tone of the tune, by the cheapest path over positions of both hands.

    Args:
        tune: one note at a time.
        starts: onsets (ticks) where a phrase begins.
        span: millimetres that a hand reaches.
        lowest: the lowest key (MIDI) that the left hand plays.
        prices: see `Prices`.
    """
    return _shared(tuple((tone.onset, tone.end, tone.midi) for tone in tune), frozenset(starts), span, lowest, prices)


@lru_cache(maxsize=32)
def _shared(tune: tuple[tuple[int, int, int], ...], starts: frozenset[int], span: float, lowest: int, prices: Prices) -> tuple[bool, ...]:
    """As `shared`, of (onset, end, key): asked anew in each attempt at the same tune."""
    if not tune:
        return ()
    top = max(_HANDS_MEET, *(midi for _, _, midi in tune))  # the right hand has a place of its own above a low tune too
    rights = [(low, position(low, span)) for low in range(52, top + 1) if not is_black(low)]
    lefts = [(low, position(low, span)) for low in range(lowest, _HANDS_MEET) if not is_black(low)]
    pairs = [(right, left) for right in rights for left in lefts if left[1] < right[0] and left[1] <= _HANDS_MEET]
    if not pairs:  # no key of the level lies below middle C
        return (False,) * len(tune)
    states = [(right, left, hand) for right, left in pairs for hand in (False, True)]
    by_midi: dict[int, list[float]] = {}
    for midi in {midi for _, _, midi in tune}:
        row = []
        for right, left, hand in states:
            low, high = left if hand else right
            row.append((prices.left if hand else 0.0) if low <= midi <= high else _NEVER)
        by_midi[midi] = row
    total = by_midi[tune[0][2]]
    back: list[list[int]] = []
    other = [i ^ 1 for i in range(len(states))]  # the same positions, the other hand
    for (before, end, _), (onset, _, midi) in pairwise(tune):
        own = by_midi[midi]
        switch = prices.switch + (prices.quick if onset - before < prices.quarter else 0.0)
        best = min(range(len(states)), key=total.__getitem__)
        moved = total[best] + (prices.shift if onset in starts or onset > end else prices.move)
        fresh, choice = [], []
        for i, price in enumerate(own):
            stay, crossed = total[i], total[other[i]] + switch
            if stay <= crossed and stay <= moved:
                fresh.append(stay + price)
                choice.append(i)
            elif crossed <= moved:
                fresh.append(crossed + price)
                choice.append(other[i])
            else:
                fresh.append(moved + price)
                choice.append(best)
        total = fresh
        back.append(choice)
    place = min(range(len(states)), key=total.__getitem__)
    hands = [states[place][2]]
    for choice in reversed(back):
        place = choice[place]
        hands.append(states[place][2])
    return tuple(reversed(hands))


def too_deep(tune: Sequence[Tone], floor: int, quarter: int) -> tuple[bool, ...]:
    """Whether the left hand has each tone of a tune that is else the right hand's: what lies below ``floor`` (MIDI), run by run.

    The hands change only after a note of a ``quarter`` (ticks) or a rest, so that a run in between stays where it is.
    """
    hands = [tone.midi < floor for tone in tune]
    first = 0
    for index in range(1, len(tune) + 1):
        if index < len(tune) and hands[index] == hands[first]:
            continue
        joints = [(tune[at - 1], tune[at]) for at in (first, index) if 0 < at < len(tune)]
        if hands[first] and any(after.onset - before.onset < quarter for before, after in joints):
            hands[first:index] = [False] * (index - first)
        first = index
    return tuple(hands)


def seated(
    candidates: Sequence[Mapping[int, float]], span: float, lowest: int, highest: int, move: float, top: int = 127
) -> list[tuple[int, tuple[int, int]]]:
    """The key of each harmony and the position it lies in, by the cheapest path: ``candidates`` keys (MIDI) with their prices.

    A hand sits no higher than with its highest key on ``top``, where it can.
    """
    windows = [(low, position(low, span)) for low in range(lowest, highest) if not is_black(low)]
    windows = [window for window in windows if window[1] <= top] or windows[:1]
    picks: list[list[tuple[float, int]]] = []
    for row in candidates:
        inside = [[(price, key) for key, price in row.items() if low <= key <= high] for low, high in windows]
        picks.append([min(found) if found else (_NEVER, -1) for found in inside])
    if not picks:
        return []
    total = [price for price, _ in picks[0]]
    back: list[list[int]] = []
    for row_picks in picks[1:]:
        best = min(range(len(windows)), key=total.__getitem__)
        choice = [i if total[i] <= total[best] + move else best for i in range(len(windows))]
        total = [min(total[i], total[best] + move) + row_picks[i][0] for i in range(len(windows))]
        back.append(choice)
    place = min(range(len(windows)), key=total.__getitem__)
    path = [place]
    for choice in reversed(back):
        place = choice[place]
        path.append(place)
    return [(picks[k][place][1], windows[place]) for k, place in enumerate(reversed(path))]


def told(tune: Sequence[Tone], hands: Sequence[bool], bars: Sequence[Bar], ledger: Ledger, rules: Rules, *, deep: bool = False) -> None:
    """One decision for each run of bars in which the left hand has notes of the tune; ``deep``: too low for the right one's staff."""
    moves, lines = rules.level.moves_per_8_bars, rules.level.ledger_max
    because = (
        f"under the right hand's staff the tune would need more than {lines} ledger line{'s' if lines != 1 else ''}"
        if deep
        else f"both hands then stay in position (this level moves {times(moves)} in eight bars)"
    )
    starts = [bar.start for bar in bars]
    places = sorted({bisect_right(starts, tone.onset) - 1 for tone, left in zip(tune, hands, strict=True) if left})
    runs: list[list[int]] = []
    for place in places:
        if runs and place <= runs[-1][1] + 1:
            runs[-1][1] = place
        else:
            runs.append([place, place])
    for first, last in runs:
        given = [t for t, left in zip(tune, hands, strict=True) if left and bars[first].start <= t.onset < bars[last].end]
        ledger.add(
            Decision(
                id="",
                kind="hand",
                bars=(bars[first].index, bars[last].index),
                onset=given[0].onset,
                hand="left",
                weight="medium",
                certainty=0.7,
                source_notes=tuple(name for tone in given for name in tone.sources),
                sentence=(
                    f"{bars_named(bars[first], bars[last])}: the left hand has {len(given)} low note{'s' if len(given) > 1 else ''} of the "
                    f"tune, because {because}; the chord waits."
                ),
                rule="placement.shared-tune",
                setting="level.ledger-max" if deep else "placement.shared-tune.up-to-level",
                measured=float(len(given)),
                limit=float(lines if deep else moves),
                unit="ledger lines" if deep else "moves in eight bars",
            )
        )
