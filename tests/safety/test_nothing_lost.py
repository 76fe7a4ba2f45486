"""Nothing lost: whatever stops a run, the earlier state of a draft folder stands, or the new one; choices are kept."""

from __future__ import annotations

import json
import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from reduce.cli import run
from reduce.model.errors import UsageError
from reduce.report import refresh, tidy, write_file, write_folder
from reduce.report.folder import MANIFEST
from reduce.report.stand_in import stand_in
from tests import tiny
from tests.safety.killed import FIRST, MINE, SECOND
from tests.safety.killed import held as texts

ROOT = Path(__file__).parents[2]
LINUX = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="folders are exchanged in one step on Linux only")
POSIX = pytest.mark.skipif(os.name != "posix", reason="signals and limits of POSIX")
TUNE = """
meter 3/4
key G major
Violin 1 | d5:2.      | g5:4 f#5 e5 | d5:2. | g5     |
Cello    | g2:4 d3 b2 | c3:2.       | d3    | g2     |
"""
CHOICE = b'[[choice]]\nbars = "1-2"\nmelody = "Violin 1"\nreason = "the tune"\n'


def python(*arguments: str) -> subprocess.Popen[bytes]:
    """A Python of its own, in the checkout."""
    paths = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONDONTWRITEBYTECODE": "1"}
    return subprocess.Popen([sys.executable, *arguments], env=paths, stdout=subprocess.PIPE, stderr=subprocess.PIPE)


def drafting(here: Path, level: str) -> subprocess.Popen[bytes]:
    return python("-m", "reduce", "draft", str(here / "tune.musicxml"), "--level", level, "--out", str(here / "draft"), "--no-review")


def held(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in sorted(folder.iterdir())}


@pytest.fixture
def here(tmp_path: Path) -> Path:
    """A folder with a score, its first-year draft and the arranger's choices."""
    (tmp_path / "tune.musicxml").write_bytes(tiny.musicxml(TUNE, "Tune"))
    (tmp_path / "draft").mkdir()
    (tmp_path / "draft" / "choices.toml").write_bytes(CHOICE)
    assert (
        run(
            [
                "draft",
                str(tmp_path / "tune.musicxml"),
                "--level",
                "first-year",
                "--out",
                str(tmp_path / "draft"),
                "--no-review",
                "--replace",
            ]
        )
        == 0
    )
    return tmp_path


def states(here: Path) -> list[dict[str, bytes]]:
    """What the folder holds as a first-year draft and as an advanced one; it is left as the former."""
    found = []
    for level in ("advanced", "first-year"):
        assert run(["draft", str(here / "tune.musicxml"), "--level", level, "--out", str(here / "draft"), "--no-review"]) == 0
        found.append(held(here / "draft"))
    assert found[0] != found[1]
    return found


@POSIX
@pytest.mark.parametrize("way", [pytest.param("", marks=LINUX), "two-steps"])
def test_killed_at_every_touch_of_the_disk(way: str, tmp_path: Path) -> None:
    """At each of them the folder is the earlier one or the new one; in two steps it may be away, and the next run puts it back."""
    told, faults = python("-m", "tests.safety.killed", str(tmp_path), *way.split()).communicate(timeout=60)
    rows = [json.loads(line) for line in told.splitlines()]
    assert (b"", True, True) == (faults, len(rows) > 25, rows[-1]["ended"])
    allowed = [{name: content.decode() for name, content in sorted({**files, "choices.toml": MINE}.items())} for files in (FIRST, SECOND)]
    for row in rows:
        assert row["tidied"] in allowed, row
        assert row["held"] in (allowed if not way else [*allowed, None]), row
        assert row["beside"] == ["draft"], row
    assert [allowed[0], allowed[1]] == [rows[0]["held"], rows[-1]["held"]]


@POSIX
def test_killed_at_random_moments(here: Path) -> None:
    """A whole run is killed a dozen times somewhere on its way."""
    allowed, chance = states(here), random.Random(9)
    for attempt in range(12):
        process = drafting(here, ("advanced", "first-year")[attempt % 2])
        time.sleep(chance.uniform(0.05, 0.9))
        process.send_signal(signal.SIGKILL)
        process.communicate()
        assert held(here / "draft") in allowed
    process = drafting(here, "advanced")
    assert (b"", 0) == (process.communicate()[1], process.returncode)
    assert held(here / "draft") == allowed[0]
    assert sorted(path.name for path in here.iterdir()) == ["draft", "tune.musicxml"]


@POSIX
@pytest.mark.parametrize("room", [0, 1_000, 20_000])
def test_disk_full(here: Path, room: int) -> None:
    """Where no file can grow beyond some bytes the run ends with a sentence, and the earlier draft stands."""
    before = held(here / "draft")
    code = (
        f"import resource, sys; resource.setrlimit(resource.RLIMIT_FSIZE, ({room}, {room})); from reduce.cli import run; "
        f"sys.exit(run(['draft', {str(here / 'tune.musicxml')!r}, '--level', 'advanced', '--out', {str(here / 'draft')!r}, '--no-review']))"
    )
    process = python("-c", code)
    told = process.communicate()[1].decode()
    assert (2, 1) == (process.returncode, told.count("\n")), told
    assert "Cannot write" in told
    assert held(here / "draft") == before
    assert sorted(path.name for path in here.iterdir()) == ["draft", "tune.musicxml"]


def test_choices_survive_a_draft_that_cannot_be_written(
    here: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Edits that became choices are kept where the draft itself finds no room; the edited draft stands, and the next run obeys."""
    draft = here / "draft" / "draft.musicxml"
    edited = draft.read_bytes().replace(b"<step>G</step>", b"<step>A</step>", 1)
    draft.write_bytes(edited)

    def full(*_: object, **__: object) -> None:
        raise UsageError("Cannot write: no room.")

    arguments = [
        "draft",
        str(here / "tune.musicxml"),
        "--level",
        "first-year",
        "--out",
        str(here / "draft"),
        "--no-review",
        "--edited",
        str(draft),
    ]
    with monkeypatch.context() as patched:
        patched.setattr("reduce.drafting.write_folder", full)
        assert run(arguments) == 2
    assert draft.read_bytes() == edited
    kept = (here / "draft" / "choices.toml").read_bytes()
    assert kept.startswith(CHOICE)
    assert kept.count(b"[[choice]]") > 1
    assert run(arguments) == 0
    assert (here / "draft" / "choices.toml").read_bytes() == kept
    assert "Cannot write" in capsys.readouterr().err


def test_a_write_protected_folder(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """What a person protected is left alone, whoever runs the tool."""
    before = held(here / "draft")
    (here / "draft").chmod(0o555)
    try:
        assert run(["draft", str(here / "tune.musicxml"), "--out", str(here / "draft"), "--no-review", "--replace"]) == 2
    finally:
        (here / "draft").chmod(0o755)
    assert "is write-protected: name another folder with --out." in capsys.readouterr().err
    assert held(here / "draft") == before


def test_no_place_beside_the_folder(here: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    """A file system that takes nothing: a sentence, and the earlier draft."""
    before = held(here / "draft")

    def refuse(*_: object, **__: object) -> None:
        raise OSError(30, "Read-only file system")

    monkeypatch.setattr("reduce.report.folder.tempfile.mkdtemp", refuse)
    with pytest.raises(UsageError, match="Read-only file system"):
        write_folder(here / "draft", FIRST)
    assert held(here / "draft") == before


@POSIX
def test_two_runs_on_one_folder(here: Path) -> None:
    """Two runs at once: both end well, the folder is one of theirs, whole, and nothing lies beside it."""
    allowed = states(here)
    for _ in range(2):
        runs = [drafting(here, level) for level in ("advanced", "first-year")]
        assert [(b"", 0)] * 2 == [(process.communicate()[1], process.returncode) for process in runs]
        assert held(here / "draft") in allowed
    assert sorted(path.name for path in here.iterdir()) == ["draft", "tune.musicxml"]


WRITER = """
import sys
from pathlib import Path
from reduce.report import write_folder
target, name = Path(sys.argv[1]), sys.argv[2].encode()
for k in range(40):
    write_folder(target, {"draft.musicxml": name * 3000, "report.json": name})
"""


@LINUX
def test_no_moment_shows_a_mixture(tmp_path: Path) -> None:
    """While two runs write one folder, each look into it finds the files of one run; what is saved meanwhile is not lost."""
    target = tmp_path / "draft"
    write_folder(target, {"draft.musicxml": b"a" * 3000, "report.json": b"a"})
    writers = [python("-c", WRITER, str(target), name) for name in "ab"]
    looks = saved = 0
    while any(writer.poll() is None for writer in writers):
        folder = os.open(target, os.O_RDONLY)
        try:
            files = [open_in(folder, name) for name in ("draft.musicxml", "report.json")]
        except FileNotFoundError:
            continue  # cleared away while we looked
        finally:
            os.close(folder)
        looks += 1
        assert files[0] == files[1] * 3000
    assert [b"", b""] == [writer.communicate()[1] for writer in writers]
    assert looks > 10
    assert [path.name for path in tmp_path.iterdir()] == ["draft"]
    writer = python("-c", WRITER, str(target), "c")
    while writer.poll() is None:
        saved += 1
        write_file(target / "choices.toml", str(saved).encode())
    assert b"" == writer.communicate()[1]
    assert (target / "choices.toml").read_bytes() == str(saved).encode()


def open_in(folder: int, name: str) -> bytes:
    with open(name, "rb", opener=lambda path, flags: os.open(path, flags, dir_fd=folder)) as file:
        return file.read()


def test_an_edit_at_the_last_moment_is_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Saved between the first look and the exchange, an edited draft takes the exchange back, and a person's file comes along."""
    from reduce.report import folder

    target, swap = tmp_path / "draft", folder._swap
    write_folder(target, FIRST)

    def late(name: str, content: bytes) -> None:
        def saved(new: Path, there: Path) -> None:
            (target / name).write_bytes(content)
            monkeypatch.setattr(folder, "_swap", swap)
            swap(new, there)

        monkeypatch.setattr(folder, "_swap", saved)

    late("choices.toml", MINE)
    write_folder(target, SECOND)
    assert texts(target) == {name: content.decode() for name, content in sorted({**SECOND, "choices.toml": MINE}.items())}
    late("draft.musicxml", b"<mine/>")
    with pytest.raises(UsageError, match=r"was edited by hand meanwhile \(draft.musicxml\)"):
        write_folder(target, FIRST)
    assert texts(target) == {
        name: content.decode() for name, content in sorted({**SECOND, "draft.musicxml": b"<mine/>", "choices.toml": MINE}.items())
    }
    assert [path.name for path in tmp_path.iterdir()] == ["draft"]


def test_a_page_made_again_is_no_edit(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Stopped anywhere while a page is made again, the folder still counts as the tool's own."""
    from reduce.report import folder

    target, place = tmp_path / "draft", folder.write_file
    for steps in range(4):
        write_folder(target, {**FIRST, "review.html": b"old"})
        left = steps

        def counted(path: Path, content: bytes) -> None:
            nonlocal left
            left -= 1
            if left < 0:
                raise KeyboardInterrupt
            place(path, content)

        monkeypatch.setattr(folder, "write_file", counted)
        if steps < 3:
            with pytest.raises(KeyboardInterrupt):
                refresh(target, "review.html", b"new")
        else:
            refresh(target, "review.html", b"new")
        monkeypatch.setattr(folder, "write_file", place)
        assert (target / "review.html").read_bytes() == (b"old" if steps < 2 else b"new")
        write_folder(target, FIRST)


def test_a_linked_folder_stays_a_link(tmp_path: Path) -> None:
    """A draft folder reached by a link is written where it is."""
    write_folder(tmp_path / "far" / "draft", FIRST)
    (tmp_path / "near").symlink_to(tmp_path / "far" / "draft", target_is_directory=True)
    write_folder(tmp_path / "near", SECOND)
    assert (tmp_path / "near").is_symlink()
    assert texts(tmp_path / "far" / "draft") == {name: content.decode() for name, content in sorted(SECOND.items())}
    assert sorted(path.name for path in tmp_path.rglob("*") if path.name not in (*SECOND, MANIFEST)) == ["draft", "far", "near"]


def test_what_others_are_writing_is_left_alone(tmp_path: Path) -> None:
    """Stand-ins of a process at work, of another machine, and files that only look alike stay."""
    target = tmp_path / "draft"
    write_folder(target, FIRST)
    own = stand_in(target)
    names = [f"{own}x", own.replace(own.split(".")[-1], "00000000-1-x")]
    for name in (*names, ".draft.backup", ".draft.1234"):
        (tmp_path / name).mkdir()
    tidy(target)
    assert {"draft", *names, ".draft.backup", ".draft.1234"} == {path.name for path in tmp_path.iterdir()}
