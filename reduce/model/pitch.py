"""Spelled, sounding pitch."""

from __future__ import annotations

from functools import lru_cache

from reduce.model.record import dataclass

STEPS = "CDEFGAB"
SEMITONES = (0, 2, 4, 5, 7, 9, 11)  # of the natural steps above C
_FIFTHS = {"F": -1, "C": 0, "G": 1, "D": 2, "A": 3, "E": 4, "B": 5}


@dataclass(frozen=True, slots=True)
class Pitch:
    """A note name with its octave: step ``C``..``B``, alteration in semitones, scientific octave (C4 = middle C)."""

    step: str
    alter: int
    octave: int

    @property
    def midi(self) -> int:
        """MIDI number, middle C = 60."""
        return 12 * (self.octave + 1) + SEMITONES[STEPS.index(self.step)] + self.alter

    @property
    def diatonic(self) -> int:
        """Staff position: steps above C0, whatever the accidental."""
        return 7 * self.octave + STEPS.index(self.step)

    @property
    def fifths(self) -> int:
        """Place on the line of fifths, C = 0, G = 1, F = -1."""
        return _FIFTHS[self.step] + 7 * self.alter

    @property
    def name(self) -> str:
        """Letter and accidental as a musician writes it in running text, without the octave."""
        return self.step + _ACCIDENTAL[self.alter] if self.alter in _ACCIDENTAL else f"{self.step}({self.alter:+d})"

    def __str__(self) -> str:
        return f"{self.name}{self.octave}"

    def moved(self, diatonic: int, chromatic: int) -> Pitch:
        """The pitch a written interval away: ``diatonic`` steps and ``chromatic`` semitones, both may be negative."""
        place = self.diatonic + diatonic
        octave, index = divmod(place, 7)
        alter = self.midi + chromatic - (12 * (octave + 1) + SEMITONES[index])
        return spelled(STEPS[index], alter, octave)


_ACCIDENTAL = {0: "", 1: "♯", -1: "♭", 2: "𝄪", -2: "𝄫"}


@lru_cache(maxsize=4096)
def spelled(step: str, alter: int, octave: int) -> Pitch:
    """The one record of a spelled pitch (shared, since scores repeat few pitches many times)."""
    return Pitch(step, alter, octave)


def respell(pitch: Pitch, turn: int) -> Pitch:
    """The same key with its name ``turn`` times twelve fifths sharpward: ``respell(D♭4, 1)`` is C♯4."""
    for _ in range(abs(turn)):
        place = pitch.diatonic + (-1 if turn > 0 else 1)
        octave, index = divmod(place, 7)
        natural = spelled(STEPS[index], 0, octave)
        pitch = spelled(STEPS[index], pitch.midi - natural.midi, octave)
    return pitch


def above(pitch: Pitch, midi: int, places: int) -> Pitch | None:
    """The name of a key so many staff places above a note (2 a third); None where that needs more than a single sharp or flat."""
    octave, index = divmod(pitch.diatonic + places, 7)
    alter = midi - spelled(STEPS[index], 0, octave).midi
    return spelled(STEPS[index], alter, octave) if -1 <= alter <= 1 else None


@lru_cache(maxsize=4096)
def in_key(midi: int, fifths: int) -> Pitch:
    """Spell a MIDI number plainly in a key of ``fifths`` sharps (negative: flats).

    Chooses the name nearest the middle of the key on the line of fifths, five places flatward to six sharpward
    of its tonic-major (common practice: raised fourths and leading notes before lowered ones).
    """
    tonic = fifths
    best: tuple[int, Pitch] | None = None
    for index, step in enumerate(STEPS):
        for alter in (-2, -1, 0, 1, 2):
            octave, rest = divmod(midi - alter - SEMITONES[index], 12)
            if rest:
                continue
            pitch = spelled(step, alter, octave - 1)
            cost = abs(2 * (pitch.fifths - tonic) - 5)
            if best is None or cost < best[0]:
                best = (cost, pitch)
    assert best is not None
    return best[1]
