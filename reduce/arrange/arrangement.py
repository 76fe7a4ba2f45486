"""What arranging asks for and what it gives."""

from __future__ import annotations

from fractions import Fraction

from reduce.arrange.strands import Refused
from reduce.model.choice import Choice
from reduce.model.decision import Decision, Fate, Rejected
from reduce.model.draft import Draft
from reduce.model.problem import Problem
from reduce.model.record import dataclass
from reduce.model.score import Key, Tempo


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """What drafts that are played together share; ``level`` is the title of the level that it was chosen for.

    ``first`` and ``last`` bar (indices of the source), ``until`` the tick of the source where an excerpt comes to rest in the last one;
    ``factor`` of the written values; whether bars of four are in ``halves``; ``meters`` that are read as they are (() = all); ``tempos``
    at ticks of the source, and what it has itself, ``marked``, in words; ``shift`` semitones and ``steps`` staff places from the source;
    ``keys`` by bar.
    """

    level: str
    first: int
    last: int
    until: int
    factor: Fraction
    halves: bool = False
    meters: tuple[str, ...]
    tempos: tuple[Tempo, ...]
    marked: str
    shift: int
    steps: int
    keys: tuple[Key, ...]

    @property
    def quarters(self) -> float | None:
        """The first tempo with a number, quarters a minute."""
        return next((tempo.quarters for tempo in self.tempos if tempo.quarters), None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Request:
    """What the arranger asked for: bars as printed ('9-16'), key ('keep', 'auto' or a name), length ('full', 'level', 'A-B').

    ``frame`` is that of a class, which bars, key and length then give way to.  ``broad``: how many notes the tune would lose in the
    source's values, so that they are doubled; 0 = no such wish.
    """

    bars: str | None = None
    key: str = "keep"
    length: str | None = None
    choices: tuple[Choice, ...] = ()
    earlier: Draft | None = None  # the draft that locked bars are taken from
    together: bool = False  # the draft is one of several that are played at once
    frame: Frame | None = None
    broad: int = 0
    passed: tuple[Rejected, ...] = ()  # keys that were tried and are not wanted


@dataclass(frozen=True, kw_only=True)
class Arrangement:
    """A draft with its reasons; ``refused`` are the keys that the last sweep let go, ``frame`` what others may share.

    ``sung`` and ``lost``: the source's notes of the tune, and those of them that the draft has not; ``eased``: what it had not before
    anything was given back, which tells how hard the piece is in these values.
    """

    draft: Draft
    decisions: tuple[Decision, ...]
    fates: tuple[Fate, ...]
    problems: tuple[Problem, ...] = ()
    refused: tuple[Refused, ...] = ()
    frame: Frame | None = None
    sung: int = 0
    lost: int = 0
    eased: int = 0
