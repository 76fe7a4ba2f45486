"""The pack of a class: each level's pack, and for the teacher one score of all with what has to be heard in it."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from reduce import packing, teach
from reduce.analyse.harmony import harmony_of_draft
from reduce.engrave.booklet import Press
from reduce.model.errors import UsageError

TOGETHER = "together.json"


def is_class(folder: Path) -> bool:
    """Whether a folder holds drafts that are played together."""
    return (folder / TOGETHER).is_file()


def pack(folder: Path, wishes: packing.Wishes) -> dict[str, bytes]:
    """The files by name: those of each level's pack after its level's name, ``class.pdf`` and ``class.musicxml``.

    Raises `UsageError` where the drafts in the folder do not belong together, and as `reduce.packing.pack`.
    """
    lessons = [packing.lesson_in(folder / level, wishes) for level in _levels(folder)]
    try:
        group = teach.Company.of(lessons, lambda whole: harmony_of_draft(whole, lessons[-1].rules)[0])
    except ValueError as error:
        raise UsageError(
            f"The drafts in {folder} cannot be played together ({error}): make them again with 'reduce draft --together'."
        ) from None
    made = teach.class_booklet(group)
    rules = lessons[-1].rules
    press = Press(made, rules.level, rules, lambda sheet: packing.written(sheet, rules), wishes.paper)
    files = {"class.pdf": press.pdf(), **packing.music_files(made, press)}
    for lesson in lessons:
        files |= {f"{lesson.rules.level.name}-{name}": content for name, content in packing.printed(lesson, wishes).items()}
    return files


def _levels(folder: Path) -> list[str]:
    try:
        told: Any = json.loads((folder / TOGETHER).read_bytes())
        levels = [str(level) for level in told["levels"]]
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise UsageError(f"{folder / TOGETHER} cannot be read ({error}): make the drafts again with 'reduce draft --together'.") from None
    return levels
