"""Reads ``rules/instruments.toml``: how instruments are named, how they sound, where they play."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any, get_args

from reduce.model.rules import Instrument
from reduce.model.score import Family
from reduce.rulebook.faults import Faults, closest, listed
from reduce.rulebook.files import INSTRUMENTS, opened, shown
from reduce.rulebook.values import midi

KEYS = ("name", "short", "family", "names", "sounds", "written_to_sounding", "range", "source", "note")


def instruments(folder: Path, overlay: Path | None, faults: Faults) -> dict[str, Instrument]:
    """Every instrument by its key; an overlay may change entries of a table or add a whole one."""
    tables: dict[str, dict[str, Any]] = {}
    files: dict[str, str] = {}
    for place in (folder, overlay):
        path = place / f"{INSTRUMENTS}.toml" if place else None
        if path is None or not path.exists():
            continue
        for key, table in opened(path, faults).items():
            if not isinstance(table, dict):
                continue
            for entry in table:
                if entry not in KEYS:
                    faults.unknown(shown(path), f"{key}.{entry}", entry, KEYS, "entry of an instrument")
            tables[key] = tables.get(key, {}) | table
            files[key] = shown(path)
    return {key: made for key, table in tables.items() if (made := _instrument(key, table, files[key], faults))}


def _instrument(key: str, table: Mapping[str, Any], file: str, faults: Faults) -> Instrument | None:
    family = table.get("family", "unknown")
    known = get_args(Family)
    if family not in known:
        faults.add(file, f"{key}.family", f"{family!r} is not allowed{closest(str(family), known)}; allowed are {listed(known)}")
    shift = table.get("written_to_sounding", {"diatonic": 0, "chromatic": 0})
    if not isinstance(shift, dict) or any(type(shift.get(part)) is not int for part in ("diatonic", "chromatic")):
        faults.add(file, f"{key}.written_to_sounding", "should be { diatonic = steps, chromatic = semitones }, whole numbers")
        return None
    ends = [_pitch(end) for end in table.get("range", ("A0", "C8"))]
    if len(ends) != 2 or None in ends:
        faults.add(file, f"{key}.range", 'should be the lowest and the highest sounding note, as in ["G3", "E7"]')
        return None
    lowest, highest = (end or 0 for end in ends)
    return Instrument(
        key=key,
        name=table.get("name", key),
        short=table.get("short", ""),
        family=family,
        names=tuple(word.lower() for word in table.get("names", ())),
        sounds=tuple(table.get("sounds", ())),
        diatonic=shift["diatonic"],
        chromatic=shift["chromatic"],
        lowest=lowest,
        highest=highest,
    )


def _pitch(raw: Any) -> int | None:
    """A note name or a MIDI number."""
    return raw if type(raw) is int else midi(raw) if isinstance(raw, str) else None
