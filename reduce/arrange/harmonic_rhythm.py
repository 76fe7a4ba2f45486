"""The harmonic rhythm that a level can take."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from reduce.model.score import Bar
from reduce.model.texture import Chord, Phrase


def thin(
    chords: tuple[Chord, ...], bars: Sequence[Bar], per_bar: int, *, resolution: int, phrases: Sequence[Phrase] = ()
) -> tuple[Chord, ...]:
    """At most ``per_bar`` chords in each bar; the others give their time to the neighbour that stays.

    In each bar those chords stay that weigh most: by length, by the strength of the beat they begin on, by what they do (a dominant
    or the chord it leads to at the end of a phrase is never given up for a passing one), and by their certainty.  A chord that stays
    keeps its bass, so that a cadence keeps its inversion.  A stretch that a bar begins without a chord of its own goes on with the one
    before.  Source: common practice; the numbers by level are those of the level files.

    ``bars`` and ``chords`` on the same ticks; ``resolution`` ticks to the quarter-note.  Chords without change keep their record.
    """
    if per_bar < 1:
        return chords
    closing = _closing(chords, phrases)
    kept: list[tuple[int, Chord]] = []  # (new start, chord)
    place = 0
    for bar in bars:
        while place < len(chords) and chords[place].end <= bar.start:
            place += 1
        here = []
        index = place
        while index < len(chords) and chords[index].start < bar.end:
            here.append(index)
            index += 1
        if not here:
            continue
        ranked = sorted(here, key=lambda each: (-_weight(chords[each], bar, resolution, each in closing), each))
        for each in sorted(ranked[:per_bar]):
            chord = chords[each]
            # what was struck before this bar, or takes over a weaker chord at its beginning, starts at the bar line
            start = max(chord.start, bar.start)
            if each == min(ranked[:per_bar]) and chords[here[0]].start <= bar.start:
                start = max(bar.start, chords[here[0]].start)
            if kept and _same(kept[-1][1], chord) and _touches(chords, kept[-1][1], chord):
                continue
            kept.append((start, chord))
    return _spread(kept, chords)


def _weight(chord: Chord, bar: Bar, resolution: int, closing: bool) -> float:
    """How much a bar needs this chord, in beats."""
    beat = bar.meter.beat_ticks(resolution)
    length = (min(chord.end, bar.end) - max(chord.start, bar.start)) / beat
    full = bar.meter.ticks(resolution)
    into = max(chord.start, bar.start) - bar.start + (full - bar.length if bar.pickup else 0)
    count = max(1, full // beat)
    if into == 0:
        strength = 1.0
    elif count % 2 == 0 and into == full // 2:
        strength = 0.5
    elif into % beat == 0:
        strength = 0.2
    else:
        strength = 0.0
    return length + strength + 0.5 * chord.certainty + (2.0 if closing else 0.0)


def _closing(chords: tuple[Chord, ...], phrases: Sequence[Phrase]) -> set[int]:
    """The last chord of each phrase and, where that is a close, the one before it."""
    found: set[int] = set()
    for phrase in phrases:
        inside = [index for index, chord in enumerate(chords) if chord.start < phrase.end and chord.end > phrase.start]
        if inside:
            found.update(inside[-2:] if phrase.cadence else inside[-1:])
    return found


def _same(one: Chord, other: Chord) -> bool:
    return one.root == other.root and one.quality == other.quality and one.bass == other.bass


def _touches(chords: tuple[Chord, ...], one: Chord, other: Chord) -> bool:
    """Whether no silence lies between two chords."""
    end = one.end
    for chord in chords:
        if chord.start == end:
            end = chord.end
            if chord is other:
                return True
    return one is other


def _spread(kept: Sequence[tuple[int, Chord]], chords: tuple[Chord, ...]) -> tuple[Chord, ...]:
    """Each kept chord lasts until the next one, or until a silence of the source."""
    silences = [first.end for first, second in pairwise(chords) if first.end < second.start]
    last = chords[-1].end if chords else 0
    found: list[Chord] = []
    for index, (start, chord) in enumerate(kept):
        end = kept[index + 1][0] if index + 1 < len(kept) else last
        end = min([end, *(silence for silence in silences if start < silence < end)])
        if end > start:
            found.append(chord if (chord.start, chord.end) == (start, end) else replace(chord, start=start, end=end))
    return tuple(found)
