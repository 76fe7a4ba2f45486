"""Where the tune breathes, and which phrases are alike."""

from __future__ import annotations

from reduce.analyse.harmony import harmony
from reduce.analyse.parallels import parallels
from reduce.analyse.phrases import phrases
from tests.analyse.hearing import rules, score, tune_of


def found(text: str) -> list[tuple[float, float, str, str]]:
    """(first, last place in quarters, label, cadence)."""
    heard = score(text)
    chords, keys = harmony(heard, rules())
    told = phrases(heard, tune_of(heard), chords, keys, rules(), parallels(heard, rules()))
    return [(each.start / heard.resolution, each.end / heard.resolution, each.label, each.cadence) for each in told]


PERIOD = """
meter 4/4
key C major
Violin 1 | e5:4 e5 f5 g5 | g5 f5 e5 d5 | c5 c5 d5 e5 | e5:4. d5:8 d5:2 | e5:4 e5 f5 g5 | g5 f5 e5 d5 | c5 c5 d5 e5 | d5:4. c5:8 c5:2 |
Violin 2 | c5:1          | b4:1        | g4:1        | g4:1            | c5:1          | b4:1        | g4:1        | f4:2 e4:2       |
Viola    | g4:1          | g4:1        | e4:1        | b3:1            | g4:1          | g4:1        | e4:1        | b3:2 g3:2       |
Cello    | c3:1          | g2:1        | c3:1        | g2:1            | c3:1          | g2:1        | c3:1        | g2:2 c3:2       |
"""


def test_period() -> None:
    """Two phrases of four bars that begin alike: half close, then authentic; the second is a variant of the first."""
    assert found(PERIOD) == [(0.0, 16.0, "A", "half"), (16.0, 32.0, "A′", "authentic")]


def test_upbeat_belongs_to_its_phrase() -> None:
    """With an upbeat each phrase begins before the bar line."""
    text = """
    meter 3/4
    pickup 4
    Violin 1 | g4:4 | c5:2 d5:4 | e5:2 c5:4 | f5:2 d5:4 | b4:4 r g4 | c5:2 d5:4 | e5:2 f5:4 | e5:4 d5 b4 | c5:2. |
    Cello    | r:4  | c3:2.     | c3:2.     | g2:2.     | g2:2.     | c3:2.     | c3:2.     | g2:2.      | c3:2. |
    """
    assert [(start, end) for start, end, _, _ in found(text)] == [(0.0, 12.0), (12.0, 25.0)]


def test_contrast() -> None:
    """New material gets a new letter, its return the old one: A B A."""
    a = "e5:4 e5 f5 g5 | g5 f5 e5 d5 | c5 c5 d5 e5 | d5 c5 c5:2"
    b = "a5:2 f5:4 a5 | g5:2 e5:4 g5 | f5:2 d5:4 f5 | e5 g5 g5:2"
    bass = "c3:1 | g2:1 | c3:1 | g2:2 c3 | f3:1 | c3:1 | g2:1 | g2:1 | c3:1 | g2:1 | c3:1 | g2:2 c3"
    assert [label for _, _, label, _ in found(f"Violin 1 | {a} | {b} | {a} |\n Cello | {bass} |")] == ["A", "B", "A"]


def test_no_gaps() -> None:
    """Phrases follow each other from the first tick to the last, whatever rests lie between."""
    text = """
    Violin 1 | c5:4 d5 e5:2 | r:1  | f5:4 e5 d5:2 | r:1  | r:1  | g5:4 f5 e5 d5 | c5:1 |
    Cello    | c3:1         | c3:1 | g2:1         | g2:1 | g2:1 | g2:1          | c3:1 |
    """
    told = found(text)
    assert told[0][0] == 0.0
    assert told[-1][1] == 28.0
    assert [end for _, end, _, _ in told[:-1]] == [start for start, _, _, _ in told[1:]]


def test_no_tune() -> None:
    """Without a tune the piece is one phrase."""
    heard = score("Cello | c3:1 | g2:1 |")
    assert [(each.start, each.end, each.label) for each in phrases(heard, (), (), (), rules())] == [(0, heard.end, "A")]
