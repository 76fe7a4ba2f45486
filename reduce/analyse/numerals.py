"""Chord names as the score spells them, and Roman numerals in the local key."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Mapping, Sequence
from functools import lru_cache

from reduce.analyse.templates import Template
from reduce.analyse.tones import Tone
from reduce.model.rules import Rules
from reduce.model.texture import LocalKey

_LETTERS = "FCGDAEB"
_SIGNS = {0: "", 1: "♯", 2: "𝄪", -1: "♭", -2: "𝄫"}
_ROMANS = ("I", "II", "III", "IV", "V", "VI", "VII")
_SCALES = {"major": (0, 2, 4, -1, 1, 3, 5), "minor": (0, 2, -3, -1, 1, -4, -2)}  # degrees on the line of fifths


def name_of(fifths: int) -> str:
    """The name at a place on the line of fifths: 0 is C, 6 F♯, -2 B♭."""
    alter, letter = divmod(fifths + 1, 7)
    return _LETTERS[letter] + _SIGNS.get(alter, "♯" * alter if alter > 0 else "♭" * -alter)


def pitch_class(fifths: int) -> int:
    return fifths * 7 % 12


def tonic_fifths(key: LocalKey, near: int = 0) -> int:
    """Where the tonic of a key lies on the line of fifths; of two names the one whose signature is nearest to ``near`` sharps."""
    away = 3 if key.mode == "minor" else 0  # A minor has the signature of C, three places flatward
    place = key.tonic * 7 % 12
    return place - 12 * round((place - away - near) / 12)


def key_name(key: LocalKey, near: int = 0) -> str:
    """The key in words, 'F♯ minor'; ``near`` is the printed signature, which decides between E♭ minor and D♯ minor."""
    return f"{name_of(tonic_fifths(key, near))} {key.mode}"


@lru_cache(maxsize=64)
def _names_around(centre: int) -> dict[int, int]:
    """For each pitch class the name nearest to a place on the line of fifths (five flatward to six sharpward of it)."""
    return {place * 7 % 12: place for place in range(centre - 5, centre + 7)}


class Speller:
    """Knows how the score spells each pitch class at each moment."""

    def __init__(self, tones: Sequence[Tone]) -> None:
        self._onsets = [tone.onset for tone in tones]
        self._tones = tones

    def names(self, start: int, end: int, key: LocalKey | None) -> dict[int, int]:
        """Place on the line of fifths for each of the twelve pitch classes: as struck between two ticks, else as the key would.

        The key itself is spelled on the side where the struck tones are: E♭ minor among flats, D♯ minor among sharps.
        """
        first, stop = bisect_left(self._onsets, start), bisect_left(self._onsets, end)
        struck = {tone.midi % 12: tone.fifths for tone in self._tones[first:stop]}
        centre = (tonic_fifths(key) - (3 if key.mode == "minor" else 0)) + 2 if key else 2
        if struck:
            centre += 12 * round((sum(struck.values()) / len(struck) - centre) / 12)
        return _names_around(centre) | struck


def chord_name(root: int, quality: str, bass: int, names: Mapping[int, int], rules: Rules) -> str:
    """Root, sign of the kind, and the bass after a stroke where it is not the root: 'F♯m7/C♯'."""
    name = name_of(names[root]) + rules.word("harmony.chord-names." + quality)
    return name if bass == root else f"{name}/{name_of(names[bass])}"


def roman(root: int, template: Template, bass: int, names: Mapping[int, int], key: LocalKey | None) -> str:
    """The numeral of a chord in its key with the figures of its inversion: 'V65', 'ii°6', 'V7/V', '♭VI'.

    Minor keys count from the natural scale, with a raised seventh degree for the diminished chords (common practice).
    An applied dominant is written over the degree it leads to; a seventh chord spelled with an augmented sixth is 'Ger6'.
    """
    if key is None:
        return ""
    tonic = tonic_fifths(key)
    minor = key.mode == "minor"
    tones = template.tones
    figures = _figures(root, tones, bass)
    if tones == (0, 4, 7, 10) and names[(root + 10) % 12] - names[root] == 10:
        return "Ger6"  # spelled with an augmented sixth
    diminished = tones[:3] == (0, 3, 6)
    scale = {(tonic + place) * 7 % 12 for place in _SCALES[key.mode]} | ({(key.tonic + 11) % 12} if minor else set())
    outside = any((root + tone) % 12 not in scale for tone in tones)
    degree = (root - key.tonic) % 12
    if outside and not diminished and tones[:3] == (0, 4, 7) and degree not in (0, 7):
        goal = (root + 5) % 12
        if goal in scale and goal != key.tonic and ((len(tones) == 4 and tones[3] == 10) or degree in (2, 9, 4, 11)):
            return "V" + figures + "/" + _degree(goal, names, tonic, minor, key.mode, small=_small(goal, key))
    if outside and diminished:
        goal = (root + 1) % 12
        if goal in scale and goal != key.tonic:
            mark = "ø" if len(tones) == 4 and tones[3] == 10 else "°"
            return "vii" + mark + figures + "/" + _degree(goal, names, tonic, minor, key.mode, small=_small(goal, key))
    mark = ""
    if diminished:
        mark = "ø" if len(tones) == 4 and tones[3] == 10 else "°"
    elif tones[:3] == (0, 4, 8):
        mark = "+"
    numeral = _degree(root, names, tonic, minor, key.mode, small=tones[1] == 3, leading=diminished)
    if len(tones) == 4 and tones[3] == 11 and not figures.startswith("maj"):
        mark += "maj" if figures == "7" else ""
    return numeral + mark + figures


def _small(root: int, key: LocalKey) -> bool:
    degree = (root - key.tonic) % 12
    return degree in ((0, 2, 5) if key.mode == "minor" else (2, 4, 9))


def _figures(root: int, tones: tuple[int, ...], bass: int) -> str:
    above = (bass - root) % 12
    place = tones.index(above) if above in tones else 0
    return (("7", "65", "43", "42") if len(tones) == 4 else ("", "6", "64"))[place]


def _degree(root: int, names: Mapping[int, int], tonic: int, minor: bool, mode: str, *, small: bool, leading: bool = False) -> str:
    away = (names[root] - tonic + 5) % 12 - 5  # lowered second to raised fourth, whichever way the key itself is spelled
    step = 4 * away % 7
    alter = (away - _SCALES[mode][step]) // 7
    if minor and step == 6 and leading:
        alter -= 1
    sign = "♯" * alter if alter > 0 else "♭" * -alter
    numeral = _ROMANS[step]
    return sign + (numeral.lower() if small else numeral)
