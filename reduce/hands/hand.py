"""What one hand can take at once.

A hand is its *span*: the widest pair of keys, centre to centre, that thumb and little finger take in comfort.  Every other pair
of fingers has its own limit, from the tables for small, medium and large hands of Balliauw, Herremans, Palhazi Cuervo &
Sörensen (2017, ITOR 24(3)).  Their hands take an octave, a ninth and a tenth at most, in comfort two steps (24 mm) less: that is
the span by which a hand finds its place between the tables; beyond them the limits are scaled with it.  Thumb and little finger
are held to what is comfortable, the other pairs to what is practical.  A chord can be played if some choice of fingers, in the
order of the hand, keeps every pair inside its limits.

The published lower limits count keys and stay as printed; the upper ones are taken in millimetres, since that is what a hand feels.
"""

from __future__ import annotations

from functools import lru_cache
from itertools import combinations, pairwise

from reduce.hands.keyboard import BLACK, STANDARD_OCTAVE, STEP, centres
from reduce.model.draft import Hand
from reduce.model.pitch import in_key
from reduce.model.record import dataclass

PAIRS = ((1, 2), (1, 3), (1, 4), (1, 5), (2, 3), (2, 4), (2, 5), (3, 4), (3, 5), (4, 5))
# Table rows in the order of PAIRS: MinRel, MaxRel, MaxPrac in keyboard steps of a fourteenth of an octave, per hand size.
_SMALL = ((1, 3, 10), (3, 6, 12), (5, 8, 13), (7, 10, 14), (1, 2, 6), (3, 4, 8), (5, 6, 10), (1, 2, 4), (3, 4, 8), (1, 2, 6))
_MEDIUM = ((1, 5, 10), (3, 9, 14), (5, 11, 15), (7, 12, 16), (1, 2, 7), (3, 4, 8), (5, 6, 12), (1, 2, 4), (3, 4, 8), (1, 2, 6))
_LARGE = ((1, 6, 11), (3, 9, 15), (5, 11, 16), (7, 12, 18), (1, 2, 7), (3, 4, 8), (5, 6, 12), (1, 2, 4), (3, 4, 8), (1, 2, 6))
_SIZES = ((14, _SMALL), (16, _MEDIUM), (18, _LARGE))
_CLOSEST = {(2, 5): 2}  # MinPrac of a pair that is not crossed, where it is more than one step
_COMFORT = 2  # steps that MaxComf stays below MaxPrac (same source)
_GRACE = 10  # tenths of a millimetre: a span given in whole millimetres takes the interval it was named after
_STEP_TENTHS = 10 * STANDARD_OCTAVE / 14  # the published steps, on the keyboard that they were made for


@dataclass(frozen=True, slots=True)
class PairLimit:
    """Limits of two fingers in tenths of a millimetre, ``closest`` and ``easy_from`` in keyboard steps."""

    closest: int
    easy_from: int
    easy_to: int
    comfortable: int
    most: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Grip:
    """One way to take a chord: ``fingers`` from the lowest key up; ``width`` mm; ``strain`` the fullest pair's share of its limit.

    ``effort`` sums, over every pair of fingers, the steps outside the easy and the comfortable range (rule 14 of the source),
    with half a point for the thumb on a black key beside white ones.
    """

    keys: tuple[int, ...]
    hand: Hand
    fingers: tuple[int, ...]
    width: float
    strain: float
    effort: float
    stretched: bool  # some pair is beyond what is comfortable, though it can be done


@lru_cache(maxsize=64)
def limits(span_mm: float) -> dict[tuple[int, int], PairLimit]:
    """Limits of every pair of fingers for a hand that spans ``span_mm`` in comfort between thumb and little finger."""
    steps = 10 * span_mm / _STEP_TENTHS + _COMFORT  # what this hand takes at most
    rows: list[tuple[float, ...]]
    if steps <= _SIZES[0][0]:
        rows = [tuple(v * steps / _SIZES[0][0] for v in row) for row in _SIZES[0][1]]
    elif steps >= _SIZES[-1][0]:
        rows = [tuple(v * steps / _SIZES[-1][0] for v in row) for row in _SIZES[-1][1]]
    else:
        (low, small), (high, large) = next(pair for pair in pairwise(_SIZES) if steps <= pair[1][0])
        part = (steps - low) / (high - low)
        rows = [tuple(a + part * (b - a) for a, b in zip(s, g, strict=True)) for s, g in zip(small, large, strict=True)]
    return {
        pair: PairLimit(
            closest=_CLOSEST.get(pair, 1),
            easy_from=round(row[0]),
            easy_to=round(row[1] * _STEP_TENTHS),
            comfortable=round((row[2] - _COMFORT) * _STEP_TENTHS),
            most=round((row[2] - _COMFORT * (pair == (1, 5))) * _STEP_TENTHS) + _GRACE,
        )
        for pair, row in zip(PAIRS, rows, strict=True)
    }


@lru_cache(maxsize=1 << 17)
def grip(keys: tuple[int, ...], span_mm: float, hand: Hand, octave: float = STANDARD_OCTAVE) -> Grip | None:
    """The easiest way to take ``keys`` (MIDI numbers, any order, each once) together, or None if this hand cannot.

    ``octave`` is the keyboard's, in millimetres.  Cheap to call again: answers are remembered.
    """
    row = tuple(sorted(set(keys)))
    if not row:
        return Grip(keys=(), hand=hand, fingers=(), width=0.0, strain=0.0, effort=0.0, stretched=False)
    ways = choices(row, span_mm, hand, octave)
    if not ways:
        return None
    way = ways[0]
    at = centres(octave)
    return Grip(
        keys=row,
        hand=hand,
        fingers=way.fingers,
        width=(at[row[-1]] - at[row[0]]) / 10,
        strain=way.strain,
        effort=way.effort,
        stretched=way.stretched,
    )


@dataclass(frozen=True, slots=True)
class Way:
    """One choice of fingers for a chord, lowest key first; see `Grip`."""

    fingers: tuple[int, ...]
    effort: float
    strain: float
    stretched: bool


def choices(row: tuple[int, ...], span_mm: float, hand: Hand, octave: float = STANDARD_OCTAVE) -> tuple[Way, ...]:
    """Every choice of fingers that takes ``row`` (MIDI numbers from the bottom up), easiest first; empty if none does."""
    base = 12 * (row[0] // 12)
    return _choices(tuple(k - base for k in row), span_mm, hand, octave)


@lru_cache(maxsize=1 << 16)
def _choices(row: tuple[int, ...], span_mm: float, hand: Hand, octave: float) -> tuple[Way, ...]:
    """The work of `choices`, remembered for every octave of the keyboard at once."""
    at = centres(octave)
    table = limits(span_mm)
    if len(row) > 5 or at[row[-1]] - at[row[0]] > table[1, 5].most:
        return ()
    ordered = row if hand == "right" else row[::-1]  # from the thumb side
    found = []
    for fingers in combinations((1, 2, 3, 4, 5), len(row)):
        told = _taken(ordered, fingers, at, table)
        if told is not None:
            effort, strain, stretched = told
            found.append(Way(fingers if hand == "right" else fingers[::-1], round(effort, 3), round(strain, 3), stretched))
    return tuple(sorted(found, key=lambda way: way.effort))


def _taken(
    keys: tuple[int, ...], fingers: tuple[int, ...], at: tuple[int, ...], table: dict[tuple[int, int], PairLimit]
) -> tuple[float, float, bool] | None:
    """Effort, strain and stretch of ``keys``, counted from the thumb side, under ``fingers``; None where a pair cannot."""
    effort, strain, stretched = 0.0, 0.0, False
    for i, j in combinations(range(len(keys)), 2):
        limit = table[fingers[i], fingers[j]]
        tenths = abs(at[keys[j]] - at[keys[i]])
        steps = abs(STEP[keys[j]] - STEP[keys[i]])
        if tenths > limit.most or steps < limit.closest:
            return None
        strain = max(strain, tenths / limit.most)
        if tenths > limit.comfortable:
            stretched = True
            effort += 4 * (tenths - limit.comfortable) / _STEP_TENTHS
        if tenths > limit.easy_to:
            effort += 2 * (tenths - limit.easy_to) / _STEP_TENTHS
        elif steps < limit.easy_from:
            effort += 2 * (limit.easy_from - steps)
    blacks = sum(BLACK[k] for k in keys)
    if 0 < blacks < len(keys):
        effort += sum(0.5 if f == 1 else 0.15 for k, f in zip(keys, fingers, strict=True) if BLACK[k] and f in (1, 5))
    effort += 0.25 * fingers.count(4) + 0.5 * strain + (0.1 * fingers[0] if len(keys) == 1 else 0.0)
    if len(keys) > 1 and fingers[0] == 1 and fingers[-1] == 5:
        effort -= 0.05  # of equals, the outer fingers: they lie where the hand lies open
    return effort, strain, stretched


@lru_cache(maxsize=1 << 14)
def rolled(keys: tuple[int, ...], span_mm: float, hand: Hand, octave: float = STANDARD_OCTAVE) -> Grip | None:
    """The easiest way to roll ``keys`` one after the other from the bottom, or None.

    Only neighbours and next-but-one keys must lie under the hand at once: the wrist travels with the roll (common practice).
    """
    row = tuple(sorted(set(keys)))
    if len(row) > 5:
        return None
    together = grip(row, span_mm, hand, octave)
    if together is not None or len(row) < 3:
        return together
    parts = [grip(row[i : i + 2], span_mm, hand, octave) for i in range(len(row) - 1)]
    if any(part is None for part in parts):
        return None
    at = centres(octave)
    ordered = row if hand == "right" else row[::-1]
    table = limits(span_mm)
    for fingers in sorted(combinations((1, 2, 3, 4, 5), len(row)), key=lambda f: f[0] + (5 - f[-1])):
        if all(abs(at[ordered[i + 1]] - at[ordered[i]]) <= table[fingers[i], fingers[i + 1]].most for i in range(len(row) - 1)):
            return Grip(
                keys=row,
                hand=hand,
                fingers=fingers if hand == "right" else fingers[::-1],
                width=(at[row[-1]] - at[row[0]]) / 10,
                strain=1.0,
                effort=10.0,
                stretched=True,
            )
    return None


def why_not(keys: tuple[int, ...], span_mm: float, hand: Hand, octave: float = STANDARD_OCTAVE) -> str:
    """Why this hand cannot take ``keys`` together, in a musician's words; empty if it can."""
    row = tuple(sorted(set(keys)))
    if grip(row, span_mm, hand, octave) is not None:
        return ""
    names = [str(in_key(k, 0)) for k in row]
    if len(row) > 5:
        return f"{len(row)} keys ({names[0]} to {names[-1]}) for five fingers"
    at = centres(octave)
    width = (at[row[-1]] - at[row[0]]) / 10
    table = limits(span_mm)
    if at[row[-1]] - at[row[0]] > table[1, 5].most:
        return f"{names[0]}–{names[-1]} is {width:.0f} mm wide, this hand spans {span_mm:.0f} mm"
    low, high = max(pairwise(row), key=lambda pair: at[pair[1]] - at[pair[0]])
    return (
        f"no choice of fingers reaches {'–'.join(names)} with a span of {span_mm:.0f} mm: "
        f"the gap {in_key(low, 0)}–{in_key(high, 0)} is {(at[high] - at[low]) / 10:.0f} mm"
    )
