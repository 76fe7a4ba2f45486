"""The notation of tiny scores, against music21 as a reader from outside."""

from __future__ import annotations

from fractions import Fraction

import pytest

from tests import tiny

SCORE = """
meter 3/4
key A major
pickup 4
Violin 1       | e5:4 | c#5:4. d5:8 e5:4(accent p) | a4:8t b4 c#5 e5:g e5:2 |
Horn           | r    | <a2 e3>:2.~                | <a2 e3>:2.            |
Cello          | r    | a2:2.                      | e2:4. e3              |
Cello, voice 2 | r    | a3:2.                      | r                     |
"""


def test_a_tiny_score_reads_as_written() -> None:
    """music21 hears what the text says: onset in quarters, duration, MIDI number."""
    music21 = pytest.importorskip("music21")
    stream = music21.converter.parse(tiny.musicxml(SCORE), format="musicxml").stripTies()
    for name in ("Violin 1", "Horn", "Cello"):
        part = next(part for part in stream.parts if part.partName == name)
        heard = {
            (Fraction(note.getOffsetInHierarchy(part)), Fraction(note.quarterLength), pitch.midi)
            for note in part.recurse().notes
            for pitch in note.pitches
        }
        assert tiny.read(SCORE).struck(name) == heard


def test_a_bar_that_does_not_add_up_is_told() -> None:
    """A slip in a tiny score shows at once."""
    with pytest.raises(AssertionError, match=r"bar 2 lasts 3 quarters, not 4"):
        tiny.read("Oboe | c5:1 | c5:2 d5:4 |")
