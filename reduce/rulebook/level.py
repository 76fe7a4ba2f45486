"""Reads level files, what they extend, and what is laid over them."""

from __future__ import annotations

import dataclasses
from pathlib import Path
from typing import Any

from reduce.model.level import Level
from reduce.rulebook.family import changed, described
from reduce.rulebook.faults import Faults
from reduce.rulebook.files import level_files, opened, shown
from reduce.rulebook.records import LevelPage, Setting
from reduce.rulebook.values import NOTE_NAME, NOTE_VALUES, midi

HEAD = ("title", "order", "about", "extends")
HARDEST = 6  # settings that differ by level hold so many numbers
FIELDS = tuple(field.name.replace("_", "-") for field in dataclasses.fields(Level) if field.name not in ("name", "title", "order", "pupil"))
"""The settings that a level consists of."""


class Shelf:
    """The level files of the default folder and, over them, those of the arranger's folder."""

    def __init__(self, folder: Path, overlay: Path | None, faults: Faults) -> None:
        self.default = level_files(folder)
        self.overlay = level_files(overlay) if overlay else {}
        self.faults = faults
        self._read: dict[str, LevelPage | None] = {}

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys((*self.default, *self.overlay)))

    def page(self, name: str) -> LevelPage | None:
        """The level of that name with all its settings; None where it could not be read (the faults say why)."""
        if name not in self._read:
            self._read[name] = None  # a level that extends itself finds nothing
            self._read[name] = self._laid(name)
        return self._read[name]

    def _laid(self, name: str) -> LevelPage | None:
        page: LevelPage | None = None
        if path := self.default.get(name):
            page = self._page(path, opened(path, self.faults), None)
        if path := self.overlay.get(name):
            page = self._page(path, opened(path, self.faults), page)
        return page

    def _page(self, path: Path, tables: dict[str, Any], below: LevelPage | None) -> LevelPage | None:
        file, faults = shown(path), self.faults
        base = below
        parent = tables.get("extends")
        if parent is not None:
            others = [name for name in self.names if name != path.stem]
            if parent not in others:
                faults.unknown(file, "extends", str(parent), others, "other level")
            elif (base := self.page(parent)) is None:
                faults.add(file, "extends", f"{parent!r} extends this level in turn, or cannot be read")
        if base is None and path.stem not in self.default:
            if parent is None:
                faults.add(file, "extends", f"a new level has to extend one of {', '.join(self.default)}")
            return None
        settings = {setting.name: setting for setting in base.settings} if base else {}
        for key, raw in tables.items():
            if key in HEAD:
                continue
            if key in settings:
                settings[key] = changed(settings[key], raw, file, key, faults)
            elif key in FIELDS and base is None:
                if setting := described(key, raw, file, key, faults):
                    settings[key] = setting
            else:
                faults.unknown(file, key, key, FIELDS, "level setting")
        title = str(tables.get("title", base.title if base and base is below else path.stem.replace("-", " ").capitalize()))
        order = tables.get("order", base.order if base else 0)
        if type(order) is not int or not 1 <= order <= HARDEST:
            faults.add(file, "order", f"{order!r} should be a whole number, 1 for the easiest to {HARDEST} for the hardest")
            order = 1
        return LevelPage(
            name=path.stem,
            title=title,
            about=str(tables.get("about", base.about if base else "")),
            order=order,
            settings=tuple(settings.values()),
        )


def as_record(page: LevelPage, pupil: str, faults: Faults) -> Level | None:
    """The level as the stages see it, or None where settings are missing (a fault each)."""
    fields: dict[str, Any] = {}
    for setting in page.settings:
        fields[setting.name.replace("-", "_")] = _plain(setting)
    needed = [f for f in dataclasses.fields(Level) if f.default is dataclasses.MISSING and f.name not in ("name", "title", "order")]
    missing = [f.name.replace("_", "-") for f in needed if f.name not in fields]
    for name in missing:
        faults.add(f"level {page.name}", name, "is missing")
    if missing:
        return None
    _consistent(page.name, fields, faults)
    return Level(name=page.name, title=page.title, order=page.order, pupil=pupil, **fields)


def _plain(setting: Setting) -> Any:
    """Note names become MIDI numbers, note values quarter-notes; the rest stays."""
    if setting.unit.startswith(NOTE_NAME):
        return midi(str(setting.value))
    if setting.unit == "note value":
        return NOTE_VALUES[str(setting.value)]
    return setting.value


def _consistent(name: str, fields: dict[str, Any], faults: Faults) -> None:
    """Limits that stand in pairs must not cross."""
    pairs = (("lowest", "highest"), ("tempo_min", "tempo_max"), ("bars_min", "bars_max"), ("shortest", "longest"))
    for low, high in pairs:
        open_end = high in ("bars_max", "longest") and not fields[high]
        if not open_end and fields[low] > fields[high]:
            faults.add(f"level {name}", low.replace("_", "-"), f"lies above {high.replace('_', '-')}")
