"""What the first run leaves of the default rules, for the next ones."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from reduce import rulebook
from reduce.rulebook.faults import Faults
from reduce.rulebook.files import family_files, home, opened


@pytest.fixture
def left(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty cache folder."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    return tmp_path


def test_what_was_left_says_what_the_file_says(left: Path) -> None:
    """The judge is the standard library's TOML reader."""
    for path in (*family_files(home()), *sorted((home() / "levels").glob("*.toml"))):
        told = tomllib.loads(path.read_text(encoding="utf-8"))
        assert [told, told] == [opened(path, Faults()), opened(path, Faults())]
        assert list(told) == list(opened(path, Faults()))
    assert any(left.rglob("voicing-*.json"))


def test_what_is_damaged_or_belongs_to_another_text_is_not_read(left: Path) -> None:
    rules = rulebook.load("advanced")
    for kept in left.rglob("*.json"):
        kept.write_text(kept.read_text()[:-1])
    assert rules == rulebook.load("advanced")
    for kept in left.rglob("*.json"):
        kept.rename(kept.with_name(kept.name.replace("-", "-0")))
    assert rules == rulebook.load("advanced")


def test_rules_are_read_where_nothing_can_be_left(left: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file stands where the folder should be."""
    (left / "full").write_text("")
    rules = rulebook.load("advanced")
    monkeypatch.setenv("XDG_CACHE_HOME", str(left / "full"))
    assert rules == rulebook.load("advanced")
