"""Which chord notes each hand holds: candidate grips for every strike and the cheapest path from grip to grip.

Hard limits (reach, notes at once, keys of the other hand) decide which grips exist at all; taste is a price.
The price of the runner-up is kept, since it is the explanation.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import field
from functools import lru_cache
from itertools import combinations, pairwise

from reduce.model.record import dataclass

_KEEP = 8  # grips kept for each strike
_POOL = 6  # single keys from which they are built


@dataclass(frozen=True, slots=True, kw_only=True)
class Slot:
    """One strike that waits for its inner notes.

    ``low``..``high`` are the keys that are free for them; ``outer`` the key of the hand's own outer line that is down (or None),
    ``outer_struck`` whether it goes down at this very moment.  ``gains`` values pitch classes, ``exact`` single keys
    (the source has them just there), ``most`` is the number of inner notes the hand may add.
    """

    onset: int
    end: int
    low: int
    high: int
    span: int
    outer: int | None
    outer_struck: bool
    most: int
    gains: dict[int, float]
    exact: dict[int, float] = field(default_factory=dict)
    required: int = 0  # fewest inner notes wanted
    floor: int | None = None  # pitch class that should lie lowest (the source has it there)
    home: float | None = None  # key that the middle of the grip is drawn to
    price_per_note: float = 0.12
    seconds: float = 1.0  # since the hand's strike before


@dataclass(frozen=True, slots=True)
class Grip:
    """Inner keys, low to high, chosen for a slot, with the margin over the runner-up."""

    keys: tuple[int, ...]
    runner_up: tuple[int, ...] = ()
    margin: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Taste:
    """Prices of the voicing search, from ``rules/voicing.toml``."""

    exact: float
    repeat: float  # of a pitch class inside the hand
    mud: float  # per semitone below the low-interval limit
    travel: float  # per semitone that a voice moves
    leap: float  # per semitone and second that the hand moves
    crowd: float  # per note beyond two when strikes follow fast
    floor: float  # another note at the bottom than the source has
    gap: float  # per semitone beyond an octave between neighbours
    away: float  # per semitone between the middle of the grip and its home
    limits: tuple[int, ...]  # lowest lower key for intervals of 0..12 semitones
    never: tuple[int, ...]  # the same, deeper: below this there is no such grip


def grips(slots: Sequence[Slot], taste: Taste, playable: Callable[[tuple[int, ...]], bool]) -> tuple[Grip, ...]:
    """The best grip for each slot over the whole piece.

    Args:
        slots: the strikes of one hand in order.
        taste: prices.
        playable: whether a hand can take these keys (low to high) at once, the outer key included.
    """
    if not slots:
        return ()
    memory: dict[tuple[object, ...], list[tuple[float, tuple[int, ...]]]] = {}
    layers: list[list[tuple[float, tuple[int, ...]]]] = []
    for slot in slots:
        key = (
            slot.low, slot.high, slot.outer, slot.outer_struck, slot.most, slot.required, slot.price_per_note, slot.floor, slot.home,
            tuple(sorted(slot.gains.items())), tuple(sorted(slot.exact.items())),
        )  # fmt: skip
        found = memory.get(key)
        if found is None:
            found = memory[key] = _candidates(slot, taste, playable)
        layers.append(found)

    best = [price for price, _ in layers[0]]
    back: list[list[int]] = [[-1] * len(best)]
    for index in range(1, len(slots)):
        slot, before, layer = slots[index], layers[index - 1], layers[index]
        now: list[float] = []
        arrive: list[int] = []
        hurry = 1.0 / slot.seconds if slot.seconds > 0.05 else 20.0
        # a hand that starts from a rest moves freely: only what is struck in close succession is priced
        travel = taste.travel * min(1.0, hurry)
        leap = taste.leap * hurry
        before_outer, outer = slots[index - 1].outer, slot.outer
        middles = [_middle(earlier, before_outer) for _, earlier in before]
        for price, keys in layer:
            here = _middle(keys, outer)
            lowest, chosen = 1e18, 0
            for j, (_, earlier) in enumerate(before):
                cost = best[j]
                if keys != earlier:
                    for distance in _ways(earlier, keys):
                        cost += travel * distance
                    there = middles[j]
                    if here is not None and there is not None:
                        move = abs(here - there) / 2
                        if move > 7:
                            cost += leap * (move - 7)
                if cost < lowest:
                    lowest, chosen = cost, j
            now.append(lowest + price)
            arrive.append(chosen)
        best = now
        back.append(arrive)
    state = min(range(len(best)), key=best.__getitem__)
    chosen_states = [state]
    for arrive in reversed(back[1:]):
        state = arrive[state]
        chosen_states.append(state)
    chosen_states.reverse()
    out = []
    for layer, s in zip(layers, chosen_states, strict=True):
        others = [entry for i, entry in enumerate(layer) if i != s]
        second = min(others, default=None)
        out.append(Grip(layer[s][1], second[1] if second else (), (second[0] - layer[s][0]) if second else 0.0))
    return tuple(out)


def _middle(keys: tuple[int, ...], outer: int | None) -> int | None:
    """Twice the middle of what the hand takes, the outer key included."""
    if not keys:
        return None if outer is None else 2 * outer
    low, high = keys[0], keys[-1]
    return low + high if outer is None else min(low, outer) + max(high, outer)


@lru_cache(maxsize=1 << 14)
def _ways(earlier: tuple[int, ...], keys: tuple[int, ...]) -> tuple[int, ...]:
    """How far each key is from the nearest of the earlier ones, semitones; nothing where either are none."""
    return tuple([min([abs(key - one) for one in earlier]) for key in keys]) if earlier else ()


def _candidates(slot: Slot, taste: Taste, playable: Callable[[tuple[int, ...]], bool]) -> list[tuple[float, tuple[int, ...]]]:
    """Grips for one slot with their prices (negative: worth having), cheapest first."""
    gains, outer = slot.gains, slot.outer
    pool: list[tuple[float, int]] = []
    if slot.most > 0:
        for key in range(slot.low, slot.high + 1):
            gain = gains.get(key % 12, 0.0)
            if gain <= 0.0:
                continue
            pool.append((gain + slot.exact.get(key, 0.0) * taste.exact, key))
        pool.sort(key=lambda entry: (-entry[0], entry[1]))
        pool = _varied(pool)
    found: list[tuple[float, tuple[int, ...]]] = [(0.3 * slot.required, ())]
    keys_only = sorted(key for _, key in pool)
    worth = {key: gain for gain, key in pool}
    for size in range(1, min(slot.most, len(keys_only)) + 1):
        for keys in combinations(keys_only, size):
            if keys[-1] - keys[0] > slot.span:
                continue
            everything = keys
            if outer is not None:
                everything = (outer, *keys) if outer < keys[0] else (*keys, outer)
                if everything[-1] - everything[0] > slot.span:
                    continue
            if any(b - a <= 12 and a < taste.never[b - a] for a, b in pairwise(everything)) or not playable(everything):
                continue
            price = slot.price_per_note * size + 0.3 * max(0, slot.required - size)
            if slot.floor is not None and everything[0] % 12 != slot.floor:
                price += taste.floor
            if slot.home is not None:
                price += taste.away * abs((everything[0] + everything[-1]) / 2 - slot.home)
            heard = set()
            for key in keys:
                pc = key % 12
                if pc in heard:
                    price += taste.repeat - 0.25 * gains[pc]
                else:
                    heard.add(pc)
                    price -= worth[key]
            lower = everything[0]
            for upper in everything[1:]:
                interval = upper - lower
                if interval <= 12:
                    deep = taste.limits[interval] - lower
                    if deep > 0:
                        price += taste.mud * deep
                elif interval > 12:
                    price += taste.gap * (interval - 12)
                if interval <= 2:
                    price += taste.mud * 2
                lower = upper
            if size > 2:
                price += taste.crowd * (size - 2) * (1.0 if slot.seconds < 0.4 else 0.25)
            found.append((price, keys))
    found.sort()
    return found[:_KEEP]


def _varied(pool: list[tuple[float, int]]) -> list[tuple[float, int]]:
    """The most valuable keys, at most two of one pitch class, so that small pools still spell the chord."""
    kept: list[tuple[float, int]] = []
    count: dict[int, int] = {}
    for gain, key in pool:
        if count.get(key % 12, 0) < 2:
            count[key % 12] = count.get(key % 12, 0) + 1
            kept.append((gain, key))
            if len(kept) == _POOL + 2:
                break
    return kept
