"""The commands as a teacher types them."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from reduce.cli import run
from tests import tiny
from tests.cli.conftest import TUNE

ROOT = Path(__file__).parents[2]
CONTRACT = {"draft.musicxml", "condensed.musicxml", "decisions.jsonl", "notes.jsonl", "draft.mid", "report.json"}


def test_a_draft_folder_holds_what_the_contract_says(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Six files in a folder named after score and level; one line on stdout."""
    assert run(["draft", "tune.musicxml", "--level", "intermediate", "--no-review"]) == 0
    told = capsys.readouterr()
    folder = here / "tune-intermediate"
    assert {path.name for path in folder.iterdir() if not path.name.startswith(".")} >= CONTRACT
    assert told.out.startswith("tune-intermediate: Intermediate, bars 1–4 (4), ")
    assert told.err == ""
    facts = json.loads((folder / "report.json").read_text(encoding="utf-8"))
    assert facts["settings"]["level"] == "intermediate"
    assert sum(facts["counts"]["fates"].values()) == facts["source"]["notes"] == 12


def test_equal_runs_give_equal_bytes(here: Path) -> None:
    """Law 5: same input, same rules, same version: byte-identical files, in another process too."""
    assert run(["draft", "tune.musicxml", "--out", "one"]) == 0
    command = [sys.executable, "-m", "reduce", "draft", "tune.musicxml", "--out", "two"]
    subprocess.run(command, check=True, cwd=here, env={"PYTHONPATH": str(ROOT), "PYTHONHASHSEED": "11", "PATH": ""}, capture_output=True)
    one, two = ({path.name: path.read_bytes() for path in (here / name).iterdir()} for name in ("one", "two"))
    assert sorted(one) == sorted(two)
    assert [name for name in one if one[name] != two[name]] == []


def test_an_edited_folder_stops_the_run(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """What a person changed is never written over silently."""
    assert run(["draft", "tune.musicxml"]) == 0
    edited = here / "tune-late-beginner" / "draft.musicxml"
    edited.write_bytes(edited.read_bytes() + b"<!-- mine -->")
    assert run(["draft", "tune.musicxml"]) == 2
    assert "was edited by hand (draft.musicxml)" in capsys.readouterr().err
    assert edited.read_bytes().endswith(b"<!-- mine -->")
    assert run(["draft", "tune.musicxml", "--replace"]) == 0


def test_one_failure_does_not_stop_a_batch(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The good ones are drafted, the bad one is told, exit status 1."""
    (here / "bad.musicxml").write_text("no score", encoding="utf-8")
    (here / "other.musicxml").write_bytes(tiny.musicxml(TUNE, "Other"))
    assert run(["draft", "tune.musicxml", "bad.musicxml", "other.musicxml", "--out", "all"]) == 1
    told = capsys.readouterr()
    assert told.out.splitlines()[-1] == "2 drafted, 1 failed."
    assert "bad.musicxml" in told.err
    assert sorted(path.name for path in (here / "all").iterdir()) == ["other-late-beginner", "tune-late-beginner"]


def test_answers_as_json(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Every command that tells facts tells them to machines too."""
    assert run(["draft", "tune.musicxml", "--json", "--bars", "2-3"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert (answer["failed"], answer["drafts"][0]["folder"]) == ([], "tune-late-beginner")
    assert answer["drafts"][0]["settings"]["bars"] == "2-3"
    assert (answer["drafts"][0]["draft"]["first_bar"], answer["drafts"][0]["draft"]["last_bar"]) == ("2", "3")
    assert run(["parts", "tune.musicxml", "--json"]) == 0
    assert [part["name"] for part in json.loads(capsys.readouterr().out)["parts"]] == ["Violin 1", "Cello"]
    assert run(["levels", "--json"]) == 0
    assert len(json.loads(capsys.readouterr().out)) == 6
    assert run(["levels", "advanced", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["settings"]["span-left"]["value"] == 14
    assert run(["why", "tune-late-beginner", "--json"]) == 0
    assert all(row["sentence"] for row in json.loads(capsys.readouterr().out))


def test_why_tells_of_a_bar(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The reasons that touch a bar, in lines that fit."""
    run(["draft", "tune.musicxml"])
    capsys.readouterr()
    assert run(["why", "tune-late-beginner", "--bar", "2", "--full"]) == 0
    text = capsys.readouterr().out
    assert "Violin 1" in text
    assert max(map(len, text.splitlines())) <= 88
    assert run(["why", "tune-late-beginner", "--bar", "77"]) == 2


def test_parts_tells_how_each_part_sounds(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Name, number of notes, range at sounding pitch."""
    assert run(["parts", "tune.musicxml"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[1] == "MusicXML, 2 parts, bars 1–4, 3/4, 12 notes"
    assert next(line.split() for line in lines if line.startswith("Cello"))[-4:] == ["6", "G2–D3", "as", "written"]
    assert lines[-1] == "Everything was understood."


def test_levels_with_an_arrangers_rules(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """What is in force is shown with where it comes from."""
    (here / "mine" / "levels").mkdir(parents=True)
    (here / "mine" / "levels" / "small-hands.toml").write_text('extends = "intermediate"\nspan-left = 9\n', encoding="utf-8")
    assert run(["levels", "--rules", "mine"]) == 0
    assert "small-hands  " in capsys.readouterr().out
    assert run(["levels", "small-hands", "--rules", "mine"]) == 0
    text = capsys.readouterr().out
    assert "span-left: 9 semitones\n    the widest interval struck or held together by the left hand; source: the arranger's\n" in text


def test_help_answers_at_once() -> None:
    """Under 0.15 s on an idle machine; processor time counts, not the wait for it, and the best of five gets twice that."""

    def seconds() -> float:
        before = os.times()
        subprocess.run([sys.executable, "-m", "reduce", "--help"], check=True, capture_output=True, cwd=ROOT)
        after = os.times()
        return after.children_user + after.children_system - before.children_user - before.children_system

    assert min(seconds() for _ in range(5)) < 0.3


def test_help_needs_no_heavy_library() -> None:
    """Nothing that reads, computes or engraves is loaded to show the help."""
    heavy = {"lxml", "music21", "networkx", "numpy", "verovio"}
    code = f"import sys; from reduce.cli import run; run(['--help']); print(sorted({heavy} & set(sys.modules)))"
    shown = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True, cwd=ROOT)
    assert shown.stdout.splitlines()[-1] == "[]"


def test_the_package_offers_draft() -> None:
    """``import reduce`` is light; ``reduce.draft`` is there when asked for."""
    code = "import sys, reduce; before = 'reduce.pipeline' in sys.modules; reduce.draft; print(before, 'reduce.pipeline' in sys.modules)"
    shown = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True, cwd=ROOT)
    assert shown.stdout.strip() == "False True"
