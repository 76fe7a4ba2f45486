"""A level: the limits and the vocabulary of a stage of learning."""

from __future__ import annotations

from fractions import Fraction
from typing import Literal

from reduce.model.record import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Level:
    """Settings of one level, as read from ``rules/levels/NAME.toml`` (unit, meaning and source stand there).

    Pitches are MIDI numbers, spans and steps semitones, times seconds, lengths bars, sizes millimetres, values quarter-notes.
    """

    name: str
    title: str
    order: int  # 1 easiest .. 6

    # reading
    signature_max: int
    lowest: int
    highest: int
    ledger_max: int
    meters: tuple[str, ...]  # () = any

    # rhythm
    shortest: Fraction  # quarter-notes; 0 = any
    eighths: Literal["never", "pairs", "free"]
    triplets: bool
    dotted_eighth: bool
    sixteenths: Literal["never", "hook", "free"]
    syncopation: Literal["never", "simple", "free"]
    cross_rhythm: Literal["never", "two-three", "any"]
    tempo_min: float  # quarters a minute
    tempo_max: float

    # hands
    hand_span: float  # millimetres, thumb to little finger, comfortable reach centre to centre
    span_right: int  # struck or held together
    span_left: int
    rolled_max: int
    notes_right: int
    notes_left: int
    voices_right: int  # independent rhythms in one hand, 1 or 2
    voices_left: int
    black_in_chord: int
    step_max: int  # melodic step in one hand without moving
    moves_per_8_bars: int
    octave_seconds: float  # time to move a hand an octave
    notes_per_second_both: float
    notes_per_second_one: float

    # harmony and accompaniment
    chords_per_bar: int
    figures: tuple[str, ...]  # what the left hand may play, preferred first (kinds of rules/figures.toml)

    # marks
    dynamics: tuple[str, ...]
    hairpins: bool
    articulations: tuple[str, ...]
    pedal: Literal["none", "long-notes", "per-harmony", "free"]
    ornaments: Literal["none", "grace", "trill-turn", "all"]
    fingering: Literal["first-and-moves", "crossovers", "shifts", "non-obvious", "rare"]
    instrument_names: bool
    ottava: bool

    # page
    bars_min: int
    bars_max: int  # 0 = as the source
    bars_a_line: int  # 0 = as it falls
    staff_height: float

    at_limit_per_bar: int  # combined budget

    # what a pupil's profile may add
    keys: tuple[str, ...] = ()  # known keys ("D major"); () = any within signature_max
    longest: Fraction = Fraction(0)  # quarter-notes before a note is struck again; 0 = any
    ties: bool = True  # whether tied notes may be written
    pupil: str = ""  # whose profile lies over the level, to be named in the reasons
