"""Fingers for phrases, and which of them are printed."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reduce.hands.ergonomics import PARNCUTT, model_for, score
from reduce.hands.fingering import JOINED, NONE, easiest, phrase
from reduce.hands.fingers import fingered, fingering, played
from reduce.hands.hand import grip
from reduce.model.draft import Draft, Hand
from reduce.model.rules import Rules
from tests.hands.tiny import QUARTER, line, sheet


def told(draft: Draft, hand: str, span: float = 175.0) -> str:
    """The fingers of one hand, '-' between touches, lowest key first."""
    lines = played(draft, span)
    return "-".join("".join(map(str, one.fingers)) for one in lines["right" if hand == "right" else "left"])


@settings(max_examples=25, deadline=None)
@given(st.lists(st.integers(55, 84), min_size=1, max_size=5), st.booleans(), st.booleans())
def test_path_is_the_cheapest_of_all(keys: list[int], published: bool, right: bool) -> None:
    """Law: the path search finds the least total that trying every fingering finds."""
    model = PARNCUTT if published else model_for(175.0)
    hand: Hand = "right" if right else "left"
    row = tuple(keys)
    fingers, total = easiest(row, model, hand)
    assert total == pytest.approx(sum(score(row, fingers, model, hand).values()))
    least = min(sum(score(row, tried, model, hand).values()) for tried in product((1, 2, 3, 4, 5), repeat=len(row)))
    assert total == pytest.approx(least)


def test_left_hand_is_the_mirror_image() -> None:
    """Law: a line and its mirror image about D cost the two hands the same."""
    line = (62, 64, 66, 69, 67, 64)
    mirror = tuple(124 - k for k in line)
    for fingers in ((1, 2, 3, 5, 4, 2), (2, 1, 3, 4, 2, 1)):
        right = sum(score(line, fingers, PARNCUTT, "right").values())
        assert sum(score(mirror, fingers, PARNCUTT, "left").values()) == right


def test_five_finger_position() -> None:
    """Common practice: five neighbouring white keys take five neighbouring fingers."""
    tune = "C4:1 D4:1 E4:1 F4:1 G4:1 F4:1 E4:1 D4:1 C4:4"
    assert told(sheet(tune, "r:4"), "right", 118.0) == "1-2-3-4-5-4-3-2-1"
    assert told(sheet("r:4", tune.replace("4:", "3:")), "left", 118.0) == "5-4-3-2-1-2-3-4-5"


def test_black_keys_keep_their_place_in_the_position() -> None:
    """Common practice: B flat is the fourth finger of F position, F sharp the third of D position; a fourth begins with the thumb."""
    tune = "C5:1 Bb4:1/2 A4:1/2 Bb4:1/2 A4:1/2 G4:1/2 A4:1/2 G4:1/2 F4:1/2 G4:1"
    assert told(sheet(tune, "r:4", fifths=-1), "right", 118.0) == "5-4-3-4-3-2-3-2-1-2"
    assert told(sheet("D4:1 E4:1 F#4:1 A4:1 G4:1 F#4:1 E4:1 D4:1", "r:4"), "right", 118.0) == "1-2-3-5-4-3-2-1"
    assert told(sheet("A4:1 C5:1 D5:1 C5:1 B4:1 A4:1", "r:4"), "right", 118.0) == "1-3-4-3-2-1"


def test_broken_chord_bass() -> None:
    """Common practice: C-G-E-G in the left hand is 5-1 and 3 or 2 between."""
    found = told(sheet("r:4", "C3:1/2 G3:1/2 E3:1/2 G3:1/2 " * 4), "left")
    assert found in ("-".join(["5-1-3-1"] * 4), "-".join(["5-1-2-1"] * 4))


def test_a_held_key_keeps_its_finger() -> None:
    """Law: while a key is held under moving ones its finger stays, and all fingers down form a grip of the hand."""
    draft = sheet("C4:4", "r:4")
    upper = line("r:1 E4:1 F4:1 G4:1", "right", 2, "i")
    draft = replace(draft, notes=(*draft.notes, *upper))
    lines = played(draft, 175.0)["right"]
    fingers = [one.fingers[0] for one in lines]
    assert fingers[0] not in fingers[1:]
    assert fingers[0] < min(fingers[1:])


def test_slurred_lines_use_no_finger_twice_running() -> None:
    """Law: legato is respected: two different keys in a row never take the same finger."""
    draft = sheet("C5:1/2 E5:1/2 D5:1/2 F5:1/2 G5:1/2 B5:1/2 A5:1/2 C6:1/2 B5:1/2 G5:1/2 E5:1/2 C5:1/2 r:2", "r:4")
    line_ = played(draft, 175.0)["right"]
    assert all(a.fingers != b.fingers for a, b in pairwise(line_))


def test_a_rest_frees_the_hand() -> None:
    """Law: after a rest a phrase takes the fingers that it would take alone."""
    first, second = "C4:1 D4:1 E4:1 r:1 ", "E5:1/2 F#5:1/2 G#5:1/2 A5:1/2 B5:2"
    whole = told(sheet(first + second, "r:8"), "right").split("-")
    alone = told(sheet(second, "r:4"), "right").split("-")
    assert whole[-5:] == alone


def test_parallel_places_are_alike() -> None:
    """Law: the same bar takes the same fingers wherever it stands."""
    bar = "E5:1/2 C5:1/2 D5:1/2 B4:1/2 C5:1 G4:1 "
    other = "A5:1/2 G5:1/2 F5:1/2 E5:1/2 D5:1 E5:1 "
    found = told(sheet((bar + other) * 3, "r:4"), "right").split("-")
    size = len(found) // 3
    assert found[:size] == found[size : 2 * size] == found[2 * size :]


def test_chords_lie_under_the_hand() -> None:
    """Law: the fingers of every chord are among those with which the hand can take it."""
    draft = sheet("C4+E4+G4:1 B3+D4+G4:1 C4+E4+A4:1 D4+F#4+A4+D5:1", "r:4")
    for one in played(draft, 175.0)["right"]:
        best = grip(one.touch.keys, 175.0, "right")
        assert best is not None and len(set(one.fingers)) == len(one.fingers)
        assert list(one.fingers) == sorted(one.fingers)


def test_every_note_has_a_finger() -> None:
    draft = sheet("C4+E4:1 G4:1 r:1 C5:1", "C3:2 G2+D3:2")
    assert set(fingering(draft, 150.0)) == {n.id for n in draft.notes}


def test_too_many_keys_get_what_fingers_there_are() -> None:
    """Law: six keys in a hand cannot all have a finger; nothing breaks."""
    draft = sheet("C4+D4+E4+F4+G4+A4:4", "r:4")
    assert len(fingering(draft, 175.0)) == 5


PIECE = sheet(
    "C4:1 D4:1 E4:1 F4:1 G4:1 F4:1 E4:1 D4:1 C4:1 D4:1 E4:1 F4:1 G4:1/2 A4:1/2 B4:1/2 C5:1/2 D5:1/2 E5:1/2 F5:1/2 G5:1/2 "
    "E5:1 C5:1 A4:1 F#4:1 G4:4 ",
    "C3+E3+G3:2 C3+E3+G3:2 " * 4 + "B2+F3+G3:2 D3+F#3+A3+D4:2 G2+D3+G3:4",
    quarters=80,
)


def test_density_falls_with_the_level(book: dict[str, Rules]) -> None:
    """Law: the further the pupil, the fewer fingers are printed; never all of them (levels table)."""
    counts = [
        len(fingered(PIECE, replace(book["intermediate"].level, fingering=density)))
        for density in ("crossovers", "shifts", "non-obvious", "rare")
    ]
    assert counts[0] >= counts[2] >= counts[3] and counts[1] >= counts[2]
    assert counts[0] < len(PIECE.notes) / 2


def test_first_note_of_each_hand_is_printed_for_beginners(book: dict[str, Rules]) -> None:
    """Law: at the first level each hand's first note and each move has its finger, other notes none."""
    draft = sheet("C4:1 D4:1 E4:1 F4:1 G4:2 E4:2", "C3:4 C3:4", quarters=72)
    printed = fingered(draft, book["first-year"].level)
    assert printed == {"r0": "1", "l0": printed["l0"]}


def test_printed_fingers_are_those_that_are_played(book: dict[str, Rules]) -> None:
    level = book["early-intermediate"].level
    all_of_them = fingering(PIECE, level.hand_span)
    printed = fingered(PIECE, level)
    assert printed and all(str(all_of_them[note]) == finger for note, finger in printed.items())


def test_ten_notes_a_second_do_not_slow_it_down() -> None:
    """Law: fingering a piece of 500 bars of sixteenths in both hands takes well under a second."""
    from time import process_time

    right = "".join(f"{step}{4 + (i // 7) % 2}:1/4 " for i, step in enumerate("CDEFGABAGFEDCBAG" * 500))
    draft = sheet(right, "C3:1/2 G3:1/2 E3:1/2 G3:1/2 " * 1000)
    assert len(draft.notes) == 12000 and draft.resolution == QUARTER
    begun = process_time()
    fingering(draft, 174.0)
    assert process_time() - begun < 2.0  # 0.3 s on a plain machine; room for a busy one


def steps_in_a_row(*keys: int) -> list[int]:
    """The right hand's fingers for single notes that are bound together."""
    bound = tuple(((key - 36,), (), JOINED, NONE, ()) for key in keys)
    return [way[0] for way in phrase(bound, 118.0, "right")]


def test_the_second_finger_does_not_cross_the_thumb_without_need() -> None:
    """Law: a turn of a few neighbouring keys lies under the hand.  Source: scale fingerings turn over the third and fourth finger."""
    assert steps_in_a_row(67, 66, 68) == [3, 2, 3]  # not thumb, second, third


@pytest.mark.parametrize("keys", [(62, 74, 76), (60, 72, 74), (64, 76, 77), (62, 74, 75)])
def test_a_finger_does_not_slide_to_the_next_key(keys: tuple[int, ...]) -> None:
    """Law: after an octave's leap two near keys that are bound together get two fingers (legato touch, common practice)."""
    assert steps_in_a_row(*keys) == [1, 4, 5]


def test_a_usual_grip_is_told_where_the_line_goes_on_from_it(book: dict[str, Rules]) -> None:
    """Law: the fourth finger on top of a sixth is printed where the tune goes on above it without a lift, and nowhere else."""
    level = replace(book["intermediate"].level, fingering="non-obvious")
    on = sheet("C4+F4+A4:2 Bb4:1 C5:1 D5:2 r:2", "F3:4 F3:4")
    assert [fingering(on, level.hand_span)[note] for note in ("r0", "r1", "r2")] == [1, 2, 4]
    assert {note for note in fingered(on, level) if note in ("r0", "r1", "r2")} == {"r0", "r1", "r2"}
    for other in ("C4+F4+A4:2 G4:1 F4:1 E4:2 r:2", "C4+F4+A4:2' Bb4:1 C5:1 D5:2 r:2"):
        assert not {note for note in fingered(sheet(other, "F3:4 F3:4"), level) if note in ("r0", "r1", "r2")}


def test_a_hand_that_rests_has_no_fingers(book: dict[str, Rules]) -> None:
    """Law: a hand without a note has nothing printed, at any density."""
    for density in ("first-and-moves", "crossovers", "shifts", "non-obvious", "rare"):
        assert fingered(sheet("r:4", "r:4"), replace(book["intermediate"].level, fingering=density)) == {}
