"""The arranger's choices, read back on every run."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from reduce.cli import run

FIRST_BAR = "[[choice]]\nbars = '1'\nmelody = 'Cello'\nreason = 'my pupils know the bass'\n"


def decided(folder: Path) -> list[dict[str, object]]:
    rows = (folder / "decisions.jsonl").read_text(encoding="utf-8").splitlines()
    return [row for row in map(json.loads, rows) if row["by"] == "arranger"]


def test_choices_beside_the_draft_are_obeyed_on_every_run(here: Path) -> None:
    """choices.toml in the draft folder needs no option, stays there, and is told as the arranger's."""
    assert run(["draft", "tune.musicxml", "--out", "draft"]) == 0
    assert decided(here / "draft") == []
    (here / "draft" / "choices.toml").write_text(FIRST_BAR, encoding="utf-8")
    for _ in range(2):
        assert run(["draft", "tune.musicxml", "--out", "draft"]) == 0
        assert [row["kind"] for row in decided(here / "draft")] == ["melody"]
    assert (here / "draft" / "choices.toml").read_text(encoding="utf-8") == FIRST_BAR


def test_a_choices_file_can_be_named(here: Path) -> None:
    """--choices wins over the folder's own file."""
    (here / "mine.toml").write_text(FIRST_BAR, encoding="utf-8")
    assert run(["draft", "tune.musicxml", "--choices", "mine.toml", "--out", "draft"]) == 0
    assert len(decided(here / "draft")) == 1


def test_faults_of_a_choices_file_are_told_at_once(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Exit status 2, a sentence a fault, nothing written."""
    (here / "mine.toml").write_text("[[choice]]\nbars = '1'\nmelodie = 'Cello'\n[[choice]]\nlock = true\n", encoding="utf-8")
    assert run(["draft", "tune.musicxml", "--choices", "mine.toml"]) == 2
    told = capsys.readouterr().err.strip().splitlines()
    assert len(told) == 3
    assert "did you mean 'melody'" in told[0]
    assert run(["draft", "tune.musicxml", "--choices", "none.toml"]) == 2
    assert [path.name for path in here.iterdir() if path.is_dir()] == []
