"""What the reader gathers before it can say how long, how high and how joined things are."""

from __future__ import annotations

from typing import Literal

from reduce.model.pitch import Pitch
from reduce.model.record import dataclass
from reduce.model.score import MarkKind, NoteKind


class Piece:
    """One written notehead; tied ones are joined later.  Class values are the defaults, since most notes are plain."""

    id: str = ""
    staff: int = 1
    voice: str = "1"
    bar: int = 0
    onset: int = 0
    duration: int = 0
    pitch: Pitch
    midi: int = 0
    kind: NoteKind = "struck"
    rank: int = 1  # playing order at one onset: 0 graces before, 1 the note, 2 graces after
    tie_start: bool = False
    tie_stop: bool = False
    tuplet: tuple[int, int] | None = None
    tremolo: int = 0
    tremolo_pair: Literal["", "start", "stop"] = ""
    articulations: tuple[str, ...] = ()
    ornaments: tuple[str, ...] = ()
    fermata: bool = False
    arpeggio: bool = False
    grace_slash: bool = False
    fingers: tuple[str, ...] = ()
    head: Piece | None = None  # the piece that is struck, where this one is tied to it
    lengths: list[int] | None = None  # of the pieces tied together, on the head only

    @property
    def end(self) -> int:
        return self.onset + self.duration

    @property
    def struck(self) -> Piece:
        return self if self.head is None else self.head


@dataclass(slots=True)
class Sign:
    """A mark whose notes may still be pieces of ties."""

    kind: MarkKind
    staff: int
    bar: int
    onset: int
    end: int
    text: str = ""
    pieces: tuple[Piece, ...] = ()
    face: str = ""


def join_ties(pieces: list[Piece]) -> tuple[list[Piece], list[Piece]]:
    """Join tied pieces of one part into the note that is struck.

    A piece that ends a tie joins the open one of its pitch that ends where it begins, of its own voice if there is one
    (scores do change voice inside a tie).  Returns the struck pieces and those that claim a tie from nowhere.
    """
    tied = [p for p in pieces if p.tie_start or p.tie_stop]
    if not tied:
        return pieces, []
    tied.sort(key=lambda p: p.onset)
    open_: dict[int, list[Piece]] = {}
    lost: list[Piece] = []
    for piece in tied:
        waiting = open_.setdefault(piece.midi, [])
        if piece.tie_stop:
            fitting = [w for w in waiting if w.onset + w.duration == piece.onset and (w.kind == "cue") == (piece.kind == "cue")]
            if fitting:
                before = next((w for w in fitting if w.voice == piece.voice and w.staff == piece.staff), None)
                if before is None:
                    before = next((w for w in fitting if w.staff == piece.staff), fitting[0])
                waiting.remove(before)
                head = piece.head = before.struck
                if head.lengths is None:
                    head.lengths = [head.duration]
                head.lengths.append(piece.duration)
                head.fermata = head.fermata or piece.fermata
            else:
                lost.append(piece)
        if piece.tie_start:
            waiting.append(piece)
    return [p for p in pieces if p.head is None], lost
