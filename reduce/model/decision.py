"""The explanation log: decisions and fates."""

from __future__ import annotations

from typing import Literal

from reduce.model.record import dataclass

DecisionKind = Literal[
    "key", "cut", "tempo", "melody", "bass", "chord", "inner", "rhythm", "figure", "octave", "hand", "fingering", "notation"
]
FateKind = Literal["kept", "moved", "merged", "simplified", "dropped"]


@dataclass(frozen=True, slots=True)
class Rejected:
    """A choice that was weighed and refused."""

    what: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """One choice, as a musician would tell it.

    ``bars`` are indices into the source's bars (the report prints their numbers); ``onset`` ticks of the source or None.
    ``measured`` and ``limit`` share ``unit``.  ``sentence`` says where, what, because (number and limit) and the price.
    """

    id: str
    kind: DecisionKind
    bars: tuple[int, int]
    sentence: str
    onset: int | None = None
    hand: Literal["right", "left", "both"] = "both"
    weight: Literal["big", "medium", "small"] = "small"
    certainty: float = 1.0
    rule: str = ""
    setting: str = ""
    measured: float | None = None
    limit: float | None = None
    unit: str = ""
    source_notes: tuple[str, ...] = ()
    draft_notes: tuple[str, ...] = ()
    rejected: tuple[Rejected, ...] = ()
    by: Literal["tool", "rule", "arranger"] = "tool"


@dataclass(frozen=True, slots=True, kw_only=True)
class Fate:
    """What became of one source note; ``draft_notes`` stand for it, ``decision`` says why."""

    note: str
    kind: FateKind
    decision: str
    draft_notes: tuple[str, ...] = ()
