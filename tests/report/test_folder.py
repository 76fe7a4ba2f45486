"""The draft folder: whole or not at all, and never over a person's work."""

from __future__ import annotations

import hashlib
import os
from pathlib import Path

import pytest

from reduce.model.errors import UsageError
from reduce.report import draft_folder, write_folder
from reduce.report.folder import MANIFEST

FILES = {"draft.musicxml": b"<one/>", "decisions.jsonl": b"{}\n"}


def held(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in sorted(folder.iterdir()) if path.name != MANIFEST}


def test_a_draft_is_written_and_written_again(tmp_path: Path) -> None:
    """What the tool wrote it may write again; nothing else is left beside it."""
    target = tmp_path / "here" / "draft"
    write_folder(target, FILES)
    write_folder(target, {"draft.musicxml": b"<two/>"})
    assert held(target) == {"draft.musicxml": b"<two/>"}
    assert [path.name for path in target.parent.iterdir()] == ["draft"]


def test_an_edited_draft_is_kept(tmp_path: Path) -> None:
    """A changed file stops the run and is named; --replace means it."""
    target = tmp_path / "draft"
    write_folder(target, FILES)
    (target / "draft.musicxml").write_bytes(b"<mine/>")
    with pytest.raises(UsageError, match=r"was edited by hand \(draft.musicxml\): name another folder with --out, or say --replace"):
        write_folder(target, FILES)
    assert held(target)["draft.musicxml"] == b"<mine/>"
    write_folder(target, FILES, replace=True)
    assert held(target) == FILES


def test_a_persons_own_files_stay(tmp_path: Path) -> None:
    """Choices, notes and pictures put into the folder outlive every run."""
    target = tmp_path / "draft"
    write_folder(target, FILES)
    (target / "choices.toml").write_text("mine", encoding="utf-8")
    (target / "pictures").mkdir()
    (target / "pictures" / "a.png").write_bytes(b"png")
    write_folder(target, FILES)
    assert (target / "choices.toml").read_text(encoding="utf-8") == "mine"
    assert (target / "pictures" / "a.png").read_bytes() == b"png"


def test_a_folder_that_is_no_draft_is_left_alone(tmp_path: Path) -> None:
    """Neither somebody's documents nor a file is written over."""
    (tmp_path / "letter.txt").write_text("dear", encoding="utf-8")
    with pytest.raises(UsageError, match="holds files that are not a draft"):
        write_folder(tmp_path, FILES)
    with pytest.raises(UsageError, match="is a file"):
        write_folder(tmp_path / "letter.txt", FILES)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["letter.txt"]


def test_a_failure_leaves_the_earlier_draft(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the disk is full the earlier draft stands, whole."""
    target = tmp_path / "draft"
    write_folder(target, FILES)

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(UsageError, match="No space left on device"):
        write_folder(target, {"draft.musicxml": b"<two/>"})
    assert held(target) == FILES
    assert [path.name for path in tmp_path.iterdir()] == ["draft"]


def test_without_the_one_step_exchange_two_steps_do(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Systems that cannot exchange folders rename twice, with the same result."""
    monkeypatch.setattr("reduce.report.folder._exchanged", lambda *_: False)
    target = tmp_path / "draft"
    write_folder(target, FILES)
    write_folder(target, {"draft.musicxml": b"<two/>"})
    assert held(target) == {"draft.musicxml": b"<two/>"}
    assert [path.name for path in tmp_path.iterdir()] == ["draft"]


def test_the_manifest_is_that_of_the_usual_checksum_tools(tmp_path: Path) -> None:
    """Two blanks between digest and name (GNU coreutils, sha256sum)."""
    write_folder(tmp_path / "draft", {"a": b"x"})
    assert (tmp_path / "draft" / MANIFEST).read_text(encoding="utf-8") == f"{hashlib.sha256(b'x').hexdigest()}  a\n"


@pytest.mark.parametrize(
    ("score", "folder"),
    [("x/Op.67_1.mxl", "Op.67_1-advanced"), ("waltz.musicxml", "waltz-advanced"), ("Suite.XML", "Suite-advanced"), ("a.b", "a.b-advanced")],
)
def test_the_folder_is_named_after_score_and_level(score: str, folder: str) -> None:
    """Beside where the command runs, whatever dots the name has."""
    assert draft_folder(Path(score), "advanced") == Path(folder)
