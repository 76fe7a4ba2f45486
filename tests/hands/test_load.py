"""Load of a bar and level of a piece."""

from __future__ import annotations

import pytest

from reduce.hands.check import check
from reduce.hands.grade import estimate_level, place
from reduce.hands.load import DIMENSIONS
from reduce.hands.report import Report
from reduce.model.draft import Draft
from reduce.model.rules import Rules
from tests.hands.conftest import LEVELS
from tests.hands.tiny import sheet

EASY = sheet("C4:1 D4:1 E4:1 F4:1 G4:2 G4:2 F4:1 E4:1 D4:1 D4:1 C4:4 " * 2, "C3:4 C3:4 G2:4 C3:4 " * 2, quarters=72)
MIDDLE = sheet(
    "C5:1 G4:1/2 A4:1/2 B4:1 C5:1 D5:1 A4:1/2 B4:1/2 C5:1 D5:1 E5:1 D5:1/2 C5:1/2 B4:1 A4:1 G4:3 r:1 " * 2,
    "C3:1/2 G3:1/2 E3:1/2 G3:1/2 " * 6 + "D3:1/2 B3:1/2 G3:1/2 B3:1/2 " * 2 + "C3:1/2 G3:1/2 E3:1/2 G3:1/2 " * 8,
    quarters=100,
)
HARD = sheet(
    "E5+G5+C6+E6:1/4 D#6:1/4 E6:1/4 B5:1/4 C5+E5+A5+C6:1/4 G#5:1/4 A5:1/4 C6:1/4 " * 8,
    "A1+A2:1/2 A3+C4+E4:1/2 E1+E2:1/2 G#3+B3+E4:1/2 " * 8,
    quarters=120,
)


def report(book: dict[str, Rules], level: str, draft: Draft) -> Report:
    return check(draft, book[level].level, book[level])


def test_every_bar_has_every_dimension(book: dict[str, Rules]) -> None:
    """Law: the load of a bar is explained by the same named dimensions everywhere, silent bars too."""
    found = report(book, "late-beginner", sheet("C4:4 r:4 E4:4", "C3:4 r:4 C3:4"))
    assert [tuple(name for name, _ in bar.parts) for bar in found.load] == [DIMENSIONS] * 3
    assert found.load[1].total <= found.load[0].total


def test_the_raised_seventh_is_learned_with_its_minor_key(book: dict[str, Rules]) -> None:
    """Law: G sharp in A minor counts less than a sign (rules/load.toml), each octave once; in C major, and beside it F sharp, one whole."""
    found = {}
    for mode in ("minor", "major"):
        bars = ("A4:1 G#4:1 A4:1 G#4:1", "G#4:1 A4:1 G#5:1 A5:1", "F#4:1 G#4:1 A4:2")
        draft = sheet(" ".join(bars), "A3:4 A3:4 A3:4", mode=mode)
        found[mode] = [dict(bar.parts)["accidentals"] for bar in report(book, "late-beginner", draft).load]
    assert found == {"minor": [0.4, 0.8, 1.4], "major": [1.0, 2.0, 2.0]}


def test_a_move_in_a_long_rest_is_no_pressure(book: dict[str, Rules]) -> None:
    """Law: two moves in a bar stand at a late beginner's limit; not where the hand has rested before the first as long as an octave takes
    at the level (levels table: 1.2 s).  The load itself counts both."""
    left = "C3:4 " * 4
    there = {}
    for name, rest in (("rested", "C5:1 B4:1 A4:1 G4:1 r:4"), ("pressed", "C5:1 B4:1 A4:1 G4:1 C5:1 B4:1 A4:1 G4:1")):
        found = report(book, "late-beginner", sheet(rest + " C4:1 r:1 A5:1 r:1 A5:4", left, quarters=96)).load[2]
        there[name] = ("shifts" in found.at_limit, dict(found.parts)["shifts"])
    assert there["rested"][0] is False and there["pressed"][0] is True
    assert there["rested"][1] == there["pressed"][1] > 1


def test_weight_is_the_same_for_every_hand(book: dict[str, Rules]) -> None:
    """Law: the weight of a bar, by which levels are compared, and the estimate of a level do not depend on whose hand plays."""
    wide = sheet("C4:1/2 A4:1/2 E4:1/2 C5:1/2 C4:1/2 A4:1/2 E4:1/2 C5:1/2 " * 4, "C3:4 " * 4)
    small, large = (check(wide, book["intermediate"].level, book["intermediate"], span) for span in (110.0, 200.0))
    assert [bar.weight for bar in small.load] == [bar.weight for bar in large.load]
    assert small.estimate == large.estimate
    assert dict(small.load[0].parts)["shifts"] > dict(large.load[0].parts)["shifts"]


def test_same_piece_weighs_less_at_a_higher_level(book: dict[str, Rules]) -> None:
    """Law: load is relative to the level: it falls as the level rises; the weight, on one yardstick, stays."""
    medians = [report(book, name, MIDDLE).median for name in LEVELS]
    assert medians == sorted(medians, reverse=True)
    assert {round(report(book, name, sheet("C4:4", "C3:4")).weight, 6) for name in LEVELS} == {
        round(report(book, "advanced", sheet("C4:4", "C3:4")).weight, 6)
    }


def test_weight_rises_with_difficulty(book: dict[str, Rules]) -> None:
    weights = [report(book, "intermediate", draft).weight for draft in (EASY, MIDDLE, HARD)]
    assert weights == sorted(weights) and weights[0] < weights[1] < weights[2]


def test_familiar_bars_count_half(book: dict[str, Rules]) -> None:
    """Law: a bar whose patterns were played before weighs half (levels table: repeats are easier)."""
    bar, left = "C4:1 E4:1 G4:1 E4:1 ", "C3:2 G3:2 "
    found = report(book, "late-beginner", sheet(bar * 9, left * 9))
    assert not found.load[0].familiar and found.load[5].familiar
    fresh = report(book, "late-beginner", sheet(bar, left))
    assert found.load[5].total == pytest.approx(fresh.load[0].total / 2, rel=0.02)


def test_a_killer_bar_stands_out(book: dict[str, Rules]) -> None:
    """Law: one inserted bar far above its piece is named an outlier and a dense spot."""
    calm_r, calm_l = "C5:1 D5:1 E5:1 D5:1 ", "C3:2 G3:2 "
    right = calm_r * 6 + "C4+E4+G4:1/4 B5:1/4 D4+F#4+A4:1/4 C6:1/4 " * 4 + calm_r * 6
    left = calm_l * 6 + "C2:1/2 C4+E4+A#4:1/2 " * 4 + calm_l * 6
    found = report(book, "intermediate", sheet(right, left, quarters=96))
    assert found.load[6].outlier and found.load[6].over_budget
    assert found.load[6].total == max(bar.total for bar in found.load)
    assert [s.number for s in found.spots if s.kind == "dense"] == ["7"]


def test_combined_budget(book: dict[str, Rules]) -> None:
    """Law: a bar at the limit in more things than the level allows at once is over the budget."""
    crowded = sheet("C4+A4:1/2 D4+B4:1/2 " * 4, "C3+E3+G3:1/2 G2+E3:1/2 " * 4, quarters=110)
    found = report(book, "late-beginner", crowded)
    assert found.load[0].over_budget and len(found.load[0].at_limit) > book["late-beginner"].level.at_limit_per_bar
    assert "budget" in {b.what for b in found.soft}


def test_single_notes_are_never_at_the_limit_of_notes(book: dict[str, Rules]) -> None:
    """Law: where a level allows one note a hand, one note is nothing to count."""
    assert dict(report(book, "first-year", EASY).load[0].parts)["notes at once"] == 0.0


def test_estimate_follows_difficulty(book: dict[str, Rules]) -> None:
    """Law: five fingers over held roots are first-year; a run of full chords and leaping octaves is late-intermediate or more."""
    easy, middle, hard = (estimate_level(draft, book["intermediate"]) for draft in (EASY, MIDDLE, HARD))
    assert easy.level == "first-year"
    assert easy.place < middle.place < hard.place
    assert middle.level in ("late-beginner", "early-intermediate", "intermediate")
    assert hard.level in ("late-intermediate", "advanced")


def test_estimate_is_the_same_whatever_level_is_asked(book: dict[str, Rules]) -> None:
    """Law: what a piece is does not depend on what it is judged against."""
    assert {report(book, name, MIDDLE).estimate.level for name in LEVELS} == {estimate_level(MIDDLE, book["advanced"]).level}


def test_place_on_a_scale() -> None:
    scale = (1.0, 2.0, 4.0)
    assert [place(v, scale) for v in (0.5, 1.0, 1.5, 2.0, 3.0, 4.0)] == [0.5, 1.0, 1.5, 2.0, 2.5, 3.0]
    assert place(400.0, scale) == 4.0


def test_empty_sheet(book: dict[str, Rules]) -> None:
    """Law: silence is judged too, and weighs nothing."""
    found = report(book, "first-year", sheet("r:4", "r:4"))
    assert found.median == 0.0 and found.spots == () and found.playable


def _share(found: Report, bar: int, dimension: str) -> float:
    return dict(found.load[bar].parts)[dimension]


def test_middle_c_is_no_ledger_load(book: dict[str, Rules]) -> None:
    """Law: middle C, where primers begin, weighs nothing; B3 in the right hand's place and A5 above the staff do (common practice)."""
    found = report(book, "first-year", sheet("C4:4 A5:4 C4:4", "C3:4 C3:4 C3:4"))
    assert [_share(found, bar, "ledger lines") for bar in range(3)] == [0.0, 1.0, 0.0]


def test_a_held_bar_is_no_note_value(book: dict[str, Rules]) -> None:
    """Law: a hand that holds the whole bar adds nothing to counting; one that moves in a third value adds (levels table)."""
    held = report(book, "first-year", sheet("C4:2 E4:1 G4:1/2 F4:1/2", "C3:4"))
    moving = report(book, "first-year", sheet("C4:2 E4:1 G4:1/2 F4:1/2", "C3:3 G2:1"))
    assert _share(held, 0, "rhythm") < _share(moving, 0, "rhythm")
