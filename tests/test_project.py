"""The project's own files agree with each other."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import reduce

ROOT = Path(__file__).parents[1]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))


def test_every_package_is_in_the_wheel() -> None:
    """The list in pyproject.toml names each folder of modules, and the rules."""
    found = {".".join(path.parent.relative_to(ROOT).parts) for path in (ROOT / "reduce").rglob("*.py")}
    assert set(PROJECT["tool"]["setuptools"]["packages"]) == found | {"reduce.rules", "reduce.rules.levels"}


def test_every_package_says_what_it_is() -> None:
    """Each folder of modules has an __init__.py with a docstring."""
    doors = {path.parent / "__init__.py" for path in (ROOT / "reduce").rglob("*.py")}
    assert [str(door.relative_to(ROOT)) for door in doors if not door.exists() or '"""' not in door.read_text(encoding="utf-8")] == []


def test_one_version() -> None:
    """The package and its metadata carry the same version."""
    assert PROJECT["project"]["version"] == reduce.__version__


def test_every_stage_stands_in_the_import_contract() -> None:
    """A new package has its place on the way through the house."""
    layers = {name for layer in PROJECT["tool"]["importlinter"]["contracts"][0]["layers"] for name in re.findall(r"reduce\.\w+", layer)}
    found = {f"reduce.{path.stem}" for path in (ROOT / "reduce").iterdir() if path.stem not in ("__init__", "__pycache__", "py")}
    assert found == layers


def test_no_file_carries_a_path_of_a_machine() -> None:
    """What is committed works on any machine."""
    texts = [path for pattern in ("reduce/**/*.py", "tests/**/*.py", "rules/**/*.toml", "*.md", ".ci/run") for path in ROOT.glob(pattern)]
    marks = re.compile(r"(?<![\w.])/(?:home|work|root|Users)/\w")
    texts.remove(Path(__file__))
    assert [str(path.relative_to(ROOT)) for path in texts if marks.search(path.read_text(encoding="utf-8"))] == []


def test_readme_has_its_two_commands() -> None:
    """One sets up and drafts a sample that exists, one sets up and runs the tests."""
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    commands = [line for line in text.splitlines() if line.startswith("python3 -m venv")]
    assert len(commands) == 2
    sample = re.search(r"samples/\S+", commands[0])
    assert sample and (ROOT / sample.group()).exists()
    assert commands[1].endswith("-m pytest -n auto")
