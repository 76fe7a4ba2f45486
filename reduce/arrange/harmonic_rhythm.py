"""The harmonic rhythm that a level can take."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from reduce.model.record import dataclass, replace
from reduce.model.score import Bar
from reduce.model.texture import Chord, Phrase


def thin(
    chords: tuple[Chord, ...],
    bars: Sequence[Bar],
    per_bar: int,
    *,
    resolution: int,
    phrases: Sequence[Phrase] = (),
    pace: Callable[[int], float] | None = None,
    seconds: float = 0.0,
) -> tuple[Chord, ...]:
    """At most ``per_bar`` chords in each bar; the others give their time to the neighbour that stays.

    In each bar those chords stay that weigh most: by length, by the strength of the beat they begin on, by their certainty, and the
    close of a phrase before everything else.  A chord that stays keeps its bass, so that a cadence keeps its inversion.  Inversions of
    one chord count as one where the bar would have too many, and the first of them stays.  Silences of the source stay silent.
    Source: common practice; the numbers by level are those of the level files.

    ``bars`` and ``chords`` on the same ticks; ``resolution`` ticks to the quarter-note; where ``pace`` tells the ticks a second, a bar has
    no more chords than one in each ``seconds``.  Both chords of a close stay, also where a level has one a bar: a dominant that is left out
    makes the close wrong.  Unchanged chords keep their record.
    """
    if per_bar < 1 or not chords:
        return chords
    closing = _closing(chords, phrases)
    kept: list[_Kept] = []
    place = 0
    for bar in bars:
        while place < len(chords) and chords[place].end <= bar.start:
            place += 1
        stop = place
        while stop < len(chords) and chords[stop].start < bar.end:
            stop += 1
        most = per_bar
        close = {each for each in range(place, stop) if each in closing}
        if pace is not None and seconds > 0:
            most = min(per_bar, max(1, len(close), int(bar.length / pace(bar.start) / seconds)))
        beat = bar.meter.beat_ticks(resolution)
        lengths = {each: min(chords[each].end, bar.end) - max(chords[each].start, bar.start) for each in range(place, stop)}
        if close and most < 2 and min(lengths[each] for each in close) >= beat:  # a close is two chords, and takes no bar from another
            most = len(close) + any(2 * lengths[each] >= bar.length for each in lengths if each not in close)
        elif close and most < 2 and max(lengths.values()) > 2 * max(lengths[each] for each in close):
            close = set()  # too short for its own beat: the bar's own chord stays
        here = _inversions_joined(chords, range(place, stop), most)
        chosen = sorted(sorted(here, key=lambda each: (-_weight(chords[each], bar, resolution, each in close), each))[:most])
        for each in chosen:
            chord = chords[each]
            # the first that stays takes over what was given up before it, back to the bar line or the last silence
            first = place if each == chosen[0] else each
            while first < each and not _unbroken(chords, first, each):
                first += 1
            before = kept[-1].start if kept else -1
            start = max(bar.start, chords[first].start)
            if first and chords[first - 1].end == start:  # an entry after silence keeps its moment
                start = _on_beat(start, before, min(bar.end, chord.end), bar, resolution)
            if (kept and kept[-1].chord is chord) or (kept and _same(kept[-1].chord, chord) and _unbroken(chords, kept[-1].index, each)):
                kept[-1].index = each
                continue
            kept.append(_Kept(each, start, chord))
    return _spread(kept, chords)


def _on_beat(start: int, before: int, end: int, bar: Bar, resolution: int) -> int:
    """The beat (in slow metres the quarter-note) nearest to a chord's start, after the chord ``before`` and before its ``end``.

    An accompaniment changes with the beat, also where the orchestra's chord comes an eighth after it.
    """
    beat = bar.meter.beat_ticks(resolution)
    grain = beat if bar.meter.compound else min(beat, resolution)
    into = start - bar.start + (bar.meter.ticks(resolution) - bar.length if bar.pickup else 0)
    away = into % grain
    early, late = start - away, start - away + grain
    if away and 2 * away < grain and early > max(before, bar.start - 1):
        return early
    return late if away and late < end else start


@dataclass(slots=True)
class _Kept:
    index: int  # of the last source chord that it stands for
    start: int
    chord: Chord


def _weight(chord: Chord, bar: Bar, resolution: int, closing: bool) -> float:
    """How much a bar needs this chord, in beats."""
    beat = bar.meter.beat_ticks(resolution)
    full = bar.meter.ticks(resolution)
    start = max(chord.start, bar.start)
    into = start - bar.start + (full - bar.length if bar.pickup else 0)
    count = max(1, full // beat)
    if into == 0:
        strength = 1.0
    elif count % 2 == 0 and 2 * into == full:
        strength = 0.5
    else:
        strength = 0.2 if into % beat == 0 else 0.0
    return (min(chord.end, bar.end) - start) / beat + strength + 0.5 * chord.certainty + (8.0 if closing else 0.0)


def _closing(chords: tuple[Chord, ...], phrases: Sequence[Phrase]) -> set[int]:
    """The last chord of each phrase and, where that is a close, the one before it."""
    found: set[int] = set()
    place = 0
    for phrase in phrases:
        while place < len(chords) and chords[place].start < phrase.end:
            place += 1
        if place and chords[place - 1].end > phrase.start:
            found.add(place - 1)
            if phrase.cadence and place > 1:
                found.add(place - 2)
    return found


def _inversions_joined(chords: tuple[Chord, ...], here: range, per_bar: int) -> list[int]:
    """The chords of a bar, without later inversions of a chord that goes on where there are more than ``per_bar``."""
    if len(here) <= per_bar:
        return list(here)
    return [
        each
        for each in here
        if each == here[0]
        or (chords[each].root, chords[each].quality) != (chords[each - 1].root, chords[each - 1].quality)
        or chords[each - 1].end != chords[each].start
    ]


def _same(one: Chord, other: Chord) -> bool:
    return (one.root, one.quality, one.bass) == (other.root, other.quality, other.bass)


def _unbroken(chords: tuple[Chord, ...], first: int, last: int) -> bool:
    """Whether no silence lies between two chords."""
    return all(chords[index].end == chords[index + 1].start for index in range(first, last))


def _spread(kept: Sequence[_Kept], chords: tuple[Chord, ...]) -> tuple[Chord, ...]:
    """Each kept chord lasts until the next one, or until a silence of the source."""
    found: list[Chord] = []
    for place, each in enumerate(kept):
        index = each.index
        limit = kept[place + 1].start if place + 1 < len(kept) else chords[-1].end
        end = chords[index].end
        while index + 1 < len(chords) and chords[index + 1].start == end and end < limit:
            index += 1
            end = chords[index].end
        end = min(end, limit)
        chord = each.chord
        found.append(chord if (chord.start, chord.end) == (each.start, end) else replace(chord, start=each.start, end=end))
    return tuple(found)
