"""One line of music on its way to the draft: the note that every planning act reads and changes.

Times are ticks from the start of the excerpt's source bars (``Score.resolution`` to a quarter-note); pitches sound.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Mapping, Sequence
from operator import attrgetter

from reduce.model.pitch import Pitch
from reduce.model.record import dataclass, replace
from reduce.model.score import Bar, Note

_start = attrgetter("start")


@dataclass(frozen=True, slots=True)
class Tone:
    """One note of a line.  ``changed`` is the id of the last decision that changed it; ``graces`` lead to it, in playing order."""

    onset: int
    end: int
    midi: int
    pitch: Pitch
    sources: tuple[str, ...]
    articulations: tuple[str, ...] = ()
    ornaments: tuple[str, ...] = ()
    fermata: bool = False
    tremolo: int = 0
    graces: tuple[Tone, ...] = ()
    changed: str = ""

    @property
    def duration(self) -> int:
        """Ticks it lasts."""
        return self.end - self.onset


def tone_of(note: Note, graces: tuple[Tone, ...] = ()) -> Tone:
    """The tone that stands for one source note."""
    return Tone(
        note.onset,
        note.end,
        note.midi,
        note.pitch,
        (note.id,),
        note.articulations,
        note.ornaments,
        note.fermata,
        note.tremolo,
        graces,
    )


def line_of(ids: Iterable[str], notes: Mapping[str, Note]) -> tuple[Tone, ...]:
    """A line of tones from note ids in playing order.

    Graces are hung on the tone they lead to (a grace with nothing after it at its onset is dropped), cues and
    hidden notes are skipped, and a tone that overlaps the next one is cut short, so that the line is one note at a time.
    """
    tones: list[Tone] = []
    waiting: list[Tone] = []
    for name in ids:
        note = notes[name]
        if note.kind == "grace":
            waiting.append(tone_of(note))
        elif note.kind == "struck" and note.duration > 0:
            graces = tuple(grace for grace in waiting if grace.onset == note.onset)
            waiting = []
            if tones and tones[-1].onset >= note.onset:
                continue
            if tones and tones[-1].end > note.onset:
                tones[-1] = replace(tones[-1], end=note.onset)
            tones.append(tone_of(note, graces))
    return tuple(tones)


def moved(tone: Tone, semitones: int, steps: int, decision: str = "") -> Tone:
    """The tone and its graces ``semitones`` and ``steps`` staff places away; ``decision`` is noted where given."""
    return replace(
        tone,
        midi=tone.midi + semitones,
        pitch=tone.pitch.moved(steps, semitones),
        graces=tuple(moved(grace, semitones, steps) for grace in tone.graces),
        changed=decision or tone.changed,
    )


def bar_at(bars: Sequence[Bar], onset: int) -> Bar:
    """The bar that sounds at ``onset`` (the first or last one where the moment lies outside)."""
    return bars[max(bisect_right(bars, onset, key=_start) - 1, 0)]
