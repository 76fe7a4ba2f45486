"""Judges one value against what its setting allows, and turns musicians' words into numbers."""

from __future__ import annotations

import re
from fractions import Fraction
from typing import Any

from reduce.model.pitch import SEMITONES, STEPS
from reduce.model.rules import Value
from reduce.rulebook.faults import closest, listed
from reduce.rulebook.records import Scalar, Setting

NOTE_VALUES = {
    "any": Fraction(0),
    "whole": Fraction(4),
    "half": Fraction(2),
    "quarter": Fraction(1),
    "eighth": Fraction(1, 2),
    "sixteenth": Fraction(1, 4),
    "thirty-second": Fraction(1, 8),
}
"""Note values in quarter-notes; ``any`` sets no limit."""

_NOTE = re.compile(r"([A-Ga-g])(#|♯|b|♭|)(-?\d)$")
_KEY = re.compile(r"[A-G](#|♯|b|♭|) (major|minor)$")
_ALTER = {"": 0, "#": 1, "♯": 1, "b": -1, "♭": -1}
NOTE_NAME, KEY_NAME = "note name", "key names"  # units (their beginnings) that ask for more than a word


def midi(name: str) -> int | None:
    """The MIDI number of a note name such as ``F#2`` or ``B♭4`` (C4 = 60), or None where it is none."""
    found = _NOTE.match(name)
    if not found:
        return None
    step, sign, octave = found.groups()
    return 12 * (int(octave) + 1) + SEMITONES[STEPS.index(step.upper())] + _ALTER[sign]


def frozen(raw: Any) -> Value | None:
    """A TOML value as a rule value (lists become tuples), or None where it is a date, a table or a nested list."""
    if isinstance(raw, (bool, int, float, str)):
        return raw
    if isinstance(raw, list) and all(isinstance(item, (int, float, str)) for item in raw):
        return tuple(raw)
    return None


def judged(raw: Any, setting: Setting) -> tuple[Value, str]:
    """The new value for a setting, and what is wrong with it ('' where it is right).

    The value in force tells the kind: a word stays a word, a whole number whole (write ``1.0`` where parts are meant), a list of numbers
    as long as it is.
    """
    value = frozen(raw)
    if value is None:
        return setting.value, f"{raw!r} is not a value"
    old = setting.value
    if isinstance(old, tuple):
        if not isinstance(value, tuple):
            return old, f"{raw!r} should be a list in square brackets"
        if len(value) != len(old) and old and not isinstance(old[0], str):  # each number has its place: a level, a key, an interval
            return old, f"{list(value)!r} should hold {len(old)} numbers, as {list(old)!r} does"
        kinds = {type(item) for item in old} or {type(item) for item in setting.allowed} or {str}
        items = []
        for item in value:
            fitted, fault = _fitted(item, kinds)
            if fault := fault or _outside(fitted, setting):
                return old, fault
            items.append(fitted)
        return tuple(items), ""
    if isinstance(value, tuple):
        return old, f"{raw!r} should be one value, not a list"
    fitted, fault = _fitted(value, {type(old)})
    return fitted, fault or _outside(fitted, setting)


def _fitted(value: Scalar, kinds: set[type]) -> tuple[Scalar, str]:
    """``value`` as one of ``kinds``, and what is wrong with it."""
    if type(value) in kinds:
        return value, ""
    if float in kinds and type(value) is int:
        return float(value), ""
    if bool in kinds:
        return value, f"{value!r} should be true or false"
    if int in kinds:
        return value, f"{value!r} should be a whole number"
    return value, f"{value!r} should be a {'number' if float in kinds else 'word in quotes'}"


def _outside(value: Scalar, setting: Setting) -> str:
    """Why ``value`` is not among the allowed ones, or ''."""
    unit = f" {setting.unit}" if setting.unit else ""
    if setting.allowed and value not in setting.allowed:
        return f"{value!r} is not allowed{closest(str(value), map(str, setting.allowed))}; allowed are {listed(setting.allowed)}"
    if isinstance(value, str):
        if setting.unit.startswith(NOTE_NAME) and midi(value) is None:
            return f"{value!r} is not a note name; write it like F#2 or Bb4 (C4 is middle C)"
        if setting.unit.startswith(KEY_NAME) and not _KEY.match(value):
            return f"{value!r} is not a key; write it like 'D major' or 'F# minor'"
    if setting.range:
        low, high = setting.range
        at = _measure(value)
        if not _measure(low) <= at <= _measure(high):
            return f"{value!r} is outside {low} to {high}{'' if isinstance(low, str) else unit}"
    return ""


def _measure(value: Scalar) -> float:
    return float(midi(value) or 0) if isinstance(value, str) else float(value)
