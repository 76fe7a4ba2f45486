"""The duet's last touch: notes of the orchestra that neither player has are put into chords that the teacher strikes anyway."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator
from fractions import Fraction
from functools import cached_property
from itertools import groupby
from math import ceil, floor

from reduce.hands.hand import grip
from reduce.model.draft import Draft, DraftNote
from reduce.model.pitch import in_key
from reduce.model.record import dataclass, replace
from reduce.model.rules import Rules
from reduce.model.score import Note, Score

MOST = 4  # keys in one hand
_LOW = 48  # MIDI number; below it a filling note keeps a fifth away from its neighbours (common practice)
_FIFTH = 7


@dataclass(frozen=True)
class Held:
    """What the pupil holds: onset, end (in ticks of the teacher's part) and key, as it sounds."""

    keys: tuple[tuple[Fraction, Fraction, int], ...]

    def between(self, onset: int, end: int) -> set[int]:
        """The keys that sound between two ticks."""
        row, longest = self._row
        first, last = bisect_right(row, (onset - longest,)), bisect_left(row, (end,))
        return {key for _, stop, key in row[first:last] if stop > onset}

    @cached_property
    def _row(self) -> tuple[list[tuple[int, int, int]], int]:
        """The keys by onset and the length of the longest, in whole ticks that enclose them: whole ticks are what is asked for."""
        row = sorted((floor(begin), ceil(stop), key) for begin, stop, key in self.keys)
        return row, max((stop - begin for begin, stop, _ in row), default=0)


def filled(part: Draft, source: Score, pupil: Held, below: bool, rules: Rules) -> Draft:
    """The part with what neither player has on a beat, as far as a chord that is struck there can take it in.

    Part and ``source`` have the same ticks.  ``below``: the teacher stays below every key of the pupil.
    """
    notes = list(part.notes)
    for bar in source.bars:
        step = bar.meter.beat_ticks(source.resolution)
        for start in range(bar.start, bar.end, step):
            end = start + step
            here = [n for n in source.notes if n.kind == "struck" and n.onset < end and n.end > start]
            sounding = {n.midi % 12 for n in notes if n.onset < end and n.end > start} | {key % 12 for key in pupil.between(start, end)}
            for wanted in sorted({(n.midi + part.transposed) % 12 for n in here} - sounding):
                givers = [n for n in here if (n.midi + part.transposed) % 12 == wanted]
                added = next(_ways(notes, (start, end), givers, source, part, pupil, below, rules), None)
                if added is not None:
                    notes.append(added)
    return replace(part, notes=tuple(sorted(notes, key=lambda n: (n.onset, n.hand, n.strand, n.midi))))


def _ways(
    notes: list[DraftNote], beat: tuple[int, int], givers: list[Note], source: Score, part: Draft, pupil: Held, below: bool, rules: Rules
) -> Iterator[DraftNote]:
    """Notes that could be added to a chord that begins in this beat, the right hand's first."""
    level = rules.level
    struck = sorted((n for n in notes if beat[0] <= n.onset < beat[1] and not n.grace), key=lambda n: (n.hand == "left", n.onset, n.strand))
    fifths = next((bar.key.fifths for bar in part.bars if bar.start <= beat[0] < bar.end), 0)
    wanted = (givers[0].midi + part.transposed) % 12
    for (hand, onset, strand), group in groupby(struck, key=lambda n: (n.hand, n.onset, n.strand)):
        chord = list(group)
        stop = chord[0].end
        same = [n for n in source.notes if (n.midi + part.transposed) % 12 == wanted and n.onset < stop and n.end > onset]
        if 2 * sum(min(n.end, stop) - max(n.onset, onset) for n in same) < stop - onset:
            continue  # gone before the chord is
        own = [n.midi for n in notes if n.hand == hand and n.onset < stop and n.end > onset]
        others = {n.midi for n in notes if n.hand != hand and n.onset < stop and n.end > onset}
        span = level.span_left if hand == "left" else level.span_right
        if len(own) >= MOST:
            continue
        low, high = max(own) - span, min(own) + span
        held = pupil.between(onset, stop)
        top = min(held, default=high + 1) - 1 if below else high
        keys = [key for key in range(max(low, level.lowest), min(high, top, level.highest) + 1) if key % 12 == wanted]
        centre = sum(own) / len(own)
        for key in sorted(keys, key=lambda key: (abs(key - centre), key)):
            near = [abs(key - other) for other in own]
            crossed = any(key >= other for other in others) if hand == "left" else any(key <= other for other in others)
            if crossed or key in own or key in held or (key < _LOW and min(near) < _FIFTH):
                continue
            if grip((*own, key), level.hand_span, hand) is None:
                continue
            like = next((n.pitch for n in part.notes if n.midi % 12 == wanted), None)
            pitch = replace(like, octave=like.octave + (key - like.midi) // 12) if like is not None else in_key(key, fifths)
            yield DraftNote(
                id=f"fill-{onset}-{key}", hand=hand, strand=strand, onset=onset, duration=stop - onset, pitch=pitch, midi=key,
                sources=tuple(n.id for n in givers),
            )  # fmt: skip
