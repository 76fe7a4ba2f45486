"""``reduce check`` on piano pieces that a person wrote."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from reduce.cli import run
from tests import tiny

WIDE = """
meter 4/4
tempo 80
right | c5:4 e5 g5 e5   | c5:1         |
left  | <c3 e4>:1       | <c3 g3>:1    |
"""


@pytest.fixture
def piece(here: Path) -> Path:
    """Two bars for two hands; the left is asked for a tenth (16 semitones) in bar 1."""
    path = here / "piece.musicxml"
    path.write_bytes(tiny.musicxml(WIDE, "Two bars"))
    return path


def test_a_stretch_is_found_with_bar_hand_size_and_limit(piece: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A tenth is beyond every level's span (a ninth at advanced); no log is needed."""
    assert run(["check", str(piece), "--level", "advanced", "--json"]) == 0
    facts = json.loads(capsys.readouterr().out)
    spans = [breach for breach in facts["breaches"] if breach["what"] == "span"]
    told = [tuple(breach[key] for key in ("bar", "hand", "measured", "limit", "unit", "hard")) for breach in spans]
    assert told == [("1", "left", 16, 14, "semitones", True)]
    assert [bar["bar"] for bar in facts["load"]] == ["1", "2"]


def test_strict_makes_a_hard_breach_a_failure(piece: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Exit status 1 only when asked for; the text defers to teacher and physician where a hand is overstretched."""
    assert run(["check", str(piece), "--level", "advanced"]) == 0
    text = capsys.readouterr().out
    assert "Hard breaches\n  • Bar 1, left hand: " in text
    assert "physician" in text
    assert max(map(len, text.splitlines())) <= 88
    assert run(["check", str(piece), "--level", "advanced", "--strict"]) == 1


def test_an_orchestral_score_is_not_judged(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Three parts are no piano piece: exit status 3 and a sentence."""
    (here / "trio.musicxml").write_bytes(tiny.musicxml("Oboe | c5:1 |\nViolin | e4:1 |\nCello | c3:1 |"))
    assert run(["check", "trio.musicxml"]) == 3
    assert "trio.musicxml is no piano piece on two staves" in capsys.readouterr().err


def test_our_own_draft_is_judged_as_its_report_says(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The file alone gives the verdict that the run gave."""
    run(["draft", "tune.musicxml", "--level", "intermediate"])
    capsys.readouterr()
    told = json.loads((here / "tune-intermediate" / "report.json").read_text(encoding="utf-8"))
    assert run(["check", "tune-intermediate/draft.musicxml", "--level", "intermediate", "--json"]) == 0
    judged = json.loads(capsys.readouterr().out)
    assert judged["breaches"] == told["breaches"]
    assert judged["load"] == told["load"]
