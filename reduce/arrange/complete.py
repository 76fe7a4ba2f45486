"""How much of a chord a hand has above a bass key: where the bass lies well decides whether its third can be played at all."""

from __future__ import annotations

from collections.abc import Sequence

OCTAVE = 12


def lacking(bass: int, wanted: Sequence[int], roof: int, span: int, never: Sequence[int]) -> int:
    """How many of the two notes that a broken chord has above its bass key find no place, within the reach and not as mud.

    Args:
        bass: the key (MIDI) below.
        wanted: the pitch classes that should sound above it.
        roof: the tune's lowest key while the chord sounds; the chord stays below it.
        span: semitones from the lowest to the highest key.
        never: lowest lower key of each interval of 0..12 semitones.

    Returns:
        0 where two different ones, or the only one that is wanted, find their place.
    """
    goal = min(2, len(wanted))
    free = [key for key in range(bass + 1, min(bass + span, roof - 1) + 1) if key % 12 in wanted and _clear(bass, key, never)]
    if not free:
        return goal
    if goal > 1 and any(a % 12 != b % 12 and _clear(a, b, never) for place, a in enumerate(free) for b in free[place + 1 :]):
        return 0
    return goal - 1


def _clear(lower: int, upper: int, never: Sequence[int]) -> bool:
    return upper - lower > OCTAVE or lower >= never[upper - lower]
