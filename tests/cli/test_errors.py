"""What goes wrong is told in one sentence, with the right exit status, and nothing is written."""

from __future__ import annotations

import zipfile
from pathlib import Path

import pytest

from reduce.cli import run


def listing(folder: Path) -> list[str]:
    return sorted(str(path.relative_to(folder)) for path in folder.rglob("*"))


def refused(folder: Path, capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, list[str]]:
    """Exit status and sentences of a run that writes nothing and says nothing on stdout."""
    before = listing(folder)
    status = run(arguments)
    told = capsys.readouterr()
    assert told.out == ""
    assert listing(folder) == before
    assert "Traceback" not in told.err
    return status, told.err.strip().splitlines()


def test_a_missing_file(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Exit status 3, the name in the sentence."""
    status, told = refused(here, capsys, "draft", "nowhere.mxl")
    assert (status, len(told)) == (3, 1)
    assert "nowhere.mxl" in told[0]


@pytest.mark.parametrize(
    "content", [b"Dear Sir, please find enclosed", b"", b"\x00\xff\xfe\x01", b"<html><body/></html>", b"<score-partwise><part>"]
)
def test_a_file_that_is_no_score(here: Path, capsys: pytest.CaptureFixture[str], content: bytes) -> None:
    """Text, nothing, noise, another kind of markup or half a score under a score's name: exit status 3."""
    (here / "letter.musicxml").write_bytes(content)
    status, told = refused(here, capsys, "draft", "letter.musicxml")
    assert (status, len(told)) == (3, 1)
    assert "letter.musicxml" in told[0]


def test_a_truncated_archive(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Half a download: exit status 3."""
    with zipfile.ZipFile(here / "whole.mxl", "w", zipfile.ZIP_DEFLATED) as archive:
        archive.write(here / "tune.musicxml", "tune.musicxml")
    whole = (here / "whole.mxl").read_bytes()
    (here / "half.mxl").write_bytes(whole[: len(whole) // 2])
    status, told = refused(here, capsys, "draft", "half.mxl")
    assert (status, len(told)) == (3, 1)
    assert "half.mxl" in told[0]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("draft", "tune.musicxml", "--level", "advancd"), "no level 'advancd' (did you mean 'advanced'?); the levels are first-year,"),
        (("draft", "tune.musicxml", "--bars", "90-99"), "90"),
        (("draft", "tune.musicxml", "--bars", "soon"), "soon"),
        (("draft", "tune.musicxml", "--key", "H"), "H"),
        (("draft", "tune.musicxml", "--movement", "7"), "7"),
        (("draft", "tune.musicxml", "--span", "5"), "A span of 5 mm is no hand"),
        (("draft", "tune.musicxml", "--span", "wide"), "'wide' is not a valid float"),
        (("draft", "tune.musicxml", "--rules", "none"), "There is no rules folder none"),
        (("draft", "tune.musicxml", "--profile", "none"), "There is no profile none"),
        (("draft", "tune.musicxml", "--out", "tune.musicxml"), "is a file"),
        (("draft", "tune.musicxml", "tune.musicxml"), "Two scores would be written to tune-late-beginner"),
        (("draft",), "SCORE"),
        (("drat", "tune.musicxml"), "drat"),
        (("draft", "tune.musicxml", "--levl", "x"), "--level"),
        (("levels", "advancd"), "did you mean 'advanced'"),
        (("levels", "--profile", "x"), "A profile lies over one level"),
        (("why", "."), "is not a draft folder"),
        (("why", "nowhere"), "is not a draft folder"),
    ],
)
def test_wrong_usage(here: Path, capsys: pytest.CaptureFixture[str], arguments: tuple[str, ...], words: str) -> None:
    """Exit status 2, one sentence that says what and what to do."""
    status, told = refused(here, capsys, *arguments)
    assert (status, len(told)) == (2, 1), told
    assert words in told[0]


def test_a_rule_file_with_three_mistakes(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """All three at once, one sentence each."""
    level = here / "mine" / "levels" / "advanced.toml"
    level.parent.mkdir(parents=True)
    level.write_text('span-lft = 9\nspan-right = "wide"\npedal = "lots"\n', encoding="utf-8")
    status, told = refused(here, capsys, "draft", "tune.musicxml", "--level", "advanced", "--rules", "mine")
    assert (status, len(told)) == (2, 3)
    expected = [f"mine/levels/advanced.toml, {key}" for key in ("span-lft", "span-right", "pedal")]
    assert [sentence.split(": ")[0] for sentence in told] == expected


def test_our_own_mistake_is_told_too(here: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    """A fault of the program is one sentence with its place, never a traceback; REDUCE_DEBUG shows it whole."""

    def broken(*_: object, **__: object) -> None:
        raise KeyError("hand")

    monkeypatch.setattr("reduce.pipeline.draft", broken)
    status, told = refused(here, capsys, "draft", "tune.musicxml")
    assert (status, len(told)) == (1, 1)
    assert "This is a mistake of the program, not yours (KeyError: 'hand' at test_errors.py:" in told[0]
    monkeypatch.setenv("REDUCE_DEBUG", "1")
    with pytest.raises(KeyError):
        run(["draft", "tune.musicxml"])
