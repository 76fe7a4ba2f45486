"""Many scores at once: each drafted once, one failure stops nothing, and what has not changed is left as it is."""

from __future__ import annotations

import json
import os
import pathlib
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from reduce import batch, batch_shown
from reduce.cli import run
from reduce.drafting import Wishes
from reduce.report.stand_in import stand_in
from tests import tiny
from tests.safety.families import many_bars

ROOT = Path(__file__).parents[2]
TUNE = """
meter 3/4
key {} major
Violin 1 | d5:2.      | g5:4 f#5 e5 | d5:2. | g5     |
Cello    | g2:4 d3 b2 | c3:2.       | d3    | g2     |
"""
NAMES = ("one", "two", "three")
OWN = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONDONTWRITEBYTECODE": "1"}


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder to run in, with three good scores."""
    monkeypatch.chdir(tmp_path)
    for name, key in zip(NAMES, ("G", "D", "C"), strict=True):
        (tmp_path / f"{name}.musicxml").write_bytes(tiny.musicxml(TUNE.format(key), name))
    return tmp_path


def held(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in sorted(folder.iterdir())}


def answer(capsys: pytest.CaptureFixture[str], *arguments: str, status: int = 0) -> dict[str, str]:
    """What became of each score of a batch in ``all``, by the name of its folder or file."""
    scores = [f"{name}.musicxml" for name in NAMES]
    assert status == run(["draft", *scores, "--out", "all", "--no-review", "--jobs", "1", "--json", *arguments])
    told = json.loads(capsys.readouterr().out)
    rows = [(row["folder"], row["ending"]) for row in told["drafts"]] + [(row["score"], row["ending"]) for row in told["failed"]]
    return {Path(name).name.partition("-")[0].partition(".")[0]: ending for name, ending in rows}


def test_side_by_side_as_one_by_one(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Two processes at a time give the bytes that single runs give; the answer keeps the order asked for."""
    assert 0 == run(["draft", *(f"{name}.musicxml" for name in NAMES), "--out", "all", "--no-review", "--jobs", "2"])
    lines = capsys.readouterr().out.splitlines()
    assert ["score", "result", "bars", "doubts", "seconds", "level"] == lines[0].split()
    assert [[f"{name}.musicxml", "drafted", "4"] for name in NAMES] == [line.split()[:3] for line in lines[1:4]]
    assert "3 drafted, 0 failed." == lines[-1]
    for name in NAMES:
        assert 0 == run(["draft", f"{name}.musicxml", "--out", f"single-{name}", "--no-review"])
        assert held(here / f"single-{name}") == held(here / "all" / f"{name}-late-beginner")


def test_failures_stop_nothing(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """What cannot be read or may not be written over is told in a sentence each; the others are drafted; exit status 1."""
    (here / "two.musicxml").write_text("no score", encoding="utf-8")
    edited = here / "all" / "three-late-beginner"
    assert {"one": "drafted", "two": "refused", "three": "drafted"} == answer(capsys, status=1)
    (edited / "draft.musicxml").write_bytes(b"<mine/>")
    assert {"one": "drafted", "two": "refused", "three": "refused"} == answer(capsys, "--anew", status=1)
    assert b"<mine/>" == (edited / "draft.musicxml").read_bytes()
    assert 1 == run(["draft", *(f"{name}.musicxml" for name in NAMES), "--out", "all", "--no-review", "--jobs", "1"])
    told = capsys.readouterr()
    assert "0 drafted, 1 unchanged, 2 failed." == told.out.splitlines()[-1]
    assert 2 == told.err.count("\n")
    assert "was edited by hand" in told.err


def change_source(here: Path) -> None:
    (here / "two.musicxml").write_bytes(tiny.musicxml(TUNE.format("F"), "two"))


def change_choices(here: Path) -> None:
    choice = '[[choice]]\nbars = "1-2"\nmelody = "Violin 1"\nreason = "the tune"\n'
    (here / "all" / "two-late-beginner" / "choices.toml").write_text(choice, encoding="utf-8")


def lose_a_file(here: Path) -> None:
    (here / "all" / "two-late-beginner" / "notes.jsonl").unlink()


@pytest.mark.parametrize("change", [change_source, change_choices, lose_a_file])
def test_only_what_changed_is_made_again(here: Path, capsys: pytest.CaptureFixture[str], change: Callable[[Path], None]) -> None:
    """Source, choices or a lost file: that score is drafted again, no file of the others is touched; then nothing is left to do."""
    answer(capsys)
    assert dict.fromkeys(NAMES, "unchanged") == answer(capsys)
    before = {path: path.stat().st_mtime_ns for path in (here / "all").rglob("*")}
    change(here)
    assert {"one": "unchanged", "two": "drafted", "three": "unchanged"} == answer(capsys)
    for path, written in before.items():
        if "two-" not in str(path):
            assert written == path.stat().st_mtime_ns
    assert dict.fromkeys(NAMES, "unchanged") == answer(capsys)


def test_what_concerns_all_makes_all_again(here: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    """Other rules, another span, bars or key, pages where there were none, another version."""
    again, still = dict.fromkeys(NAMES, "drafted"), dict.fromkeys(NAMES, "unchanged")
    (here / "mine" / "levels").mkdir(parents=True)
    (here / "mine" / "levels" / "late-beginner.toml").write_text("span-left = 6\n", encoding="utf-8")
    assert again == answer(capsys)
    for wish in (["--rules", "mine"], ["--span", "150"], ["--bars", "1-3"], ["--key", "auto"]):
        assert again == answer(capsys, *wish), wish
        assert still == answer(capsys, *wish), wish
    monkeypatch.setattr(batch, "__version__", "9.9.9")
    assert again == answer(capsys, "--key", "auto")


def test_pages_are_made_where_they_are_missing(here: Path) -> None:
    """A draft without its page and sheet is no longer up to date when they are asked for, nor a sheet on other paper."""
    task = batch.Task(score=here / "one.musicxml", folder=here / "one")
    known = next(iter(batch.draft_all([task], Wishes(level="advanced", reviewed=False)))).facts
    assert known is not None
    rules = known["settings"]["rules_sha256"]
    for wishes in (Wishes(level="advanced"), Wishes(level="advanced", paper="letter")):
        assert batch.up_to_date(task, wishes, rules) is None
        assert "drafted" == batch.draft_one(task, wishes, rules).ending
        assert "unchanged" == batch.draft_one(task, wishes, rules).ending
    assert "unchanged" == batch.draft_one(task, Wishes(level="advanced", reviewed=False), rules).ending


@pytest.mark.skipif(os.name != "posix", reason="processes of POSIX")
def test_what_a_killed_run_left_is_cleared_away(here: Path) -> None:
    """A run that was killed after its draft was in place leaves nothing beside it, though the draft stays as it is."""
    task = batch.Task(score=here / "one.musicxml", folder=here / "all" / "one")
    known = next(iter(batch.draft_all([task], Wishes(level="advanced", reviewed=False)))).facts
    assert known is not None
    gone = subprocess.run([sys.executable, "-c", "import os; print(os.getpid())"], capture_output=True, text=True, check=True)
    own = stand_in(task.folder)
    left = task.folder.parent / (own.removesuffix(f"{os.getpid()}-") + f"{gone.stdout.strip()}-left")
    left.mkdir()
    assert "unchanged" == batch.draft_one(task, Wishes(level="advanced", reviewed=False), known["settings"]["rules_sha256"]).ending
    assert ["one"] == [path.name for path in task.folder.parent.iterdir()]


class Deadly(pathlib.PosixPath if os.name == "posix" else pathlib.WindowsPath):  # type: ignore[misc]
    """A score that takes down the process that looks at it, as a lack of memory would."""

    def stat(self, **more: Any) -> os.stat_result:
        if self.name == "two.musicxml" and os.environ.get("PARENT") != str(os.getpid()):
            os.kill(os.getpid(), signal.SIGKILL)
        return super().stat(**more)


@pytest.mark.skipif(os.name != "posix", reason="signals of POSIX")
def test_a_process_that_dies_stops_nothing(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The score that took its process down is told, the others are drafted."""
    monkeypatch.setenv("PARENT", str(os.getpid()))
    for name in NAMES:  # all but the source as it would be made, so that each source is looked at
        batch.draft_one(batch.Task(score=here / f"{name}.musicxml", folder=here / "all" / name), Wishes(level="advanced", reviewed=False))
        (here / f"{name}.musicxml").write_bytes(tiny.musicxml(TUNE.format("F"), name))
    tasks = [batch.Task(score=Deadly(here / f"{name}.musicxml"), folder=here / "all" / name) for name in NAMES]
    endings = {one.task.folder.name: one for one in batch.draft_all(tasks, Wishes(level="advanced", reviewed=False), jobs=2)}
    found = {name: one.ending for name, one in endings.items()}
    # a score that was finished before the process died is found unchanged when the rest is tried again
    assert {"one": "drafted", "two": "failed", "three": "drafted"} == {k: v.replace("unchanged", "drafted") for k, v in found.items()}
    assert "two.musicxml: the process that drafted it was ended from outside" in endings["two"].why
    assert sorted(NAMES) == sorted(path.name for path in (here / "all").iterdir())


class Terminal:
    """A stream that says it is one."""

    def __init__(self) -> None:
        self.text = ""

    def isatty(self) -> bool:
        return True

    def write(self, text: str) -> int:
        self.text += text
        return len(text)

    def flush(self) -> None:
        """Nothing is held back."""


def test_progress_tells_scores_bars_and_the_end(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """On a terminal a bar grows with the length of the files; elsewhere there is none."""
    tasks = [batch.Task(score=here / f"{name}.musicxml", folder=here / name) for name in NAMES]
    outcomes = [batch.draft_one(task, Wishes(level="advanced", reviewed=False)) for task in tasks]
    screen: Any = Terminal()
    assert outcomes == list(batch_shown.progress(outcomes, tasks, screen))
    assert "3 of 3 scores, 12 bars" in screen.text
    monkeypatch.setattr(Terminal, "isatty", lambda _: False)
    silent: Any = Terminal()
    assert outcomes == list(batch_shown.progress(outcomes, tasks, silent))
    assert "" == silent.text


def test_length_of_a_score(here: Path) -> None:
    """The estimate counts what there is to read: bytes unpacked; folders and pipes are not opened."""
    import zipfile

    with zipfile.ZipFile(here / "packed.mxl", "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("score.xml", " " * 100_000)
    assert [100_000, 2_000, 2_000] == [batch.Task(score=here / name, folder=here).weight for name in ("packed.mxl", ".", "nowhere")]


@pytest.mark.skipif(os.name != "posix", reason="signals of POSIX")
def test_ctrl_c_ends_cleanly(here: Path) -> None:
    """Stopped in the middle: one word, exit status 130, no process and nothing half-done left; the next run finishes the rest."""
    scores = []
    for number in range(6):
        scores.append(here / f"long-{number}.musicxml")
        scores[-1].write_text(many_bars(30 if number < 2 else 200, 3), encoding="utf-8")  # the first are done long before the last
    how = ("--out", "all", "--no-review", "--jobs", "2", "--level", "advanced")
    command = [sys.executable, "-m", "reduce", "draft", *map(str, scores), *how]
    # a shell that runs the tests in its background has them ignore the signal: the process starts with the usual answer to it
    heed = partial(signal.signal, signal.SIGINT, signal.SIG_DFL)
    process = subprocess.Popen(command, env=OWN, stdout=subprocess.PIPE, stderr=subprocess.PIPE, start_new_session=True, preexec_fn=heed)
    until(lambda: any((here / "all").glob("long-*")))
    os.killpg(process.pid, signal.SIGINT)
    told = process.communicate(timeout=30)
    assert (130, b"", b"Stopped.") == (process.returncode, told[0], told[1].strip())
    until(lambda: not alive(process.pid))
    whole = {"condensed.musicxml", "decisions.jsonl", "draft.mid", "draft.musicxml", "notes.jsonl", "report.json", ".written.sha256"}
    done = sorted((here / "all").iterdir())
    assert 1 <= len(done) < 6
    assert [whole] * len(done) == [set(held(folder)) for folder in done]
    finished = subprocess.run(command, env=OWN, capture_output=True, text=True)
    assert "" == finished.stderr
    assert f"{6 - len(done)} drafted, {len(done)} unchanged, 0 failed." == finished.stdout.splitlines()[-1]


def until(true: Callable[[], bool], seconds: float = 30.0) -> None:
    """Waits for something to become true."""
    end = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < end
        time.sleep(0.02)


def alive(group: int) -> bool:
    try:
        os.killpg(group, 0)
    except ProcessLookupError:
        return False
    return True
