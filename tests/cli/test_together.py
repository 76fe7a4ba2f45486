"""Drafts of one excerpt for several levels that can be played together."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from lxml import etree

from reduce.cli import run
from reduce.report import folder as folders
from tests import tiny

SAMPLES = Path(__file__).parents[2] / "samples"
FERRY, WALTZ = SAMPLES / "the-last-ferry.musicxml", SAMPLES / "ferry-landing-waltz.musicxml"
LEVELS = ("first-year", "intermediate", "advanced")
QUICK = "meter 3/8\nkey D major\ntempo 150\nViolin 1 | d5:8 f#5:8 a5:8 | g5:8 e5:16 d5:16 c#5:8 | d5:4. | a4:8 d5:8 e5:8 |\n"
QUICK += "Cello | d3:4. | a2:4. | d3:4. | a2:4. |\n"


def draft(score: Path, out: Path, *more: str, levels: str = ",".join(LEVELS)) -> int:
    return run(["draft", str(score), "--level", levels, "--together", "--no-review", "--out", str(out), *more])


def written(folder: Path) -> dict[str, Any]:
    """Bars, metres, signatures and tempi of a draft, as its file has them."""
    root = etree.fromstring((folder / "draft.musicxml").read_bytes())
    return {
        "bars": root.xpath("//measure/@number"),
        "metres": [(time.findtext("beats"), time.findtext("beat-type")) for time in root.iter("time")],
        "keys": [key.findtext("fifths") for key in root.iter("key")],
        "tempi": root.xpath("//sound/@tempo"),
        "lengths": root.xpath("//measure/@implicit"),
    }


def log(folder: Path) -> list[dict[str, Any]]:
    return [json.loads(line) for line in (folder / "decisions.jsonl").read_text(encoding="utf-8").splitlines()]


@pytest.mark.parametrize(("score", "more"), [(FERRY, ("--key", "auto")), (WALTZ, ()), (FERRY, ("--bars", "9-16", "--key", "G"))])
def test_same_bars_key_and_tempo(score: Path, more: tuple[str, ...], tmp_path: Path) -> None:
    """Law: drafts that are played together have the bars, metre, key and tempo of the easiest of them."""
    assert 0 == draft(score, tmp_path / "class", *more)
    first, *others = (written(tmp_path / "class" / level) for level in LEVELS)
    assert [first] * 2 == others
    assert {*LEVELS, "together.json"} == {path.name for path in (tmp_path / "class").iterdir()}


def test_the_metre_is_shared(tmp_path: Path) -> None:
    """What the easiest level reads in 3/4 instead of 3/8, every level does; the log says what it would have alone."""
    score = tmp_path / "quick.musicxml"
    score.write_bytes(tiny.musicxml(QUICK, "Quick"))
    assert 0 == draft(score, tmp_path / "class")
    for level in LEVELS:
        assert [("3", "4")] == written(tmp_path / "class" / level)["metres"]
    told = [row["sentence"] for row in log(tmp_path / "class" / "advanced") if row["id"] == "metre-together"]
    assert [
        "3/4 in doubled values, as First year has it, so that the drafts can be played together; this level alone would have 3/8."
    ] == told


def test_the_easiest_draft_is_its_own(tmp_path: Path) -> None:
    """The easiest level's draft is what it would be alone, whatever the order the levels are named in."""
    assert 0 == run(["draft", str(WALTZ), "--level", "first-year", "--no-review", "--out", str(tmp_path / "alone")])
    assert 0 == draft(WALTZ, tmp_path / "class", levels="intermediate, first-year,intermediate")
    for name in ("draft.musicxml", "decisions.jsonl", "notes.jsonl"):
        assert (tmp_path / "alone" / name).read_bytes() == (tmp_path / "class" / "first-year" / name).read_bytes()
    assert ["first-year", "intermediate"] == json.loads((tmp_path / "class" / "together.json").read_bytes())["levels"]


def test_the_log_says_why(tmp_path: Path) -> None:
    """Each harder draft tells that bars, tempo and key are the class's, and what it would have by itself."""
    assert 0 == draft(FERRY, tmp_path / "class", "--key", "auto")
    for level in LEVELS[1:]:
        rows = {row["kind"]: row for row in log(tmp_path / "class" / level) if row["rule"] == "together"}
        assert {"cut", "tempo", "key", "rhythm"} == rows.keys()
        assert "4/4 in doubled values, each bar as two, as First year has it" in rows["rhythm"]["sentence"]
        assert all("First year" in row["sentence"] and row["weight"] == "big" for row in rows.values())
        assert ["F♯ minor"] == [other["what"] for other in rows["key"]["rejected"]]
        assert [9, 73] == [rows["cut"]["limit"], rows["cut"]["measured"]]


def test_a_choice_that_leaves_the_class_is_a_doubt(tmp_path: Path) -> None:
    """A cut chosen for one of the harder levels is not followed, and the report says so."""
    choices = tmp_path / "mine.toml"
    choices.write_text('[[choice]]\ncut = "1-4"\nlevel = ["advanced"]\n', encoding="utf-8")
    assert 0 == draft(FERRY, tmp_path / "class", "--choices", str(choices))
    doubts = json.loads((tmp_path / "class" / "advanced" / "report.json").read_bytes())["doubts"]
    assert ["First year" in doubt["sentence"] for doubt in doubts if doubt["code"] == "choice"] == [True]


def test_all_or_none(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    """Where one draft cannot be written, the others stay as they were: no folder, or the folder of the run before."""
    swap, out = folders._swap, tmp_path / "class"

    def refused(new: Path, target: Path) -> None:
        if target.name == "advanced" and new.name.startswith(".advanced"):
            raise OSError(28, "No space left on device")
        swap(new, target)

    monkeypatch.setattr(folders, "_swap", refused)
    assert 2 == draft(WALTZ, out)
    assert "No space left" in capsys.readouterr().err
    assert [] == list(out.iterdir())
    monkeypatch.setattr(folders, "_swap", swap)
    assert 0 == draft(WALTZ, out)
    before = {path: path.read_bytes() for path in out.rglob("*") if path.is_file()}
    monkeypatch.setattr(folders, "_swap", refused)
    assert 2 == draft(WALTZ, out, "--bars", "1-8")
    assert before == {path: path.read_bytes() for path in out.rglob("*") if path.is_file()}


def test_an_edited_draft_is_not_written_over(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """One edited folder keeps the whole class from being written."""
    assert 0 == draft(WALTZ, tmp_path / "class")
    (tmp_path / "class" / "intermediate" / "draft.musicxml").write_text("mine", encoding="utf-8")
    before = (tmp_path / "class" / "first-year" / "draft.musicxml").read_bytes()
    assert 2 == draft(WALTZ, tmp_path / "class", "--bars", "1-8")
    assert "edited by hand" in capsys.readouterr().err
    assert before == (tmp_path / "class" / "first-year" / "draft.musicxml").read_bytes()


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--level", "first-year", "--together"], "two levels or more"),
        (["--level", "first-year,advanced"], "--together"),
        (["--level", "first-year,simple", "--together"], "simple"),
        ([str(WALTZ), "--level", "first-year,advanced", "--together"], "one score"),
    ],
)
def test_wrong_usage(arguments: list[str], said: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """One sentence each, and nothing is written."""
    assert 2 == run(["draft", str(FERRY), "--out", str(tmp_path / "class"), *arguments])
    assert said in capsys.readouterr().err
    assert not (tmp_path / "class").exists()
