"""Breaches of a level, counted a second time in the plainest way."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reduce import rulebook
from reduce.hands.check import check
from reduce.hands.report import Breach
from reduce.model.draft import Draft, DraftMark, DraftNote
from reduce.model.pitch import in_key
from reduce.model.rules import Rules
from tests.hands.conftest import LEVELS
from tests.hands.tiny import QUARTER, sheet

BOOK = {name: rulebook.load(name) for name in LEVELS}


def breaches(rules: Rules, draft: Draft, span: float | None = None) -> list[Breach]:
    return list(check(draft, rules.level, rules, span).breaches)


def kinds(rules: Rules, draft: Draft, hard: bool | None = None) -> set[str]:
    return {b.what for b in breaches(rules, draft) if hard is None or b.hard == hard}


def test_a_five_finger_piece_is_within_the_first_year() -> None:
    """Law: a tune in five fingers over held roots breaks nothing of the first year (common practice)."""
    right = "C4:1 D4:1 E4:1 F4:1 G4:2 G4:2 F4:1 E4:1 D4:1 D4:1 C4:4 " * 2
    left = "C3:4 C3:4 G2:4 C3:4 " * 2
    assert breaches(BOOK["first-year"], sheet(right, left, quarters=72)) == []


@pytest.mark.parametrize(
    ("level", "right", "left", "expected"),
    [
        ("first-year", "C4+E4:4", "C3:4", "crowd"),
        ("late-beginner", "C4+B4:4", "C3:4", "span"),
        ("intermediate", "r:4", "C3+G3+E4:4", "span"),
        ("first-year", "C4:4", "F2:4", "range"),
        ("early-intermediate", "C4:1/8 " * 32, "C3:4", "value"),
        ("advanced", "C4:4", "C4:4", "clash"),
        ("advanced", "E4:2 C4:2", "C4:4", "clash"),
    ],
)
def test_hard_breaches(level: str, right: str, left: str, expected: str) -> None:
    assert expected in kinds(BOOK[level], sheet(right, left), hard=True)


def test_key_signature() -> None:
    """Law: three sharps are too many for the first year and fine at early-intermediate."""
    draft = sheet("C#5:4", "A3:4", fifths=3)
    assert "key" in kinds(BOOK["first-year"], draft, hard=True)
    assert "key" not in kinds(BOOK["early-intermediate"], draft)


def test_held_keys_count_like_struck_ones() -> None:
    """Law: a hand that holds C3 and strikes E4 spans a tenth."""
    draft = sheet("C5:4", "", inner="")
    notes = (*draft.notes, *sheet("", "C3:4").notes, replace(sheet("", "r:1 E4:1").notes[0], strand=2, id="x"))
    (span,) = [b for b in breaches(BOOK["intermediate"], replace(draft, notes=notes)) if b.what == "span"]
    assert (span.measured, span.limit, span.unit, span.hard) == (16, 12, "semitones", True)


def test_what_the_pedal_holds_is_no_hard_crowd() -> None:
    """Law: a held bass and four keys struck over it are five; a pedal at will holds the bass, and this is only to be weighed."""
    held = replace(sheet("", "A2:2").notes[0], id="b")
    chord = tuple(replace(n, strand=2, id=f"x{i}") for i, n in enumerate(sheet("", "r:1 C3+D#3+F#3+A3:1").notes))
    draft = replace(sheet("C5:4", ""), notes=(*sheet("C5:4", "").notes, held, *chord))
    for level, hard in (("late-intermediate", [False]), ("intermediate", [True])):
        assert hard == [b.hard for b in breaches(BOOK[level], draft) if b.what == "crowd" and b.measured == 5]
    five = replace(sheet("C5:4", "A2+C3+D#3+F#3+A3:1"))
    assert "crowd" in kinds(BOOK["late-intermediate"], five, hard=True)


def test_a_slide_written_out_is_an_ornament() -> None:
    """Law: four sixty-fourths by step are graces where a level has all ornaments; leaps or longer runs are values to read."""
    run = "C5:1/16 D5:1/16 E5:1/16 F5:1/16 G5:15/4"
    assert "value" not in kinds(BOOK["late-intermediate"], sheet(run, "C3:4"), hard=True)
    assert "value" in kinds(BOOK["late-intermediate"], sheet(run, "C3:4"), hard=False)
    for other in ("C5:1/16 E5:1/16 G5:1/16 C6:1/16 G5:15/4", "C5:1/16 D5:1/16 E5:1/16 F5:1/16 " * 4 + "G5:3"):
        assert "value" in kinds(BOOK["late-intermediate"], sheet(other, "C3:4"), hard=True)


def test_rolled_chords_are_let_off_up_to_the_level() -> None:
    """Law: a rolled chord wider than the span but inside the level's rolled one is no hard breach."""
    level = replace(BOOK["intermediate"].level, rolled_max=16)
    rules = replace(BOOK["intermediate"], level=level)
    assert "span" not in kinds(rules, sheet("r:4", "C3+G3+E4:4~"), hard=True)
    assert "span" in kinds(rules, sheet("r:4", "C3+G3+E4:4"), hard=True)


def test_reach_is_hard_for_a_named_hand_and_soft_for_the_usual_one() -> None:
    """Law: an octave is within the level's semitones; for a hand of 150 mm it is out of reach."""
    draft = sheet("r:4", "C3+C4:4")
    rules = BOOK["intermediate"]
    assert "reach" not in {b.what for b in breaches(rules, draft)}
    (reach,) = [b for b in breaches(rules, draft, 150.0) if b.what == "reach"]
    assert (reach.measured, reach.limit, reach.unit, reach.hard) == (165.0, 150.0, "millimetres", True)


@pytest.mark.parametrize(
    ("level", "make", "expected"),
    [
        ("first-year", lambda: sheet("C4:1 A4:1 r:2", "r:4"), "step"),
        ("late-beginner", lambda: sheet("C4:1/3 D4:1/3 E4:1/3 r:3", "r:4"), "rhythm"),
        ("late-beginner", lambda: sheet("r:4", "r:4", beats=6, unit=8), "meter"),
        ("first-year", lambda: sheet("C4:4", "r:4", quarters=160), "tempo"),
        ("late-beginner", lambda: sheet("C4:1/2 D4:1/2 " * 4, "C3:4", quarters=110), "speed-together"),
        ("early-intermediate", lambda: sheet("C4:2/3 D4:2/3 E4:2/3 r:2", "C3:1/2 D3:1/2 E3:1/2 F3:1/2 r:2"), "cross-rhythm"),
        ("first-year", lambda: sheet("C4:4", "r:4", marks=(DraftMark(kind="dynamic", onset=0, end=0, text="sfz"),)), "marks"),
        ("first-year", lambda: sheet("C4:4", "r:4", marks=(DraftMark(kind="pedal", onset=0, end=9),)), "pedal"),
        ("late-beginner", lambda: sheet("C4:4", "r:4", inner="E4:1 F4:1 G4:2"), "voices"),
        ("late-beginner", lambda: sheet("C#4+F#4:4", "r:4"), "black-keys"),
        ("late-beginner", lambda: sheet("C4:1 G5:1 C4:1 G5:1 " * 4, "r:16"), "moves"),
        ("intermediate", lambda: sheet("C4:4", "C3:4"), "length"),
    ],
)
def test_soft_breaches(level: str, make: Callable[[], Draft], expected: str) -> None:
    """Law: what goes beyond the level without making the sheet wrong is listed, and soft."""
    found = [b for b in breaches(BOOK[level], make()) if b.what == expected]
    assert found and not any(b.hard for b in found)


@pytest.mark.parametrize(
    ("right", "left", "crosses"),
    [
        ("C4:3/2 D4:1/2 E4:2", "C3:1 G3:1 E3:1 G3:1", False),  # a dotted rhythm over quarters, the half note felt as the beat
        ("C4:3/4 D4:1/4 E4:3", "C3:1/2 E3:1/2 G3:3", False),
        ("C4:2/3 D4:2/3 E4:2/3 F4:2", "C3:1 G3:1 E3:2", True),  # three against two
        ("C4:2/3 D4:2/3 E4:2/3 F4:2", "C3:3/2 G3:1/2 E3:2", True),  # three against four
    ],
)
def test_hands_cross_where_neither_division_goes_into_the_other(right: str, left: str, crosses: bool) -> None:
    """Law: three against two or four is a cross rhythm, two against four is none (common practice)."""
    found = kinds(BOOK["early-intermediate"], sheet(right, left, beats=2, unit=2))
    assert ("cross-rhythm" in found) == crosses


def test_a_breach_says_what_was_measured() -> None:
    """Law: number and limit stand in the record and in the sentence."""
    (crowd,) = [b for b in breaches(BOOK["first-year"], sheet("C4+E4+G4:4", "C3:4")) if b.what == "crowd"]
    assert (crowd.measured, crowd.limit, crowd.number, crowd.hand) == (3, 1, "1", "right")
    assert "3" in crowd.sentence and "1" in crowd.sentence


def test_voices_that_run_into_each_other_in_our_own_draft() -> None:
    """Law: a draft of ours keeps one note after another in a voice; a sheet that was read in makes no such promise."""
    notes = sheet("C4:2 D4:2", "C3:4").notes
    longer = (replace(notes[0], duration=3 * QUARTER), *notes[1:])
    own = replace(sheet("C4:2 D4:2", "C3:4", level="advanced"), notes=longer)
    assert "bars" in kinds(BOOK["advanced"], own, hard=True)
    assert "bars" not in kinds(BOOK["advanced"], replace(own, level=""))


note = st.tuples(
    st.sampled_from(["right", "left"]), st.integers(0, 14), st.sampled_from([12, 24, 48, 96]), st.integers(30, 95), st.sampled_from([1, 2])
)


@settings(max_examples=60, deadline=None)
@given(st.lists(note, min_size=1, max_size=14), st.sampled_from(LEVELS))
def test_hard_breaches_agree_with_a_plain_count(rows: list[tuple[str, int, int, int, int]], name: str) -> None:
    """Law: a sheet has a hard breach of span, crowd, range, value or clash exactly where counting key by key finds one."""
    rules = BOOK[name]
    level = rules.level
    seen = set()
    notes = []
    for i, (hand, place, length, key, strand) in enumerate(rows):
        if any((hand, key, t) in seen for t in range(place * 24, place * 24 + length)):
            continue  # one hand does not strike a key that it holds
        seen |= {(hand, key, t) for t in range(place * 24, place * 24 + length)}
        notes.append(
            DraftNote(
                id=f"n{i}",
                hand="right" if hand == "right" else "left",
                strand=1 if strand == 1 else 2,
                onset=place * 24,
                duration=length,
                pitch=in_key(key, 0),
                midi=key,
            )
        )
    draft = replace(sheet("r:16", "r:16"), notes=tuple(notes))
    draft = replace(draft, bars=sheet("C4:16").bars)
    plain = set()
    for moment in {n.onset for n in notes}:
        for hand, span, most in (("right", level.span_right, level.notes_right), ("left", level.span_left, level.notes_left)):
            down = {n.midi for n in notes if n.hand == hand and n.onset <= moment < n.end}
            if down and max(down) - min(down) > span:
                plain.add("span")
            if len(down) > most:
                plain.add("crowd")
        both = [{n.midi for n in notes if n.hand == hand and n.onset <= moment < n.end} for hand in ("right", "left")]
        if both[0] & both[1]:
            plain.add("clash")
    if any(not level.lowest <= n.midi <= level.highest for n in notes):
        plain.add("range")
    if any(level.shortest and n.duration < level.shortest * QUARTER for n in notes):
        plain.add("value")
    assert kinds(rules, draft, hard=True) == plain
