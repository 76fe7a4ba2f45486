"""Names of the notes that a draft adds."""

from __future__ import annotations

from reduce.arrange.key_spelling import Speller
from reduce.arrange.writing import names
from reduce.model.pitch import Pitch, above
from reduce.model.texture import Chord


def test_an_added_note_is_spelled_from_its_chord() -> None:
    """Law: in thirds above the root (common practice), and a note of no chord as the signature has it."""
    sharp = Chord(start=0, end=4, root=8, quality="minor", bass=8, tones=(8, 11, 3))
    home = Chord(start=4, end=8, root=2, quality="minor", bass=2, tones=(2, 5, 9))
    name = names((), Speller((0,), (0,), 0, 0), (sharp, home))
    assert [str(name(midi, 0, 4, 4)) for midi in (56, 59, 63)] == ["G♯3", "B3", "D♯4"]
    assert [str(name(midi, 4, 8, -1)) for midi in (62, 65, 69, 70)] == ["D4", "F4", "A4", "B♭4"]


def test_places_above_a_note() -> None:
    """A third above F sharp is A or A sharp, never B flat; what needs a double sign has no such name."""
    assert above(Pitch("F", 1, 4), 70, 2) == Pitch("A", 1, 4)
    assert above(Pitch("F", 1, 4), 69, 2) == Pitch("A", 0, 4)
    assert above(Pitch("G", 1, 4), 71 + 1, 2) == Pitch("B", 1, 4)
    assert above(Pitch("D", 1, 4), 70 - 3, 2) is None
