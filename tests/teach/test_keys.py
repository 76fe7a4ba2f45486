"""The numerals of a few bars follow the key of the piece that they are from."""

from __future__ import annotations

import pytest

from reduce import packing, rulebook
from tests.hands.tiny import sheet
from tests.teach.material import WISHES

RIGHT = "G4:2 B4:2 | A4:2 F#4:2 | G4:2 D5:2 | G4:4 |"
LEFT = "G3+B3+D4:4 | D3+F#3+A3:4 | G3+B3+D4:4 | G3+B3+D4:4 |"
PIECE = {"draft": {"keys": [{"bar": 0, "tonic": 0, "mode": "major"}, {"bar": 2, "tonic": 7, "mode": "major"}]}}


@pytest.mark.parametrize(("level", "numerals"), [("late-beginner", ["V", "V"]), ("intermediate", ["V", "I"])])
def test_numerals_are_counted_from_the_key_of_the_piece(level: str, numerals: list[str]) -> None:
    """Four bars in which all sounds like G major are the fifth degree of a piece in C; where the level modulates, until it does."""
    lesson = packing.lesson_of(sheet(RIGHT, LEFT), rulebook.load(level), WISHES, facts=PIECE)
    here = [chord.roman for chord in lesson.chords if chord.root == 7]
    assert [here[0], here[-1]] == numerals


def test_without_a_report_the_bars_speak_for_themselves() -> None:
    lesson = packing.lesson_of(sheet(RIGHT, LEFT), rulebook.load("intermediate"), WISHES)
    assert {key.tonic for key in lesson.keys} == {7}
