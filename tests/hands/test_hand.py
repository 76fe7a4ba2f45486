"""What a hand of a given span takes at once."""

import pytest

from reduce.hands.hand import grip, limits, rolled, why_not


@pytest.mark.parametrize(
    ("keys", "span", "takes"),
    [
        ((60, 67), 94, True),  # a fifth in a fifth's span
        ((60, 69), 94, False),
        ((60, 64, 67), 105, True),
        ((60, 62, 64, 65, 67), 118, True),  # five fingers on five keys
        ((60, 72), 165, True),
        ((60, 72), 160, False),
        ((60, 64, 67, 72), 165, True),
        ((60, 74), 165, False),
        ((60, 74), 189, True),
        ((60, 76), 189, False),
        ((60, 76), 212, True),
        ((60, 62, 64, 65, 67, 69), 212, False),  # six keys
    ],
)
def test_span_decides(keys: tuple[int, ...], span: float, takes: bool) -> None:
    """Law: a chord fits if its width does and fingers can be found for it."""
    assert (grip(keys, span, "right") is not None) == takes
    assert (why_not(keys, span, "right") == "") == takes


def test_published_limits_for_three_hands() -> None:
    """Source: Balliauw et al. (2017), small, medium, large hands: 2-5 takes 10, 12, 12 steps of a 14th of an octave, 1-2 10, 10, 11.

    Their thumb and little finger take 14, 16, 18 steps at most, two less in comfort: the span that names a hand here.
    """
    step = 165 / 14
    hands = [limits(comfortable * step) for comfortable in (12, 14, 16)]

    def steps(pair: tuple[int, int]) -> list[int]:
        return [round((hand[pair].most - 10) / 10 / step) for hand in hands]

    assert steps((1, 5)) == [12, 14, 16]
    assert steps((2, 5)) == [10, 12, 12]
    assert steps((1, 2)) == [10, 10, 11]
    assert steps((1, 4)) == [13, 15, 16]
    assert steps((3, 4)) == [4, 4, 4]


def test_inner_gap_can_refuse_a_chord_that_is_narrow_enough() -> None:
    """Law: every pair must hold; three keys far from a lone top one cannot be taken by the weak fingers."""
    keys = (60, 61, 62, 72)  # thumb side crowded, a sixth and more between the third finger and the fifth
    assert grip(keys, 165, "right") is None
    assert "gap" in why_not(keys, 165, "right")


def test_left_hand_mirrors_the_right() -> None:
    """Law: the left hand's thumb lies on the highest key; a chord symmetrical about D is as easy for both hands."""
    right = grip((57, 62, 67), 165, "right")
    left = grip((57, 62, 67), 165, "left")
    assert right is not None and left is not None
    assert left.fingers == right.fingers[::-1]


def test_plain_chords_have_the_usual_fingers() -> None:
    """Common practice: triad 1-3-5 and 5-3-1, octave chord 1-2-3-5 (C-E-G-C), octave 1-5."""

    def fingers(keys: tuple[int, ...], hand: str) -> tuple[int, ...]:
        found = grip(keys, 185, "right" if hand == "right" else "left")
        assert found is not None
        return found.fingers

    assert fingers((60, 64, 67), "right") == (1, 3, 5)
    assert fingers((48, 52, 55), "left") == (5, 3, 1)
    assert fingers((60, 64, 67, 72), "right") == (1, 2, 3, 5)
    assert fingers((48, 60), "left") == (5, 1)


def test_a_wider_hand_never_loses_a_chord() -> None:
    """Law: what one span takes, every wider one takes, with no more effort."""
    chords = [(60, 64, 67, 72), (60, 65, 69), (61, 66, 70, 73), (60, 70), (59, 73), (60, 62, 64, 67, 71)]
    for chord in chords:
        took = False
        for span in range(90, 230, 5):
            now = grip(chord, span, "right") is not None
            assert now or not took
            took = now


def test_narrow_keys_widen_the_hand() -> None:
    """Law: a ninth in 5.5 in octaves lies under a hand that takes an octave on the standard keyboard."""
    assert grip((60, 74), 165, "right") is None
    assert grip((60, 74), 165, "right", 139.7) is not None


def test_a_tenth_can_be_rolled() -> None:
    """Common practice: a tenth with a fifth between is rolled by a hand that spans an octave."""
    assert grip((48, 55, 64), 165, "left") is None
    found = rolled((48, 55, 64), 165, "left")
    assert found is not None and found.stretched
