"""Orchestral movements of any length, made by rule: what reading, arranging and writing are measured on."""

from __future__ import annotations

import random

from tests.read.markup import document, n, r, start, transpose

STEPS = "cdefgab"
ROOTS = (0, 3, 4, 0, 5, 1, 4, 0)  # degrees of the chords, bar by bar
PHRASE = 8


def tone(place: int, length: int, *, chord: bool = False) -> str:
    """A note of C major by its staff place (0 = C0), ``length`` in eighths."""
    return n(f"{STEPS[place % 7]}{place // 7} {length}", chord=chord)


def orchestra(bars: int, seed: int = 7) -> str:
    """A movement for nine players in common time.

    The tune changes its player every eight bars and comes back now and then; horns hold, violas and second violins repeat or break
    chords, cellos and basses share the bass, oboe or flute doubles the tune at the octave in the loud half.
    """
    chance = random.Random(seed)
    themes = [[_tune_bar(chance, k == PHRASE - 1) for k in range(PHRASE)] for _ in range(3)]
    rows: dict[str, list[str]] = {name: [] for name in PLAYERS}
    for bar in range(bars):
        phrase, place = divmod(bar, PHRASE)
        root = ROOTS[(place + phrase // 2) % len(ROOTS)]
        chord = [root, root + 2, root + 4]
        tune = themes[phrase % 3][place] if phrase % 4 != 3 else _tune_bar(chance, place == PHRASE - 1)
        loud = phrase % 2 == 1
        leader = ("Violin 1", "Oboe", "Flute", "Cello")[phrase % 4]
        for name in PLAYERS:
            rows[name].append(_bar(name, leader, loud, chord, tune, bar))
    for name, (more, _) in PLAYERS.items():
        rows[name][0] = start(2, "4/4", 0, more) + rows[name][0]
    return document(*rows.items())


# Name to what its first bar says besides, and the octave of the tune.
PLAYERS: dict[str, tuple[str, int]] = {
    "Flute": ("", 6),
    "Oboe": ("", 5),
    "Bassoon": ("", 3),
    "Horn in F": (transpose(-4, -7), 4),
    "Violin 1": ("", 5),
    "Violin 2": ("", 4),
    "Viola": ("", 4),
    "Cello": ("", 3),
    "Double Bass": (transpose(0, 0, -1), 3),
}


def _tune_bar(chance: random.Random, last: bool) -> list[tuple[int, int]]:
    """Degrees and lengths in eighths that fill a bar; the last of a phrase rests on one note."""
    if last:
        return [(chance.choice((0, 2, 4)), 6)]
    lengths = chance.choice(((2, 2, 2, 2), (3, 1, 2, 2), (4, 2, 2), (2, 1, 1, 4), (1, 1, 1, 1, 2, 2)))
    at = chance.randint(0, 6)
    found = []
    for length in lengths:
        found.append((at, length))
        at = max(-2, min(9, at + chance.choice((-2, -1, -1, 1, 1, 2))))
    return found


def _sung(tune: list[tuple[int, int]], octave: int) -> str:
    text = "".join(tone(7 * octave + degree, length) for degree, length in tune)
    left = 8 - sum(length for _, length in tune)
    return text + (r(str(left)) if left else "")


def _bar(name: str, leader: str, loud: bool, chord: list[int], tune: list[tuple[int, int]], bar: int) -> str:
    octave = PLAYERS[name][1]
    if name == leader or (loud and name in ("Flute", "Violin 1")):
        return _sung(tune, octave)
    if name in ("Cello", "Double Bass"):
        return tone(7 * (octave - 1) + chord[0], 4) + tone(7 * (octave - 1) + chord[bar % 2 * 2], 4)
    if name == "Horn in F":  # written a fifth higher
        return tone(7 * octave + chord[0] + 4, 8) if loud else r("8")
    if name == "Viola":
        return "".join(tone(7 * octave + chord[k % 2 + 1], 1) for k in range(8))
    if name == "Violin 2":
        return "".join(tone(7 * octave + chord[k], 2) for k in (0, 1, 2, 1)) if loud else r("2") + tone(7 * octave + chord[1], 6)
    if name == "Bassoon":
        return tone(7 * octave + chord[2], 8)
    return r("8")
