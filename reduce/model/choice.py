"""The arranger's choices: what she decided, and what no run may undo."""

from __future__ import annotations

from fractions import Fraction
from typing import Literal, get_args

from reduce.model.record import dataclass

Action = Literal[
    "melody", "bass", "key", "cut", "figure", "octave", "move", "keep", "drop", "chord", "lock",
    "add", "remove", "change", "slur", "no-slur",
]  # fmt: skip
ACTIONS: tuple[Action, ...] = get_args(Action)


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """One entry of ``choices.toml``.

    ``bars`` are printed numbers ('9-16'; '' = the whole piece), ``beat`` quarter-notes from the bar line (0 = on it), ``levels`` the
    levels it holds for (() = all).  ``value`` is what the action says: an instrument, a key, a figure, octaves up or down, a chord
    name, a pitch; ``to`` what a changed note becomes (a pitch, or a hand), ``length`` quarter-notes of an added or changed note, or of
    a slur.
    """

    place: int  # number of the entry in the file, from 1
    action: Action
    value: str = ""
    bars: str = ""
    hand: Literal["", "right", "left"] = ""
    beat: Fraction | None = None
    to: str = ""
    length: Fraction | None = None
    levels: tuple[str, ...] = ()
    reason: str = ""
