"""A line of tones and a row of chords that answer quickly what sounds at a moment."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence

from reduce.arrange.line import Tone
from reduce.model.texture import Chord


class Outline:
    """A line as two sorted tuples, for quick questions about what it does while a chord is held."""

    def __init__(self, tones: Sequence[Tone]) -> None:
        self.tones = tones
        self.onsets = [tone.onset for tone in tones]

    def during(self, start: int, end: int) -> Sequence[Tone]:
        """The tones that sound between two ticks."""
        first = bisect_right(self.onsets, start) - 1
        if first < 0 or self.tones[first].end <= start:
            first += 1
        return self.tones[first : bisect_left(self.onsets, end)]

    def at(self, tick: int) -> Tone | None:
        """The tone that is down at a tick."""
        index = bisect_right(self.onsets, tick) - 1
        return self.tones[index] if index >= 0 and self.tones[index].end > tick else None

    def before(self, tick: int) -> Tone | None:
        """The last tone that begins before a tick."""
        index = bisect_left(self.onsets, tick)
        return self.tones[index - 1] if index else None


class ChordFinder:
    """The chord at a moment, for moments asked in rising order or not."""

    def __init__(self, chords: Sequence[Chord]) -> None:
        self.chords = chords
        self.starts = [chord.start for chord in chords]

    def __call__(self, tick: int) -> Chord | None:
        index = bisect_right(self.starts, tick) - 1
        return self.chords[index] if index >= 0 and self.chords[index].end > tick else None
