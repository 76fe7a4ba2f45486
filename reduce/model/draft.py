"""The piano draft: notes for two hands on the source's bars."""

from __future__ import annotations

from typing import Literal

from reduce.model.pitch import Pitch
from reduce.model.record import dataclass
from reduce.model.score import Bar, Tempo

Hand = Literal["right", "left"]
DraftMarkKind = Literal["dynamic", "hairpin", "slur", "text", "rehearsal", "pedal", "breath", "fermata", "ottava", "instrument"]


@dataclass(frozen=True, slots=True, kw_only=True)
class DraftNote:
    """One key pressed by one hand.

    ``strand`` is 1 for the outer line of the hand (tune in the right, bass in the left) and 2 for the inner one.
    Inside a strand, notes of one onset have one duration and do not overlap the next onset.
    ``sources`` are the ids of the source notes it stands for; where it stands for none, ``decision`` says why it was added.
    Graces have duration 0 and precede the note of the same onset, in tuple order.
    """

    id: str
    hand: Hand
    strand: Literal[1, 2]
    onset: int
    duration: int
    pitch: Pitch
    midi: int
    role: str = "harmony"
    sources: tuple[str, ...] = ()
    decision: str = ""
    articulations: tuple[str, ...] = ()
    ornaments: tuple[str, ...] = ()
    fermata: bool = False
    grace: bool = False
    grace_slash: bool = False
    tremolo: int = 0
    arpeggio: bool = False
    finger: str = ""
    staff: Literal[0, 1, 2] = 0  # 0 = the hand's own staff
    tuplet: tuple[int, int] | None = None  # a hint; `notate` derives the rest from the ticks

    @property
    def end(self) -> int:
        return self.onset + self.duration


@dataclass(frozen=True, slots=True, kw_only=True)
class DraftMark:
    """A sign of the draft.  ``hand`` tells the staff for slurs and text; dynamics and hairpins stand between the staves."""

    kind: DraftMarkKind
    onset: int
    end: int
    text: str = ""
    hand: Literal["right", "left", "both"] = "both"
    notes: tuple[str, ...] = ()  # draft note ids: slur from first to last
    decision: str = ""


@dataclass(frozen=True, kw_only=True)
class Draft:
    """A two-staff piece.  ``bars`` start at tick 0 and keep the source's printed numbers; ``first_bar`` is the source index of bar 0."""

    resolution: int
    title: str = ""
    subtitle: str = ""
    composer: str = ""
    arranger: str = ""
    rights: str = ""
    source: str = ""
    level: str = ""
    transposed: int = 0  # semitones from the source
    first_bar: int = 0
    bars: tuple[Bar, ...] = ()
    notes: tuple[DraftNote, ...] = ()
    marks: tuple[DraftMark, ...] = ()
    tempos: tuple[Tempo, ...] = ()

    @property
    def end(self) -> int:
        return self.bars[-1].end if self.bars else 0
