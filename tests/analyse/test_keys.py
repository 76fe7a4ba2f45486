"""Local keys and cadences."""

from __future__ import annotations

from reduce.analyse.cadences import cadences
from reduce.analyse.harmony import harmony
from reduce.analyse.numerals import key_name, name_of
from reduce.model.texture import LocalKey
from tests.analyse.hearing import rules, score

TO_THE_DOMINANT = """
Violin 1 | c5:2 b4 | c5 d5 | e5 d5 | c5:1 | d5:2 d5   | c#5 d5:2    | d5:2 c5 | b4:1  | b4:2 a4   | g4 f#4  | g4 a4   | g4:1 |
Violin 2 | g4:2 g4 | g4 g4 | g4 g4 | e4:1 | g4:2 f#4  | g4 f#4:2    | g4 f#4  | g4:1  | g4:2 e4   | d4 d4   | d4 f#4  | d4:1 |
Viola    | e4:2 d4 | e4 b3 | c4 b3 | g3:1 | b3:2 a3   | a3 a3:2     | b3 a3   | d4:1  | d4:2 c4   | b3 a3   | b3 c4   | b3:1 |
Cello    | c3:2 g3 | c3 g2 | c3 g2 | c3:1 | g2:2 d3   | a2 d3:2     | g2 d3   | g2:1  | g2:2 a2   | b2 d3   | g2 d3   | g2:1 |
"""


def test_modulation() -> None:
    """Four bars in C, then eight in G with its dominant: the key moves to G and stays."""
    _, keys = harmony(score(TO_THE_DOMINANT), rules())
    assert [key_name(key) for key in keys] == ["C major", "G major"]


def test_no_gaps() -> None:
    """Keys follow each other from the first tick to the last."""
    heard = score(TO_THE_DOMINANT)
    _, keys = harmony(heard, rules())
    assert keys[0].start == 0
    assert keys[-1].end == heard.end
    assert [key.end for key in keys[:-1]] == [key.start for key in keys[1:]]


def test_authentic_and_half() -> None:
    """A phrase that stops on the dominant and one that comes home."""
    heard = score("""
    Violin 1 | e5:4 e5 f5 g5 | e5 d5 d5:2 | e5:4 e5 f5 g5 | e5 d5 c5:2 |
    Violin 2 | c5:4 c5 c5 c5 | c5 c5 b4:2 | c5:4 c5 c5 c5 | c5 b4 c5:2 |
    Viola    | g4:4 g4 a4 g4 | g4 f4 g4:2 | g4:4 g4 a4 g4 | g4 f4 e4:2 |
    Cello    | c3:4 c3 f3 e3 | c3 d3 g2:2 | c3:4 c3 f3 e3 | g2 g2 c3:2 |
    """)
    chords, keys = harmony(heard, rules())
    half = heard.resolution * 2
    found = {cadence.at // half: cadence.kind for cadence in cadences(chords, keys, range(0, heard.end, half)) if cadence.strength >= 0.3}
    assert found[3] == "half"
    assert found[7] == "authentic"


def test_names() -> None:
    """Names on the line of fifths; keys with at most six accidentals."""
    assert [name_of(place) for place in (-2, -1, 0, 1, 6, 7, -8, 13)] == ["B♭", "F", "C", "G", "F♯", "C♯", "F♭", "F𝄪"]
    assert key_name(LocalKey(start=0, end=1, tonic=10, mode="major")) == "B♭ major"
    assert key_name(LocalKey(start=0, end=1, tonic=6, mode="minor")) == "F♯ minor"
    assert key_name(LocalKey(start=0, end=1, tonic=3, mode="major")) == "E♭ major"
    assert key_name(LocalKey(start=0, end=1, tonic=8, mode="minor")) == "G♯ minor"
