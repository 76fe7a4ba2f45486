"""The score as it sounds: parts, bars, struck notes and marks."""

from __future__ import annotations

from dataclasses import field
from functools import cached_property
from typing import Literal

from reduce.model.pitch import Pitch
from reduce.model.problem import Problem
from reduce.model.record import dataclass

NoteKind = Literal["struck", "grace", "cue", "hidden"]
Family = Literal["woodwind", "brass", "percussion", "plucked", "keyboard", "voice", "strings", "unknown"]
MarkKind = Literal[
    "dynamic", "hairpin", "slur", "text", "tempo-text", "rehearsal", "fermata", "pedal", "breath", "ottava", "chord-symbol", "lyric"
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Transposition:
    """From ``onset`` on, written notes of ``staff`` (0 = all staves of the part) sound this interval away."""

    onset: int
    staff: int
    diatonic: int  # steps, octaves included
    chromatic: int  # semitones, octaves included


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One printed part.  ``instrument`` is a key of ``rules/instruments.toml`` or ``""``."""

    index: int
    id: str
    name: str
    short: str
    instrument: str
    family: Family
    staves: int = 1
    transpositions: tuple[Transposition, ...] = ()


@dataclass(frozen=True, slots=True)
class Meter:
    """Time signature: ``beats`` as printed numerators ((3,) or (3, 2)), ``unit`` the denominator, ``symbol`` common/cut/''."""

    beats: tuple[int, ...] = (4,)
    unit: int = 4
    symbol: str = ""

    def ticks(self, resolution: int) -> int:
        """Length of a full bar."""
        return sum(self.beats) * 4 * resolution // self.unit

    @property
    def compound(self) -> bool:
        """Whether the felt beat is dotted (6/8, 9/8, 12/8 ...)."""
        return len(self.beats) == 1 and self.unit >= 8 and self.beats[0] > 3 and self.beats[0] % 3 == 0

    def beat_ticks(self, resolution: int) -> int:
        """Length of one felt beat (dotted in compound time; 3/8 counts three eighths)."""
        return (3 if self.compound else 1) * 4 * resolution // self.unit

    def __str__(self) -> str:
        return f"{'+'.join(map(str, self.beats))}/{self.unit}"


@dataclass(frozen=True, slots=True)
class Key:
    """Sounding key signature: sharps positive, flats negative; mode ``major``, ``minor`` or ``''`` where not given."""

    fifths: int = 0
    mode: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """One bar of the score; ``length`` is what it lasts, which may differ from the meter (pick-up, split bar)."""

    index: int
    number: str
    start: int
    length: int
    meter: Meter
    key: Key
    pickup: bool = False
    repeat_start: bool = False
    repeat_end: int = 0  # times played in all; 0 = no repeat sign
    endings: tuple[int, ...] = ()  # numbers of the ending this bar belongs to
    ending_start: bool = False
    ending_stop: Literal["", "stop", "discontinue"] = ""
    barline: str = ""  # right barline as MusicXML names it: light-light, light-heavy ...; '' = plain
    jumps: tuple[str, ...] = ()  # segno, coda, to-coda, da-capo, dal-segno, fine
    whole: Meter | None = None  # the metre of the score's bar that this one is a part of

    @property
    def end(self) -> int:
        return self.start + self.length

    @property
    def parent(self) -> str:
        """The number of the score's bar that this one is a later part of, 5 for 5b; "" where it is none."""
        return parent_number(self.number)


_LONGEST_NUMBER = 12  # characters


def shown_number(number: str) -> str:
    """A printed bar number, cut after twelve characters; the letter of a later part of a bar may stand behind them."""
    part = len(number) == _LONGEST_NUMBER + 1 and number[-1] in ("b", "c", "d")
    return number if part else number[:_LONGEST_NUMBER]


def parent_number(number: str) -> str:
    """The printed number that a later part of a bar belongs to, 5 for 5b; "" where it is none."""
    return number[:-1] if number[-1:] in ("b", "c", "d") and number[:-1].isdecimal() else ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """A note that is struck once: tied notes are one record, ``written`` holds the ticks of each tied piece.

    ``onset`` and ``duration`` in ticks; graces have duration 0 and the onset of the note they lead to (or follow), in playing order.
    ``tremolo`` counts the strokes through a single stem; ``tremolo_pair`` marks one half of a two-note tremolo
    (each half keeps its written onset and its own half of the time).
    """

    id: str
    part: int
    staff: int  # 1-based inside the part
    voice: str
    bar: int  # index
    onset: int
    duration: int
    pitch: Pitch
    midi: int
    kind: NoteKind = "struck"
    written: tuple[int, ...] = ()
    tuplet: tuple[int, int] | None = None  # (3, 2) = three in the time of two
    tremolo: int = 0
    tremolo_pair: Literal["", "start", "stop"] = ""
    articulations: tuple[str, ...] = ()  # MusicXML names: staccato, accent, tenuto, strong-accent ...
    ornaments: tuple[str, ...] = ()  # trill-mark, turn, mordent ...
    fermata: bool = False
    arpeggio: bool = False
    grace_slash: bool = False
    fingers: tuple[str, ...] = ()

    @property
    def end(self) -> int:
        return self.onset + self.duration


@dataclass(frozen=True, slots=True, kw_only=True)
class Stroke:
    """An unpitched percussion stroke: rhythm and weight, never a note."""

    id: str
    part: int
    bar: int
    onset: int
    duration: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """A sign over time.

    ``text`` is its value: 'mf', 'crescendo', 'diminuendo', words, letter; ``notes`` the ids a slur joins (first, last).
    """

    kind: MarkKind
    part: int
    staff: int
    bar: int
    onset: int
    end: int
    text: str = ""
    notes: tuple[str, ...] = ()
    face: str = ""  # of words, where the file tells: 'normal', 'italic', 'bold'


@dataclass(frozen=True, slots=True, kw_only=True)
class Tempo:
    """``quarters`` per minute from ``onset`` on; ``text`` the words printed with it, ``sounding`` if only a playback hint gave it."""

    onset: int
    quarters: float | None
    text: str = ""
    unit: str = "quarter"
    dots: int = 0
    sounding: bool = False


def felt_beat(mark: Tempo, meter: Meter, quarters: float) -> float:
    """Quarter-notes in the beat that is felt: the mark's own unit, else the metre's; a fast bar of three is one beat (common practice)."""
    if meter.compound:
        return 12 / meter.unit
    values = {"whole": 4.0, "half": 2.0, "quarter": 1.0, "eighth": 0.5}
    own = values.get(mark.unit, 1.0) * (1.5 if mark.dots == 1 else 1.0)
    if own != 1.0 and own in (0.5, 2.0, 3.0):
        return own
    if meter.beats == (3,) and meter.unit == 4 and quarters > 200:
        return 3.0
    return 2.0 if meter.unit == 2 and quarters > 120 else 1.0


@dataclass(frozen=True, kw_only=True)
class Score:
    """A whole movement.  ``notes`` are sorted by onset, part, staff, descending pitch; all other tuples by onset."""

    resolution: int
    title: str = ""
    subtitle: str = ""
    composer: str = ""
    rights: str = ""
    arranger: str = ""
    source: str = ""  # where the file says it comes from
    fields: tuple[tuple[str, str], ...] = ()  # other named facts of the file (MusicXML miscellaneous fields)
    file_name: str = ""
    file_hash: str = ""
    file_format: str = ""
    parts: tuple[Part, ...] = ()
    bars: tuple[Bar, ...] = ()
    notes: tuple[Note, ...] = ()
    strokes: tuple[Stroke, ...] = ()
    marks: tuple[Mark, ...] = ()
    tempos: tuple[Tempo, ...] = ()
    problems: tuple[Problem, ...] = field(default=())

    @property
    def end(self) -> int:
        return self.bars[-1].end if self.bars else 0

    @cached_property
    def note_by_id(self) -> dict[str, Note]:
        return {note.id: note for note in self.notes}
