"""Notes and chords by name, in the language of the words."""

from __future__ import annotations

from collections.abc import Iterable

from reduce.model.pitch import Pitch
from reduce.model.texture import Chord
from reduce.teach.answers import root_of
from reduce.teach.words import Words

_SIGNS = {0: "", 1: "♯", -1: "♭", 2: "𝄪", -2: "𝄫"}


def note_name(pitch: Pitch, words: Words) -> str:
    """The letter of a note without its octave: 'F♯'; in German 'Fis'."""
    return words.get(f"note.{pitch.name}", pitch.name)


def letter(name: str, words: Words) -> str:
    """A letter with its sign as it stands in a chord symbol."""
    return words.get(f"symbol.{name}", name)


def root_name(name: str) -> str:
    """The root at the head of a chord name: 'F♯' of 'F♯m7/C♯'."""
    step, alter = root_of(name)
    return step + _SIGNS.get(alter, "")


def symbol(chord: Chord, words: Words, *, bass: bool) -> str:
    """A chord as it is written: 'F♯m7/C♯'; without ``bass`` only what it is built on."""
    name, _, below = chord.name.partition("/")
    root = root_name(name)
    told = letter(root, words) + name[len(root) :]
    return f"{told}/{letter(below, words)}" if bass and below else told


def quality(chord: Chord, words: Words) -> str:
    """The kind of a chord in words: 'minor', 'dominant seventh'."""
    return words.say(f"quality.{chord.quality}")


def placed(pitch: Pitch, words: Words) -> str:
    """A note with its octave, as the language writes it: 'F♯3', in German 'fis'."""
    name = note_name(pitch, words)
    return words.say(f"octave.{pitch.octave}", upper=name, lower=name.lower())


def joined(pitches: Iterable[Pitch], words: Words, *, octaves: bool = False) -> str:
    """Notes in their order: 'A–C♯–E', with their ``octaves`` 'A2–C♯3–E3'."""
    return "–".join(placed(pitch, words) if octaves else note_name(pitch, words) for pitch in pitches)


def interval(low: Pitch, high: Pitch, words: Words) -> str:
    """How far two notes are apart, counted in staff steps as musicians do: 'an octave', 'a tenth'; from two octaves on in octaves."""
    octaves, rest = divmod(abs(high.diatonic - low.diatonic), 7)
    if octaves < 2:
        return words.say(f"interval.{7 * octaves + rest + 1}")
    return words.say("interval.more" if rest else "interval.octaves", n=octaves)
