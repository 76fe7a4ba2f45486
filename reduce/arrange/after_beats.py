"""Bass stroke, then chord: what follows the stroke is one shape of the hand, not a second bass.

In a march or a waltz the basses play on the beat and rest.  Whoever is lowest in the chords that follow is heard as their lowest
note, not as the bass, and a pianist lays such chords where the hand is, whatever octave violas or horns have them in (common practice).
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Mapping, Sequence
from itertools import groupby

from reduce.arrange.inner import INNER_ROLES
from reduce.arrange.line import Tone, bar_at
from reduce.arrange.outline import ChordFinder
from reduce.arrange.sounding import Sound, over
from reduce.model.record import dataclass, replace
from reduce.model.score import Bar
from reduce.model.texture import Chord

_FAR = 19  # semitones, a twelfth: beyond the reach from stroke to chord
_BASS = frozenset({"bass", "bass-double"})


@dataclass(frozen=True, slots=True)
class Parted:
    """A bass of strokes and the chords between them: ``shapes`` are the pitch classes of the chord at each of its ticks."""

    bass: tuple[Tone, ...]
    sounds: tuple[Sound, ...]
    shapes: Mapping[int, frozenset[int]]


def parted(bass: Sequence[Tone], sounds: Sequence[Sound], bars: Sequence[Bar], chords: Sequence[Chord]) -> Parted:
    """The bass without the lowest notes of after-beat chords; in ``sounds`` those are inner voices."""
    found = set(_after_strokes(bass, sounds, bars))
    kept = tuple(tone for tone in bass if tone.onset not in found)
    freed = tuple(replace(s, role="harmony") if s.onset in found and s.role in _BASS else s for s in sounds)
    return Parted(kept, freed, dict(_shapes(kept, freed, bars, chords)))


def _after_strokes(bass: Sequence[Tone], sounds: Sequence[Sound], bars: Sequence[Bar]) -> Iterator[int]:
    """Ticks of bass notes that follow another line's deeper stroke in the same bar, when that line rests.

    They come with a chord, in a line that rested at the stroke, or lie too far above it to be heard as bass.
    """
    stream_of = {sound.note.id: sound.stream for sound in sounds}
    lines: dict[int, list[Sound]] = {}
    struck: dict[int, set[int]] = {}
    for sound in sounds:
        lines.setdefault(sound.stream, []).append(sound)
        if sound.role in INNER_ROLES:
            struck.setdefault(sound.onset, set()).add(sound.midi % 12)

    def rests(stream: int, tick: int) -> bool:
        line = lines.get(stream, [])
        place = bisect_right(line, tick, key=lambda s: s.onset)
        return all(s.end <= tick for s in line[max(0, place - 4) : place])

    for _, group in groupby(bass, key=lambda tone: bar_at(bars, tone.onset).index):
        stroke: Tone | None = None
        for tone in group:
            own = stream_of.get(tone.sources[0], -1)
            first = stream_of.get(stroke.sources[0], -1) if stroke is not None else own
            chord = struck.get(tone.onset, set()) - {tone.midi % 12}
            above = tone.midi - stroke.midi if stroke is not None and own not in (first, -1) else 0
            after = above > _FAR or (above > 0 and chord and stroke is not None and rests(own, stroke.onset))
            if after and rests(first, tone.onset):
                yield tone.onset
            else:
                stroke = tone


def _shapes(
    bass: Sequence[Tone], sounds: Sequence[Sound], bars: Sequence[Bar], chords: Sequence[Chord]
) -> Iterator[tuple[int, frozenset[int]]]:
    """For each tick between a stroke and the next (or the bar line) the notes of its harmony that sound.

    Only where two notes at least sound and none of them sings: a second tune keeps its place.
    """
    ticks = sorted({s.onset for s in sounds if s.role in INNER_ROLES})
    chord_at = ChordFinder(chords)
    moments: list[tuple[int, Chord]] = []
    for index, tone in enumerate(bass):
        bar = bar_at(bars, tone.onset)
        end = min(bar.end, bass[index + 1].onset) if index + 1 < len(bass) else bar.end
        for tick in ticks[bisect_left(ticks, tone.end) : bisect_left(ticks, end)]:
            chord = chord_at(tick)
            if chord is not None:
                moments.append((tick, chord))
    for (tick, chord), here in zip(moments, over(sounds, [(tick, tick + 1) for tick, _ in moments]), strict=True):
        inner = [s for s in here if s.role in INNER_ROLES]
        if len({s.midi % 12 for s in inner}) > 1 and all(s.role != "counter" for s in inner):
            yield tick, frozenset(chord.tones).intersection(s.midi % 12 for s in here if s.role != "rhythm")
