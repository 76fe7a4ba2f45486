"""Piano versions made by people are called playable by their level's hand.

Pieces: orchestral dances with a human piano version, in a folder beside the checkout; skipped without it.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from reduce import rulebook
from reduce.hands.check import check
from reduce.hands.report import Report
from reduce.read import load
from reduce.read.piano import as_draft

FOLDER = Path(__file__).parents[3] / "shared" / "corpus" / "pairs"
PIECES = sorted(FOLDER.glob("*.human.mxl")) if FOLDER.is_dir() else []
RULES = rulebook.load("late-intermediate")

pytestmark = pytest.mark.skipif(not PIECES, reason="no human versions beside the checkout")


def judged(path: Path) -> Report:
    draft = as_draft(load(path, RULES.instruments))
    assert draft is not None
    return check(draft, RULES.level, RULES)


@pytest.mark.parametrize("path", PIECES, ids=lambda path: path.name.split(".")[0])
def test_playable_at_late_intermediate(path: Path) -> None:
    """Law: octave hands and four notes a hand: no bar in twenty is too wide, too full or needs one key twice."""
    report = judged(path)
    refused = {b.bar for b in report.hard if b.what in ("span", "crowd", "clash")}
    assert len(refused) <= len(report.load) / 20
    assert report.estimate.level in ("intermediate", "late-intermediate")


def test_most_have_no_such_bar_at_all() -> None:
    assert sum(judged(path).playable for path in PIECES) >= 0.75 * len(PIECES)


@pytest.mark.parametrize("path", PIECES, ids=lambda path: path.name.split(".")[0])
def test_the_list_of_hard_spots_stays_short(path: Path) -> None:
    """Law: a page (some 24 bars) of music that a person wrote for the hands has four named spots at most."""
    report = judged(path)
    assert len(report.spots) <= max(4.0, 4 * len(report.load) / 24)
