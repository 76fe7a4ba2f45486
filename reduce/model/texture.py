"""What the score is made of: streams, roles, the tune, the bass, harmony, form."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field
from typing import Literal

from reduce.model.record import dataclass

Role = Literal[
    "melody",  # the tune itself, one note at a time
    "melody-double",  # the same tune in unison or at the octave
    "melody-third",  # runs with the tune in thirds or sixths
    "counter",  # a second tune
    "bass",  # the functional bass line
    "bass-double",
    "harmony",  # held or repeated chord notes
    "figuration",  # broken chords, runs, tremolo
    "rhythm",  # timpani and the like: evidence only
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Stream:
    """One playing line: a voice of a staff of a part.  ``name`` as an arranger would say it ('Oboe 1')."""

    id: int
    part: int
    staff: int
    voice: str
    name: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Lead:
    """Who carries a line (tune, bass or countermelody) from ``start`` to ``end`` ticks.

    ``notes`` are the source notes of the line, one at a time, in order.  ``evidence`` holds the strongest reasons as
    musical words with their weight, strongest first; ``runner_up`` the stream that came second and by how much (0..1).
    """

    start: int
    end: int
    stream: int
    notes: tuple[str, ...]
    doubled_by: tuple[int, ...] = ()
    certainty: float = 1.0
    evidence: tuple[tuple[str, float], ...] = ()
    runner_up: int | None = None
    runner_up_share: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Phrase:
    """A breath of the tune: ``start``..``end`` ticks; ``label`` equal letters for equal material (A, A', B ...)."""

    start: int
    end: int
    label: str = ""
    cadence: str = ""  # '', half, authentic, plagal, deceptive


@dataclass(frozen=True, slots=True, kw_only=True)
class Chord:
    """Harmony between two moments.  Pitch classes 0..11 from C; ``quality`` one of rules/harmony.toml's templates."""

    start: int
    end: int
    root: int
    quality: str
    bass: int
    tones: tuple[int, ...]  # pitch classes of the chord, root first
    certainty: float = 1.0
    name: str = ""  # spelled: 'F♯m7/C♯'
    roman: str = ""
    runner_up: str = ""
    chosen: bool = False  # by the arranger: nothing else sounds with it


@dataclass(frozen=True, slots=True, kw_only=True)
class LocalKey:
    start: int
    end: int
    tonic: int
    mode: Literal["major", "minor"]
    certainty: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """What an accompaniment does between two moments; ``kind`` as in rules/figures.toml; ``pulse`` ticks between strokes."""

    start: int
    end: int
    kind: str
    pulse: int
    streams: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Parallel:
    """The stretch ``second``.. repeats ``first``.. for ``length`` ticks, ``shift`` semitones higher."""

    first: int
    second: int
    length: int
    shift: int = 0


@dataclass(frozen=True, kw_only=True)
class Texture:
    """Everything that `analyse` found.  ``roles`` and ``stream_of`` are keyed by note id."""

    streams: tuple[Stream, ...] = ()
    stream_of: Mapping[str, int] = field(default_factory=dict)
    roles: Mapping[str, Role] = field(default_factory=dict)
    tune: tuple[Lead, ...] = ()
    bass: tuple[Lead, ...] = ()
    counters: tuple[Lead, ...] = ()
    phrases: tuple[Phrase, ...] = ()
    chords: tuple[Chord, ...] = ()
    keys: tuple[LocalKey, ...] = ()
    figures: tuple[Figure, ...] = ()
    parallels: tuple[Parallel, ...] = ()
