"""The catalogues of words."""

from __future__ import annotations

import re
import string

import pytest

from reduce.model.errors import UsageError
from reduce.model.pitch import Pitch
from reduce.model.texture import Chord
from reduce.teach.naming import note_name, symbol
from reduce.teach.words import languages, words

OWN = ("note.", "symbol.", "octave.")  # names of notes, which each language writes in its own way
ENGLISH = {name: text for name, text in words("en").texts.items() if not name.startswith(OWN)}


def fields(text: str) -> set[str]:
    return {name for _, name, _, _ in string.Formatter().parse(text) if name is not None}


@pytest.mark.parametrize("language", languages())
def test_every_language_is_complete(language: str) -> None:
    """Law: a catalogue has every sentence, filled with the same facts, and nothing else but names of notes."""
    texts = {name: text for name, text in words(language).texts.items() if not name.startswith(OWN)}
    assert sorted(ENGLISH) == sorted(texts)
    assert {name: fields(text) for name, text in ENGLISH.items()} == {name: fields(text) for name, text in texts.items()}
    assert [name for name, text in texts.items() if not text] == []


def test_another_language_is_another_language() -> None:
    """No German sentence of three words and more is the English one."""
    german = words("de").texts
    assert [name for name, text in ENGLISH.items() if len(re.findall(r"\w+", text)) > 2 and german[name] == text] == []


def test_an_unknown_language() -> None:
    """One sentence that names the languages there are."""
    with pytest.raises(UsageError, match=r"'fr'.*de, en"):
        words("fr")


@pytest.mark.parametrize(
    ("pitch", "expected"),
    [(Pitch("B", 0, 4), "H"), (Pitch("B", -1, 4), "B"), (Pitch("F", 1, 4), "Fis"), (Pitch("E", -1, 4), "Es"), (Pitch("C", 0, 4), "C")],
)
def test_german_names(pitch: Pitch, expected: str) -> None:
    """German names of notes (common practice)."""
    assert expected == note_name(pitch, words("de"))


def test_german_symbols() -> None:
    """A chord on B is an H chord in German; B flat keeps its sign."""
    chord = Chord(start=0, end=1, root=11, quality="minor-seventh", bass=6, tones=(11, 2, 6, 9), name="Bm7/F♯")
    flat = Chord(start=0, end=1, root=10, quality="major", bass=2, tones=(10, 2, 5), name="B♭/D")
    assert ["Hm7/F♯", "B♭/D", "B♭"] == [
        symbol(chord, words("de"), bass=True), symbol(flat, words("de"), bass=True), symbol(flat, words("de"), bass=False)
    ]  # fmt: skip
    assert "Bm7/F♯" == symbol(chord, words("en"), bass=True)
