"""A pupil's profile: what this one reads and reaches, laid over the level.

A profile is a TOML file with any level setting as ``name = value``, and four plain words more::

    name = "Tuesday, half past four"
    span = 150                 # millimetres, the same as hand-span
    pedal = false              # the same as pedal = "none"
    avoid = ["ties", "triplets"]
"""

from __future__ import annotations

import dataclasses
from pathlib import Path

from reduce.model.rules import Value
from reduce.rulebook.family import changed
from reduce.rulebook.faults import Faults
from reduce.rulebook.files import opened
from reduce.rulebook.level import FIELDS
from reduce.rulebook.records import LevelPage

AVOID: dict[str, tuple[str, Value]] = {
    "ties": ("ties", False),
    "eighths": ("eighths", "never"),
    "triplets": ("triplets", False),
    "dotted eighths": ("dotted-eighth", False),
    "sixteenths": ("sixteenths", "never"),
    "syncopation": ("syncopation", "never"),
    "cross-rhythm": ("cross-rhythm", "never"),
    "hairpins": ("hairpins", False),
    "ornaments": ("ornaments", "none"),
    "ottava": ("ottava", False),
}
"""What a profile may avoid, and the level setting behind it."""

WORDS = ("name", "span", "pedal", "avoid")


def laid_over(page: LevelPage, path: Path, faults: Faults) -> tuple[LevelPage, str]:
    """The level with the pupil's settings over it, and the pupil's name ('the pupil' where none is given)."""
    file = str(path)
    rows = opened(path, faults)
    pupil = str(rows.pop("name", "the pupil"))
    wishes: dict[str, object] = {}
    for word in _words(rows.pop("avoid", []), file, faults):
        if word in AVOID:
            setting, value = AVOID[word]
            wishes[setting] = value
        else:
            faults.unknown(file, "avoid", word, AVOID, "thing to avoid called")
    if "span" in rows:
        wishes["hand-span"] = rows.pop("span")
    if rows.get("pedal") is False:
        rows["pedal"] = "none"
    elif rows.get("pedal") is True:
        rows.pop("pedal")  # the level says how
    settings = {setting.name: setting for setting in page.settings}
    for key, raw in (wishes | rows).items():
        if key not in settings:
            faults.unknown(file, key, key, (*WORDS, *FIELDS), "entry of a profile")
            continue
        new = changed(settings[key], raw, file, key, faults)
        settings[key] = dataclasses.replace(new, source=f"profile of {pupil}")
    return dataclasses.replace(page, settings=tuple(settings.values())), pupil


def _words(raw: object, file: str, faults: Faults) -> list[str]:
    if isinstance(raw, list) and all(isinstance(word, str) for word in raw):
        return raw
    faults.add(file, "avoid", f'{raw!r} should be a list of words, as in ["ties"]')
    return []
