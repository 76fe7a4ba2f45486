"""What stands on the paper: voices of a bar and their written notes.  Working records inside `notate`, filled step by step."""

from __future__ import annotations

from dataclasses import field

from reduce.model.draft import DraftNote
from reduce.model.record import dataclass


@dataclass(slots=True)
class Span:
    """A stretch of one voice of a bar before it is written: ``notes`` sound from ``start`` to ``end`` (ticks), or silence."""

    start: int
    end: int
    notes: tuple[DraftNote, ...] = ()
    hidden: bool = False  # a silence that is not printed
    graces: tuple[DraftNote, ...] = ()


@dataclass(slots=True, eq=False)
class Written:
    """One sign of a voice: a chord, note or rest of one value.  Times in ticks."""

    start: int
    ticks: int
    type: str
    dots: int
    notes: tuple[DraftNote, ...] = ()
    hidden: bool = False
    whole_bar: bool = False
    graces: tuple[DraftNote, ...] = ()
    ratio: tuple[int, int, str] | None = None  # tuplet: three in the time of two, name of the unit
    opens: bool = False  # a tuplet begins here
    closes: bool = False
    bracket: bool = True
    stem: str = ""
    beams: tuple[str, ...] = ()
    accidentals: dict[str, tuple[str, bool]] = field(default_factory=dict)  # note id -> (sign, courtesy)

    @property
    def end(self) -> int:
        return self.start + self.ticks


@dataclass(slots=True, eq=False)
class Voice:
    """One voice of one staff in one bar."""

    number: int
    staff: int
    direction: str  # 'up', 'down' or '' where the staff has one voice
    spans: list[Span]
    written: list[Written] = field(default_factory=list)
    double: list[tuple[int, int]] = field(default_factory=list)  # stretches in which the other voice sounds too
