"""A short notation for lines of music.

    f#4:q.     a note: step, accidental (# ## b bb), octave as it sounds (c4 = middle C), value
    a3+c#4     a chord; a value that is left out is the value before
    x:q        a stroke of an instrument without pitch
    r:h        a rest
    R  R4      a rest of one bar, of four bars
    %  %3      the bar before once more, three times more (without its signs)
    |  //      next bar; second voice of the same bar
    {g#4 a4}   grace notes before the note that follows
    p mf sfz   dynamics; a dynamic also ends a hairpin
    <  >  =    hairpin grows, hairpin fades, hairpin ends
    "dolce"    words

Values: ``w h q e s t`` from whole to thirty-second, with dots; ``e3`` is an eighth of a triplet.
Marks follow the value in any order::

    ( ) slur    ~ tie    ' staccato    - tenuto    > accent    ^ strong accent
    / // /// tremolo strokes    * trill    ! fermata    $ rolled chord

A figure is written once and filled with chords, ``_`` for the whole chord and 1, 2, 3 .. for its notes from the bottom::

    [r:e _:e' r _' ; a3+c#4 b3+d4 | a3+c#4 g#3+b3]      two chords a bar, after the beat
"""

from __future__ import annotations

import re
from dataclasses import dataclass

QUARTER = 24  # ticks
VALUES = {"w": 96, "h": 48, "q": 24, "e": 12, "s": 6, "t": 3}
DYNAMICS = frozenset({"ppp", "pp", "p", "mp", "mf", "f", "ff", "fff", "fp", "sfz"})
HAIRPINS = {"<": "crescendo", ">": "diminuendo", "=": "stop"}

_TOKEN = re.compile(r'"[^"]*"|\{[^}]*\}|\S+')
_FIGURE = re.compile(r"\[([^;\]]*);([^\]]*)\]")
_PITCH = re.compile(r"([a-g])(##?|bb?)?(\d)")
_NOTE = re.compile(r"(?P<heads>r|x|[a-g][#b]*\d(?:\+[a-g][#b]*\d)*)(?::(?P<value>[whqest]3?\.*))?(?P<marks>[()~'\->^/*!$]*)")
_REST = re.compile(r"R(\d*)(!?)")
_AGAIN = re.compile(r"%(\d*)")
_ALTER = {"": 0, "#": 1, "##": 2, "b": -1, "bb": -2}


@dataclass(frozen=True, slots=True)
class Pitch:
    """A spelled pitch; step ``X`` stands for a stroke without pitch."""

    step: str
    alter: int = 0
    octave: int = 4

    @property
    def midi(self) -> int:
        """MIDI number, middle C = 60."""
        return 12 * (self.octave + 1) + (0, 2, 4, 5, 7, 9, 11)["CDEFGAB".index(self.step)] + self.alter

    def moved(self, steps: int, semitones: int) -> Pitch:
        """The pitch an interval away, spelled as the interval asks."""
        octave, index = divmod(7 * self.octave + "CDEFGAB".index(self.step) + steps, 7)
        natural = Pitch("CDEFGAB"[index], 0, octave)
        return Pitch(natural.step, self.midi + semitones - natural.midi, octave)


@dataclass(frozen=True, slots=True)
class Note:
    """A note, chord or rest (no pitches); ``value`` is empty for a whole bar's rest."""

    pitches: tuple[Pitch, ...]
    ticks: int
    value: str
    marks: str = ""
    graces: tuple[Pitch, ...] = ()

    @property
    def triplet(self) -> bool:
        return "3" in self.value


@dataclass(frozen=True, slots=True)
class Sign:
    """A dynamic, a hairpin, words or a clef at the moment where it stands."""

    kind: str  # dynamic, hairpin, words, clef
    text: str


Voice = tuple[Note | Sign, ...]
Bar = tuple[Voice, ...]


def pitch(text: str) -> Pitch:
    """``f#4`` as a record."""
    if text == "x":
        return Pitch("X")
    found = _PITCH.fullmatch(text)
    if not found:
        raise ValueError(f"no pitch: {text}")
    step, accidental, octave = found.groups(default="")
    return Pitch(step.upper(), _ALTER[accidental], int(octave))


def ticks(value: str) -> int:
    """Length of a value such as ``q.`` or ``e3``."""
    length = VALUES[value[0]] * (2 if "3" in value else 1) // (3 if "3" in value else 1)
    dots = value.count(".")
    return 2 * length - (length >> dots)


def read(line: str, bar_ticks: int, first_ticks: int | None = None) -> tuple[Bar, ...]:
    """All bars of a line.

    Args:
        line: the notation above, bars parted by ``|``.
        bar_ticks: length of a bar.
        first_ticks: length of the first bar where it is an upbeat.
    Raises:
        ValueError: an unknown token, or a bar that does not add up; the sentence names the bar of the line.
    """
    bars: list[Bar] = []
    value = "q"
    for text in _FIGURE.sub(_fill, line).split("|"):
        length = first_ticks if first_ticks and not bars else bar_ticks
        if again := _AGAIN.fullmatch(text.strip()):
            bars += [tuple(tuple(item for item in voice if isinstance(item, Note)) for voice in bars[-1])] * int(again[1] or 1)
            continue
        voices = []
        repeat = 1
        for layer in re.split(r"(?<=\s)//(?=\s)", text):
            voice, value, repeat = _voice(layer, value, length)
            if (sum(item.ticks for item in voice if isinstance(item, Note))) != length:
                raise ValueError(f"bar {len(bars) + 1} does not add up: {text.strip()}")
            voices.append(voice)
        bars.append(tuple(voices))
        bars += [((Note((), bar_ticks, ""),),)] * (repeat - 1)
    return tuple(bars)


def _voice(text: str, value: str, length: int) -> tuple[Voice, str, int]:
    """One voice of a bar, the value that stays in force, and for how many bars a rest counts."""
    items: list[Note | Sign] = []
    graces: tuple[Pitch, ...] = ()
    repeat = 1
    for token in _TOKEN.findall(text):
        if token[0] == '"':
            items.append(Sign("words", token.strip('"')))
        elif token[0] == "@":
            items.append(Sign("clef", token[1:]))
        elif token[0] == "{":
            graces = tuple(pitch(word) for word in token.strip("{}").split())
        elif token in DYNAMICS:
            items.append(Sign("dynamic", token))
        elif token in HAIRPINS:
            items.append(Sign("hairpin", HAIRPINS[token]))
        elif rest := _REST.fullmatch(token):
            repeat = int(rest[1] or 1)
            items.append(Note((), length, "", rest[2]))
        elif note := _NOTE.fullmatch(token):
            value = note["value"] or value
            heads = () if note["heads"] == "r" else tuple(sorted(map(pitch, note["heads"].split("+")), key=_height))
            items.append(Note(heads, ticks(value), value, note["marks"], graces))
            graces = ()
        else:
            raise ValueError(f"no such token: {token} in {text.strip()}")
    return tuple(items), value, repeat


def _height(head: Pitch) -> int:
    return 0 if head.step == "X" else head.midi


def _fill(figure: re.Match[str]) -> str:
    """Write a figure out for each of its chords."""
    pattern, chords = figure[1].strip(), figure[2].split()
    return " ".join(word if word == "|" else _filled(pattern, word) for word in chords)


def _filled(pattern: str, chord: str) -> str:
    def pick(slot: re.Match[str]) -> str:
        return chord if slot[1] == "_" else chord.split("+")[int(slot[1]) - 1]

    return re.sub(r"(?<!\S)(_|\d)", pick, pattern)
