"""Signatures and note names after a transposition, with sections turned to their simpler enharmonic key."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence

from reduce.arrange.line import Tone, moved
from reduce.model.pitch import Pitch, respell
from reduce.model.record import dataclass, replace
from reduce.model.score import Bar, Key

_TURN = 12  # places on the line of fifths between two names of one key


def signature_written(fifths: int, most: int) -> int | None:
    """The signature printed for a key of ``fifths`` sharps: itself, or its enharmonic one if only that has no more than ``most`` signs."""
    if abs(fifths) <= most:
        return fifths
    other = fifths - _TURN if fifths > 0 else fifths + _TURN
    return other if abs(other) <= most else None


def turn_between(moved_key: int, printed: int) -> int:
    """Turns of the line of fifths that bring a section's names nearest to the printed signature (0, 1 or -1, as a rule)."""
    away = printed - moved_key
    return (away + _TURN // 2 - (away > 0)) // _TURN


@dataclass(frozen=True, slots=True)
class Speller:
    """Names notes in the draft's key: the interval everywhere, and the enharmonic turn of each bar."""

    starts: tuple[int, ...]
    turns: tuple[int, ...]
    semitones: int
    steps: int

    @classmethod
    def of(cls, bars: Sequence[Bar], keys: Sequence[Key], semitones: int, steps: int) -> Speller:
        """From the kept bars with the source's keys, and the keys that are printed."""
        fifths = 7 * semitones - 12 * steps
        turns = tuple(turn_between(bar.key.fifths + fifths, key.fifths) for bar, key in zip(bars, keys, strict=True))
        return cls(tuple(bar.start for bar in bars), turns, semitones, steps)

    @property
    def plain(self) -> bool:
        """Whether every bar takes the interval as it is."""
        return not any(self.turns)

    def turn(self, onset: int) -> int:
        """The turn of the bar that sounds at a source tick."""
        return self.turns[max(bisect_right(self.starts, onset) - 1, 0)] if self.turns else 0

    def pitch(self, pitch: Pitch, onset: int) -> Pitch:
        """The draft's name for a source pitch at a source tick."""
        there = pitch.moved(self.steps, self.semitones)
        turn = self.turn(onset)
        return respell(there, turn) if turn else there

    def tone(self, tone: Tone) -> Tone:
        """A tone and its graces in the draft's key."""
        there = moved(tone, self.semitones, self.steps)
        turn = self.turn(tone.onset)
        if not turn:
            return there
        graces = tuple(replace(grace, pitch=respell(grace.pitch, turn)) for grace in there.graces)
        return replace(there, pitch=respell(there.pitch, turn), graces=graces)
