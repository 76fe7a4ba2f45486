"""The rule families: complete, described, with a function behind each rule, and told in rules/README.md."""

from __future__ import annotations

import importlib
import importlib.util
import subprocess
import sys
import time
from pathlib import Path

import pytest

from reduce import rulebook
from reduce.rulebook.files import family_files, home
from reduce.rulebook.records import Rule, Setting
from reduce.rulebook.shown import rules_readme

RULES = rulebook.rules()


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.id)
def test_a_rule_is_described(rule: Rule) -> None:
    """Title, reason, source and example of the rule; meaning and source of each setting, and for a number unit and range."""
    assert [key for key in ("title", "why", "source", "example", "act") if not getattr(rule, key)] == []
    assert [s.name for s in rule.settings if not (s.meaning and s.source)] == []
    numbers = [s for s in rule.settings if any(type(item) in (int, float) for item in _items(s))]
    assert [s.name for s in numbers if not (s.unit and (s.range or s.allowed))] == []


def _items(setting: Setting) -> tuple[object, ...]:
    return setting.value if isinstance(setting.value, tuple) else (setting.value,)


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.id)
def test_a_rule_has_its_act(rule: Rule) -> None:
    """The function (or the method of a class) named as its act exists."""
    assert callable(_named(rule.act)), rule.act


def _named(path: str) -> object:
    """What a dotted path names, or None."""
    parts = path.split(".")
    for end in range(len(parts) - 1, 0, -1):
        name = ".".join(parts[:end])
        if _module(name):
            return _inside(importlib.import_module(name), parts[end:])
    return None


def _module(name: str) -> bool:
    try:
        return importlib.util.find_spec(name) is not None
    except ModuleNotFoundError:  # its parent is no package
        return False


def _inside(thing: object, names: list[str]) -> object:
    """The attribute of an attribute of ``thing``, or None."""
    for name in names:
        thing = getattr(thing, name, None)
    return thing


def test_every_setting_is_read_by_the_code() -> None:
    """No setting is for show: each one's name, or the name of its rule, stands in the package outside the rule book."""
    package = Path(rulebook.__file__).parents[1]
    text = "\n".join(path.read_text(encoding="utf-8") for path in sorted(package.rglob("*.py")) if "rulebook" not in path.parts)
    idle = []
    for rule in RULES:
        for setting in rule.settings:
            key = setting.name.removeprefix(f"{rule.id}.")
            if setting.name not in text and not (rule.id in text or (rule.family in text and key in text)):
                idle.append(setting.name)
    assert idle == []


def test_the_table_of_rules_is_current() -> None:
    """rules/README.md shows the rules as they are; ``python -m reduce.rulebook`` writes it anew."""
    text = (home() / "README.md").read_text(encoding="utf-8")
    current = text == rules_readme(text, RULES)
    assert current, "run: python -m reduce.rulebook"


def test_families_load_quickly() -> None:
    """The whole book in under 40 ms on a machine of 2020 (generous: 150 ms for a busy one)."""
    rulebook.load("advanced")
    best = min(_seconds() for _ in range(3))
    assert best < 0.15


def _seconds() -> float:
    start = time.process_time()
    rulebook.load("advanced")
    return time.process_time() - start


def test_the_fingerprint_is_the_same_in_another_process() -> None:
    """Equal rules give an equal fingerprint, whatever the hash seed."""
    code = "from reduce import rulebook; print(rulebook.load('advanced').fingerprint)"
    surroundings = {"PYTHONHASHSEED": "7", "PYTHONPATH": str(Path(rulebook.__file__).parents[2])}
    other = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, env=surroundings)
    assert other.stdout.strip() == rulebook.load("advanced").fingerprint


def test_every_family_file_holds_rules() -> None:
    """A file of rules/ without a rule would be read by nobody."""
    families = {rule.family for rule in RULES}
    assert {path.stem for path in family_files(home())} == families
