"""Notes and chords by name, in the language of the words."""

from __future__ import annotations

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


def symbol(chord: Chord, words: Words, *, bass: bool) -> str:
    """A chord as it is written: 'F♯m7/C♯'; without ``bass`` only what it is built on."""
    name, _, below = chord.name.partition("/")
    step, alter = root_of(name)
    root = step + _SIGNS.get(alter, "")
    told = letter(root, words) + name[len(root) :]
    return f"{told}/{letter(below, words)}" if bass and below else told


def quality(chord: Chord, words: Words) -> str:
    """The kind of a chord in words: 'minor', 'dominant seventh'."""
    return words.say(f"quality.{chord.quality}")
