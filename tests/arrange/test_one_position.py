"""Hands that stay where they are."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from reduce.arrange.octaves import lowest_read
from reduce.arrange.one_position import Prices, position, seated, shared, too_deep
from reduce.hands.keyboard import reach
from tests.arrange import lines

PRICES = Prices(left=0.35, switch=0.5, move=4.0, shift=1.2)
SIXTH = 118.0  # millimetres, C to A


def hands(text: str) -> list[bool]:
    piece = lines.score(f"meter 4/4\nkey C major\nOboe | {text} |\n")
    tune = lines.line(piece)
    return list(shared(tune, {0}, SIXTH, 43, PRICES))


def test_a_tune_in_five_fingers_stays_in_one_hand() -> None:
    assert [False] * 8 == hands("c4:4 d4 e4 f4 | g4:4 f4 e4 c4")


def test_the_low_neighbours_go_to_the_left_hand() -> None:
    """Law: what lies below the right hand's position is the left hand's, where that saves a move."""
    assert [False, False, True, False, False] == hands("c5:4 e4 g3 e4 | c5:1")


def test_a_wide_tune_moves_rather_than_changing_hands_all_the_time() -> None:
    """A tune that stays high after a leap up takes the right hand with it."""
    found = hands("c4:4 d4 e4 f4 | r:2 c5:4 d5 | e5:4 f5 g5 e5 | c5:1")
    assert [False] * 6 == found[4:10]


def test_a_tune_in_the_depths_is_the_left_hands() -> None:
    """Even where it never comes near the right hand's keys; a level without keys below middle C has none for that hand."""
    assert [True] * 3 == hands("a2:2 b2 | c3:1")
    piece = lines.score("meter 4/4\nkey C major\nOboe | e4:2 g4 |\n")
    assert (False, False) == shared(lines.line(piece), {0}, SIXTH, 60, PRICES)


@given(st.lists(st.integers(43, 84), min_size=1, max_size=12))
def test_positions_hold_what_they_promise(keys: list[int]) -> None:
    """Law: every key lies in the position told for it, and no position is wider than the hand."""
    found = seated([{key: 0.0, key + 7: 0.5} for key in keys], SIXTH, 43, 84, 2.0)
    assert len(keys) == len(found)
    for (key, (low, high)), wanted in zip(found, keys, strict=True):
        assert low <= key <= high and key in (wanted, wanted + 7)
        assert reach((low, high)) <= SIXTH + 1


def test_a_sixth_on_white_keys() -> None:
    assert [69, 71] == [position(60, SIXTH), position(62, SIXTH)]


def test_the_tune_is_not_thrown_from_hand_to_hand() -> None:
    """Law: after a note shorter than a quarter the other hand gets nothing; after a longer one it may (common practice of methods)."""
    for tune, given_away in (("c5:4 e4 g3 e4 | c5:4 g3 e4 c5", True), ("c5:8 e4 g3 e4 c5 g3 e4 c5", False)):
        piece = lines.score(f"meter 4/4\nkey C major\nOboe | {tune} |\n")
        patient = Prices(left=0.35, switch=0.5, quick=4.0, quarter=piece.resolution, move=4.0, shift=1.2)
        assert any(shared(lines.line(piece), {0}, SIXTH, 43, patient)) is given_away


def test_what_lies_below_the_ledger_lines_is_the_left_hand_s() -> None:
    """Law: one ledger line holds B3, two G3 (the treble staff); a lower run goes to the left hand where a quarter or a rest leads to it."""
    assert [lowest_read(count) for count in (0, 1, 2, 3)] == [62, 59, 55, 52]
    for tune, hands in (
        ("c4:4 a3 g3 c4", [False, True, True, False]),
        ("c4:8 a3 g3 c4 c4:2", [False] * 5),
        ("a3:8 r c4:4 e4:2", [True, False, False]),
    ):
        piece = lines.score(f"meter 4/4\nkey C major\nOboe | {tune} |\n")
        assert list(too_deep(lines.line(piece), lowest_read(1), piece.resolution)) == hands
