"""Hard spots: planted ones are found, calm music has none."""

from __future__ import annotations

import pytest

from reduce.hands.check import check
from reduce.hands.movement import time_for, travel
from reduce.hands.report import Spot
from reduce.model.draft import Draft
from reduce.model.rules import Rules
from tests.hands.tiny import sheet

CALM = ("E5:1 D5:1 C5:1 D5:1 |", "C3:1 G3:1 E3:1 G3:1 |")
CLOSE = ("E5:1 F5:1 G5:2 |", "C3:1 G3:1 C3:2 |")
PLANTED = {
    3: (CALM[0], "C2:1/4 C4+E4:1/4 G3:1/2 E3:1 G3:1 E3:1 |"),  # a leap of two octaves in a sixteenth
    6: (CALM[0], "C3+G3+E4:2 C3:2 |"),  # a tenth struck together
    10: ("C5:1 B4:1 G4:1 A4:1 |", "C4:2 G4:2 |"),  # one key for both hands
    14: ("C5+E5+G5:1/4 " * 16 + "|", CALM[1]),  # a chord repeated in sixteenths
    18: ("C5:2/3 D5:2/3 E5:2/3 F5:1 E5:1 |", "C3:1/2 E3:1/2 G3:1/2 E3:1/2 C3:1 G3:1 |"),  # three against four
    22: ("E4:1 C4:1 E4:1 D4:1 |", "C4:1 G4:1 A4:1 G4:1 |"),  # hands that cross
}
EXPECTED = {3: "leap", 6: "stretch", 10: "shared-key", 14: "repeated-chord", 18: "cross-rhythm", 22: "crossing"}


def page(planted: bool) -> Draft:
    """Twenty-four bars, about a page: calm, but for the planted ones."""
    bars = [PLANTED.get(n, CALM) if planted and n in PLANTED else CLOSE if n % 4 == 0 else CALM for n in range(1, 25)]
    return sheet("".join(b[0] for b in bars), "".join(b[1] for b in bars), quarters=100)


def only(book: dict[str, Rules], level: str, draft: Draft, span: float | None = None) -> tuple[Spot, ...]:
    return check(draft, book[level].level, book[level], span).spots


def test_six_planted_spots_are_found_and_little_else(book: dict[str, Rules]) -> None:
    """Law: every planted spot is named in its bar, and at most two others on the page (requirement of the project)."""
    spots = only(book, "intermediate", page(True))
    found = {(spot.number, spot.kind) for spot in spots}
    assert {(str(n), kind) for n, kind in EXPECTED.items()} <= found
    assert len([spot for spot in spots if int(spot.number) not in EXPECTED]) <= 2


def test_a_calm_page_has_none(book: dict[str, Rules]) -> None:
    assert only(book, "intermediate", page(False)) == ()


def test_each_spot_tells_how_to_make_it_easier(book: dict[str, Rules]) -> None:
    """Law: a spot names its hand, its bar and an easier way; what can strain a hand defers to the teacher and a physician."""
    for spot in only(book, "intermediate", page(True)):
        assert spot.easier and spot.sentence and spot.hand in ("right", "left", "both")
        if spot.kind in ("stretch", "repeated-chord"):
            assert "teacher" in spot.caution and "physician" in spot.caution


def test_cautions_stand_in_the_report(book: dict[str, Rules]) -> None:
    report = check(page(True), book["intermediate"].level, book["intermediate"])
    assert len(report.cautions) == 2
    assert all("physician" in caution for caution in report.cautions)
    assert check(page(False), book["intermediate"].level, book["intermediate"]).cautions == ()


def test_leap_is_measured_in_millimetres_and_seconds(book: dict[str, Rules]) -> None:
    """Law: travel is what is left of the distance when the hand has opened; two octaves are 330 mm, less the span of 170."""
    (spot,) = [s for s in only(book, "intermediate", page(True)) if s.kind == "leap"]
    assert spot.available == pytest.approx(60 / 100 / 4, abs=0.001)
    assert spot.size == pytest.approx(travel((36,), (60, 64), 170.0), abs=0.1)
    assert spot.needed > spot.available


def test_time_grows_with_distance_and_starts_with_the_lift() -> None:
    """Law: an octave takes the level's time; nothing less than the lift, twice as far less than twice the time."""
    assert time_for(165.0, 0.5, 0.4) == pytest.approx(0.5)
    assert time_for(0.0, 0.5, 0.4) == pytest.approx(0.2)
    assert time_for(330.0, 0.5, 0.4) < 1.0


def test_a_key_under_the_hand_needs_no_travel() -> None:
    assert travel((60,), (67,), 165.0) == 0.0
    assert travel((60,), (72,), 165.0) == 0.0
    assert travel((60,), (74,), 165.0) == pytest.approx(23.6, abs=0.2)
    assert travel((48, 60), (60, 72), 165.0) == pytest.approx(165.0)


def test_rests_and_slow_tempo_make_a_leap_easy(book: dict[str, Rules]) -> None:
    """Law: the same leap is a spot in a hurry and none at a quarter of the pace."""
    text = "C2:1/2 E4:1/2 " * 4
    kinds = {spot.kind for spot in only(book, "intermediate", sheet("r:4", text, quarters=132))}
    assert "leap" in kinds
    assert only(book, "intermediate", sheet("r:4", text, quarters=33)) == ()


def test_striking_a_held_key(book: dict[str, Rules]) -> None:
    """Law: a key that one hand holds cannot be struck by the other; once let go it can, given time."""
    held = only(book, "advanced", sheet("E4:1 C4:1 E4:2", "C4:4", quarters=60))
    assert [(s.kind, s.hand) for s in held if s.kind == "shared-key"] == [("shared-key", "right")]
    free = only(book, "advanced", sheet("E4:1 r:1 C4:2", "C4:1 C3:3", quarters=60))
    assert not [s for s in free if s.kind in ("shared-key", "quick-change")]
    for pace, found in ((90, ["quick-change"]), (60, [])):  # a sixth of a second has nothing to give, a quarter has
        near = only(book, "advanced", sheet("E5:1/4 C4:1/4 E5:7/2", "C4:1/4 C3:15/4", quarters=pace))
        assert [s.kind for s in near if s.kind == "quick-change"] == found


def test_wide_broken_chord(book: dict[str, Rules]) -> None:
    """Law: a broken chord wider than the hand needs time; inside the hand it needs none."""
    wide = "C3:1/4 G3:1/4 E4:1/4 G3:1/4 " * 4
    assert "wide-arpeggio" in {s.kind for s in only(book, "early-intermediate", sheet("r:4", wide, quarters=120))}
    inside = "C3:1/4 E3:1/4 G3:1/4 E3:1/4 " * 4
    assert only(book, "late-intermediate", sheet("r:4", inside, quarters=120)) == ()


def test_octaves_in_a_row(book: dict[str, Rules]) -> None:
    text = "C4+C5:1/4 D4+D5:1/4 E4+E5:1/4 F4+F5:1/4 " * 4
    (spot,) = [s for s in only(book, "late-intermediate", sheet(text, "r:4", quarters=120)) if s.kind == "octaves"]
    assert spot.size == 165.0 and "strain" in spot.caution


def test_thumb_on_a_black_key_at_speed(book: dict[str, Rules]) -> None:
    """Source: Parncutt et al. 1997, rules 10 and 12: a thumb passing on to black from white is the awkward turn."""
    from reduce.hands.clock import Clock
    from reduce.hands.fingers import Fingered
    from reduce.hands.movement import turns
    from reduce.hands.terms import Sheet, Terms
    from reduce.hands.touch import touches

    draft = sheet("E4:1/4 F#4:1/4 G4:1/4 A4:1/4", quarters=120)
    line = touches(draft, Clock(draft.tempos, draft.resolution))["right"]
    terms = Terms.of(book["advanced"].level, book["advanced"])
    forced = [Fingered(t, (f,), False, False) for t, f in zip(line, (3, 1, 2, 3), strict=True)]
    usual = [Fingered(t, (f,), False, False) for t, f in zip(line, (1, 2, 3, 4), strict=True)]
    place = Sheet(draft, Clock(draft.tempos, draft.resolution))
    assert [s.kind for s in turns(place, forced, "right", terms)] == ["black-thumb"]
    assert list(turns(place, usual, "right", terms)) == []


def test_equal_spots_are_told_once(book: dict[str, Rules]) -> None:
    """Law: the same spot in other bars is one entry with their numbers."""
    (spot,) = only(book, "intermediate", sheet("r:12", "C3+E4:4 " * 3, quarters=60))
    assert (spot.kind, spot.number, spot.again) == ("stretch", "1", ("2", "3"))
