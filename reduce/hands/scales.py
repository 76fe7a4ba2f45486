"""What every pianist knows about scales and broken chords: where the thumb goes.

Nothing is listed by name: the places of the thumb follow from the keyboard (common practice).  A seven-note scale takes two
thumbs an octave, three and four notes apart, on white keys; on a white tonic the thumb takes the tonic (right hand: tonic and
fourth, left hand: tonic and fifth); otherwise it goes where it passes from, or to, a black key under a longer finger.  A broken
chord takes one thumb an octave: on the key it starts from if that is white, else on its first white key from the thumb's side.
"""

from __future__ import annotations

from functools import lru_cache
from itertools import pairwise

from reduce.model.draft import Hand

_BLACK = frozenset({1, 3, 6, 8, 10})
_KINDS = {
    "major": (0, 2, 4, 5, 7, 9, 11),
    "harmonic minor": (0, 2, 3, 5, 7, 8, 11),
    "melodic minor": (0, 2, 3, 5, 7, 9, 11),
    "natural minor": (0, 2, 3, 5, 7, 8, 10),
}
LEAST_SCALE = 6  # notes in one direction that no longer lie under five fingers
LEAST_ARPEGGIO = 4


@lru_cache(maxsize=512)
def thumbs(scale: tuple[int, ...], hand: Hand) -> frozenset[int]:
    """The two pitch classes of a seven-note ``scale`` (pitch classes from the tonic up) that the thumb takes."""
    tonic = scale[0]

    def black(degree: int) -> bool:
        return scale[degree % 7] in _BLACK

    usual = (0, 3) if hand == "right" else (0, 4)
    best: tuple[float, tuple[int, int]] | None = None
    for first in range(7):
        pair = (first, (first + 3) % 7)
        price = 0.0
        for degree in pair:
            price += 100 * black(degree)
            passed = degree - 1 if hand == "right" else degree + 1  # the key beside the thumb when a finger crosses it
            price += not black(passed)
        if tonic not in _BLACK:
            price -= 4 * (sorted(pair) == list(usual)) + (0 in pair)
        if best is None or price < best[0]:
            best = (price, pair)
    assert best is not None
    return frozenset(scale[degree] for degree in best[1])


def _spell(tonic: int, kind: str) -> tuple[int, ...]:
    return tuple((tonic + step) % 12 for step in _KINDS[kind])


@lru_cache(maxsize=4096)
def scale_of(run: tuple[int, ...], fifths: int, minor: bool) -> tuple[int, ...] | None:
    """The scale that a stepwise run (MIDI, one direction) moves in, tonic first, or None.

    Several may fit a short run: then the key signature's own scales come first, then the one that starts or ends the run on
    its tonic, then the nearest on the line of fifths.
    """
    up = run if run[0] < run[-1] else run[::-1]
    used = {k % 12 for k in up}
    home_major, home_minor = 7 * fifths % 12, (7 * fifths + 9) % 12
    best: tuple[float, tuple[int, ...]] | None = None
    for tonic in range(12):
        for place, kind in enumerate(_KINDS):
            scale = _spell(tonic, kind)
            if not used <= set(scale):
                continue
            degree = scale.index(up[0] % 12)
            if any(scale[(degree + i) % 7] != k % 12 for i, k in enumerate(up)):
                continue  # a degree is left out
            home = (tonic == home_minor and kind != "major") if minor else (tonic == home_major and kind == "major")
            other = tonic in (home_major, home_minor) and (kind == "major") == (tonic == home_major)
            ends = (up[0] % 12 == tonic) + (up[-1] % 12 == tonic)
            away = min((7 * tonic - 7 * home_major) % 12, (7 * home_major - 7 * tonic) % 12)
            price = -8 * home - 3 * other - 5 * ends + 0.5 * away + 0.3 * place
            if best is None or price < best[0]:
                best = (price, scale)
    return best[1] if best else None


def scale_fingers(run: tuple[int, ...], hand: Hand, fifths: int = 0, minor: bool = False) -> tuple[int, ...] | None:
    """The usual fingers for a stepwise run in one direction, or None where it is no scale.

    ``run`` MIDI numbers in playing order; ``fifths`` and ``minor`` the key that it is met in.
    """
    if len(run) < LEAST_SCALE:
        return None
    steps = {abs(b - a) for a, b in pairwise(run)}
    if steps == {1}:
        inner = min(run) if hand == "right" else max(run)  # nothing lies beyond it: the thumb may begin
        return tuple(1 if k == inner and k % 12 not in _BLACK else _chromatic(k, hand) for k in run)
    if not steps <= {1, 2, 3}:
        return None
    scale = scale_of(run, fifths, minor)
    if scale is None:
        return None
    places = thumbs(scale, hand)
    fingers = []
    for key in run:
        degree = scale.index(key % 12)
        finger = 1
        while scale[(degree - (finger - 1) if hand == "right" else degree + (finger - 1)) % 7] not in places:
            finger += 1
        fingers.append(finger)
    # The outermost key needs no thumb to go on: the last finger of the group before it, and one more.
    outer = run.index(max(run) if hand == "right" else min(run))
    if fingers[outer] == 1:
        inner = outer - 1 if outer else 1
        fingers[outer] = fingers[inner] + 1
    return tuple(fingers)


def _chromatic(key: int, hand: Hand) -> int:
    """Third finger on black keys, thumb on white ones, second where two white keys meet (common practice)."""
    pc = key % 12
    if pc in _BLACK:
        return 3
    return 2 if pc in ((0, 5) if hand == "right" else (4, 11)) else 1


def arpeggio_fingers(run: tuple[int, ...], hand: Hand) -> tuple[int, ...] | None:
    """The usual fingers for a broken chord in one direction, an octave wide or more; 0 where the choice is free; None if it is none.

    Thumb, second finger, then the third where a fourth leads on to the next thumb (or a black key a major third), else the
    fourth; four-note chords run 1-2-3-4.  The outermost note takes the little finger in place of the thumb.
    """
    if len(run) < LEAST_ARPEGGIO or abs(run[-1] - run[0]) < 12:
        return None
    steps = [abs(b - a) for a, b in pairwise(run)]
    classes = {k % 12 for k in run}
    if not all(2 <= step <= 6 for step in steps) or not 3 <= len(classes) <= 4 or sum(step == 2 for step in steps) > len(steps) / 3:
        return None
    outward = sorted(run) if hand == "right" else sorted(run, reverse=True)  # from the thumb's side
    start = run[0] if run[0] % 12 not in _BLACK else next((k for k in outward[: len(classes)] if k % 12 not in _BLACK), outward[0])
    thumb = start % 12
    fingers: dict[int, int] = {}
    place = 0  # in the group; 0 before the first thumb
    for i, key in enumerate(outward):
        place = 1 if key % 12 == thumb else place + 1 if place else 0
        if place == 1 and i == len(outward) - 1:
            fingers[key] = 5
        elif place == 3 and len(classes) == 3:
            on = min((thumb - key) % 12, (key - thumb) % 12) if i == len(outward) - 1 else abs(outward[i + 1] - key)
            fingers[key] = 3 if on >= 5 or (on == 4 and hand == "left" and key % 12 in _BLACK) else 4
        else:
            fingers[key] = place
    return tuple(fingers[key] for key in run)
