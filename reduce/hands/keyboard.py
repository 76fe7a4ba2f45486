"""Where the keys lie: centres in millimetres, colours, distances.

Source: octave 164-165 mm from C to C, white keys an octave's seventh apart, black keys off the middle of the gap (standard
keyboard; the black-key offsets are those used by fingering research after Jacobs 2001).  Narrower keyboards (octave 6.0 in
or 5.5 in) are the same picture drawn smaller.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache
from itertools import pairwise

STANDARD_OCTAVE = 165.0  # mm
NARROW_OCTAVES = (152.4, 139.7)  # mm, 6.0 in and 5.5 in

_WHITE_PLACE = {0: 0, 2: 1, 4: 2, 5: 3, 7: 4, 9: 5, 11: 6}
# Black keys: share of the way from the white key on the left to the one on the right.
_BLACK_PLACE = {1: 0 + 9.5 / 23.5, 3: 1 + 14 / 23.5, 6: 3 + 8 / 23.5, 8: 4 + 11.75 / 23.5, 10: 5 + 15.5 / 23.5}
_PLACE = tuple((_WHITE_PLACE | _BLACK_PLACE)[pc] for pc in range(12))

BLACK: tuple[bool, ...] = tuple(midi % 12 in _BLACK_PLACE for midi in range(128))
# The keyboard with two imaginary black keys (E-F, B-C): 14 steps an octave, even = white (Balliauw et al. 2017).
STEP: tuple[int, ...] = tuple(14 * (m // 12) + (0, 1, 2, 3, 4, 6, 7, 8, 9, 10, 11, 12)[m % 12] for m in range(128))


@lru_cache(maxsize=16)
def centres(octave: float = STANDARD_OCTAVE) -> tuple[int, ...]:
    """Key centres of MIDI 0..127 in tenths of a millimetre (whole numbers, for hot loops); MIDI 0 lies at 0."""
    return tuple(round(10 * octave * (m // 12 + _PLACE[m % 12] / 7)) for m in range(128))


def centre(midi: int, octave: float = STANDARD_OCTAVE) -> float:
    """Centre of one key in millimetres from MIDI 0."""
    return centres(octave)[midi] / 10


def is_black(midi: int) -> bool:
    return BLACK[midi]


def reach(keys: Iterable[int], octave: float = STANDARD_OCTAVE) -> float:
    """Millimetres from the centre of the lowest to that of the highest key; 0 for one key or none."""
    row = sorted(keys)
    if len(row) < 2:
        return 0.0
    at = centres(octave)
    return (at[row[-1]] - at[row[0]]) / 10


def gaps(keys: Iterable[int], octave: float = STANDARD_OCTAVE) -> tuple[float, ...]:
    """Millimetres between neighbouring keys of a chord, from the bottom up."""
    row = sorted(keys)
    at = centres(octave)
    return tuple((at[b] - at[a]) / 10 for a, b in pairwise(row))
