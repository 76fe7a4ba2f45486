"""What arranging asks for and what it gives."""

from __future__ import annotations

from reduce.arrange.strands import Refused
from reduce.model.choice import Choice
from reduce.model.decision import Decision, Fate
from reduce.model.draft import Draft
from reduce.model.problem import Problem
from reduce.model.record import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Request:
    """What the arranger asked for: bars as printed ('9-16'), key ('keep', 'auto' or a name), length ('full', 'level', 'A-B')."""

    bars: str | None = None
    key: str = "keep"
    length: str | None = None
    choices: tuple[Choice, ...] = ()
    earlier: Draft | None = None  # the draft that locked bars are taken from


@dataclass(frozen=True, kw_only=True)
class Arrangement:
    """A draft with its reasons; ``refused`` are the keys that the last sweep let go."""

    draft: Draft
    decisions: tuple[Decision, ...]
    fates: tuple[Fate, ...]
    problems: tuple[Problem, ...] = ()
    refused: tuple[Refused, ...] = ()
