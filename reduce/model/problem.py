"""Doubts and faults found on the way; a problem is a value and the run goes on."""

from __future__ import annotations

from typing import Literal

from reduce.model.record import dataclass

Severity = Literal["note", "doubt", "fault"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """One thing the arranger should know about the input or the result.

    ``bar`` is the printed number, ``part`` the printed name; either may be empty where the problem has no place.
    """

    severity: Severity
    code: str
    sentence: str
    part: str = ""
    bar: str = ""
