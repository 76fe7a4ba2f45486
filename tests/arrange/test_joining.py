"""A broken chord leads over to the next bass."""

from __future__ import annotations

from reduce.arrange.joining import joined
from reduce.arrange.strands import Key


def row(*midis: int) -> list[Key]:
    return [Key("left", 1, place, place + 1, midi, False) for place, midi in enumerate(midis)]


def test_the_last_note_of_a_broken_chord_lies_near_the_next_bass() -> None:
    """G3 E4 C4 E4, then B2: E4 is too far off and C4 has just been played, so the last note is G3."""
    choices = dict.fromkeys((1, 2, 3), (55, 60, 64))
    assert [key.midi for key in joined(row(55, 64, 60, 64, 47), choices, 12)] == [55, 64, 60, 55, 47]


def test_what_lies_near_enough_stays() -> None:
    """Within an octave of the next bass nothing changes, nor where the level knows no widest step."""
    choices = dict.fromkeys((1, 2, 3), (55, 60, 64))
    assert [key.midi for key in joined(row(55, 64, 60, 64, 52), choices, 12)] == [55, 64, 60, 64, 52]
    assert [key.midi for key in joined(row(55, 64, 60, 64, 47), choices, 0)] == [55, 64, 60, 64, 47]


def test_a_bass_note_is_never_changed() -> None:
    """Only notes above the bass have other notes of their chord to choose from."""
    assert [key.midi for key in joined(row(64, 47), {}, 12)] == [64, 47]
