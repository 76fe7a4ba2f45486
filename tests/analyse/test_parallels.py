"""Places that come again."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from reduce.analyse.parallels import parallels, rotated
from tests.analyse.hearing import rules, score


def found(text: str) -> list[tuple[int, int, int, int]]:
    """(first bar, second bar, bars, shift) of a tiny score in 4/4."""
    heard = score(text)
    bar = heard.bars[0].length
    return [(each.first // bar, each.second // bar, each.length // bar, each.shift) for each in parallels(heard, rules())]


def test_repeat() -> None:
    """The same three bars come again after another bar."""
    text = """
    Violin 1 | c5:4 d5 e5 f5 | g5 a5 b5 c6 | d6:2 b5:4 g5 | f#5:1 | c5:4 d5 e5 f5 | g5 a5 b5 c6 | d6:2 b5:4 g5 | c6:1 |
    Cello    | c3:1          | e3:1        | g3:1         | d3:1  | c3:1          | e3:1        | g3:1         | c3:1 |
    """
    assert found(text) == [(0, 4, 3, 0)]


def test_transposed_by_other_instruments() -> None:
    """The return a fifth higher, in other octaves and by other instruments, is found with its shift."""
    text = """
    Violin 1 | c5:4 d5 e5 f5 | g5 e5 c5 d5 | b4:2 c5 | r:1           | r:1         | r:1     |
    Cello    | c3:2 a2       | e3 f3       | g3 c3   | r:1           | r:1         | r:1     |
    Flute    | r:1           | r:1         | r:1     | g5:4 a5 b5 c6 | d6 b5 g5 a5 | f#5:2 g5 |
    Bassoon  | r:1           | r:1         | r:1     | g3:2 e3       | b3 c4       | d4 g3   |
    """
    assert found(text) == [(0, 3, 3, -5)]


def test_real_sequence() -> None:
    """A two-bar model repeated a whole step lower, interval for interval."""
    text = "Violin 1 | e5:8 f5 g5 e5 c5:4 c6 | b5:4 a5 g5:2 | d5:8 eb5 f5 d5 bb4:4 bb5 | a5:4 g5 f5:2 |"
    assert found(text) == [(0, 2, 2, -2)]


def test_sequence_in_the_scale() -> None:
    """A two-bar model repeated a step lower twice inside the scale, where whole and half steps change places."""
    text = """
    Violin 1 | e5:8 f5 g5 e5 c5:4 c6 | b5:4 a5 g5:2 | d5:8 e5 f5 d5 b4:4 b5 | a5:4 g5 f5:2 | c5:8 d5 e5 c5 a4:4 a5 | g5:4 f5 e5:2 |
    """
    assert found(text) == [(0, 2, 4, -2)]


def test_an_added_part_does_not_hide_it() -> None:
    """A repeat under a new held note is still one."""
    text = """
    Violin 1 | c5:4 d5 e5 f5 | g5 a5 b5 c6 | f#5:1 | c5:4 d5 e5 f5 | g5 a5 b5 c6 |
    Cello    | c3:2 c3       | e3 e3       | d3:1  | c3:2 c3       | e3 e3       |
    Horn     | r:1           | r:1         | r:1   | g4:1          | g4:1        |
    """
    assert found(text) == [(0, 3, 2, 0)]


@given(st.integers(1, 4095), st.integers(0, 11), st.integers(0, 11))
@settings(max_examples=60, deadline=None)
def test_rotation_is_transposition(mask: int, up: int, more: int) -> None:
    """Two transpositions are one by their sum; twelve semitones are none."""
    assert rotated(rotated(mask, up), more) == rotated(mask, (up + more) % 12)
