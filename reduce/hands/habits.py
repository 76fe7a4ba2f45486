"""Habits of the hand: where scales, broken chords and the five-finger position tell the fingers beforehand.

Each note of a line gets five small prices, one a finger; the path through the ergonomic model weighs them.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from itertools import pairwise

from reduce.hands.keyboard import BLACK
from reduce.hands.scales import LEAST_ARPEGGIO, LEAST_SCALE, arpeggio_fingers, scale_fingers
from reduce.model.draft import Hand

Prices = tuple[float, float, float, float, float]
NONE: Prices = (0.0, 0.0, 0.0, 0.0, 0.0)
SCALE, ARPEGGIO, POSITION = 14.0, 6.0, 1.5  # points against another finger than the usual one
_WHITE_BELOW = (0, 0, 1, 1, 2, 3, 3, 4, 4, 5, 5, 6)  # a white-key place for every key; a sharp has the one on its left
_FLAT_UP_TO = {10: 1, 3: 0, 8: -3, 1: -4, 6: -5}  # black keys that are flats, on the place to their right, in keys up to so many fifths


def _but(fingers: Sequence[int], price: float) -> Prices:
    prices = [0.0 if f in fingers else price for f in (1, 2, 3, 4, 5)]
    return prices[0], prices[1], prices[2], prices[3], prices[4]


def prices(keys: tuple[int, ...], hand: Hand, fifths: int = 0, minor: bool = False) -> tuple[Prices, ...]:
    """Prices of the five fingers on each note of a line of single ``keys`` (MIDI), in the key it is met in.

    The answer does not change with the octave, and is remembered.
    """
    base = 12 * (min(keys) // 12) if keys else 0
    return _prices(tuple(k - base for k in keys), hand, fifths, minor)


@lru_cache(maxsize=8192)
def _prices(keys: tuple[int, ...], hand: Hand, fifths: int, minor: bool) -> tuple[Prices, ...]:
    found: list[Prices] = [NONE] * len(keys)
    for start, end in _runs(keys, 3):
        run = keys[start:end]
        if len(run) >= LEAST_SCALE:
            fingers = scale_fingers(run, hand, fifths, minor)
            for i, finger in enumerate(fingers or (), start):
                found[i] = _but((finger,), SCALE)
    for start, end in _runs(keys, 6):
        run = keys[start:end]
        if len(run) >= LEAST_ARPEGGIO and all(abs(b - a) > 1 for a, b in pairwise(run)):
            for i, finger in enumerate(arpeggio_fingers(run, hand) or (), start):
                if found[i] is NONE:
                    found[i] = _but((finger,), ARPEGGIO) if finger else _but((2, 3, 4), ARPEGGIO)
    white = tuple([_place(key, fifths) for key in keys])
    for start, end in _positions(keys, white, found):
        places = white[start:end]
        low, high = min(places), max(places)
        # a line of three keys leaves the choice open: any position that holds it is as good
        bases = range(high - 4, low + 1) if high - low < 3 else (low,)
        for i, place in enumerate(places, start):
            open_to = {place - base + 1 if hand == "right" else 5 - (place - base) for base in bases}
            found[i] = _but(tuple(open_to), POSITION)
    return tuple(found)


def _runs(keys: tuple[int, ...], most: int) -> list[tuple[int, int]]:
    """Stretches (start, end) in one direction with steps of at most ``most`` semitones; neighbours share their turning note."""
    out = []
    start = 0
    for i in range(1, len(keys) + 1):
        turning = (
            i == len(keys)
            or not 0 < abs(keys[i] - keys[i - 1]) <= most
            or (i - start > 1 and (keys[i] > keys[i - 1]) != (keys[i - 1] > keys[i - 2]))
        )
        if turning:
            if i - start > 2:
                out.append((start, i))
            joined = i < len(keys) and 0 < abs(keys[i] - keys[i - 1]) <= most
            start = i - 1 if joined else i
    return out


def _place(key: int, fifths: int) -> int:
    """The white-key place that a key has under a hand in five-finger position: B flat is the fourth of F to C, F sharp the third of D."""
    pitch = key % 12
    return 7 * (key // 12) + _WHITE_BELOW[pitch] + (fifths <= _FLAT_UP_TO.get(pitch, -99))


def _positions(keys: tuple[int, ...], white: tuple[int, ...], taken: Sequence[Prices]) -> list[tuple[int, int]]:
    """Stretches of four notes and more that lie under five neighbouring white keys, longest first come."""
    out = []
    start, low, high = 0, 0, 0
    for i in range(len(keys) + 1):
        place = None if i == len(keys) or taken[i] is not NONE else white[i]
        if place is not None and i > start and max(high, place) - min(low, place) <= 4:
            low, high = min(low, place), max(high, place)
            continue
        if i - start >= 4 and not BLACK[keys[start] % 12] | (len({*keys[start:i]}) < 3):
            out.append((start, i))
        start = i
        if place is None:
            start = i + 1
            low, high = 99999, -99999
        else:
            low = high = place
    return out
