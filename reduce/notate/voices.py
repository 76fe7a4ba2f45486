"""Strands become voices: one voice where one suffices, two only in bars where the rhythms of a hand differ."""

from __future__ import annotations

import itertools
from bisect import bisect_left
from collections.abc import Iterable, Sequence

from reduce.model.draft import DraftNote
from reduce.model.score import Bar
from reduce.notate.metre import WHOLE, beats_of
from reduce.notate.written import Span, Voice

Chord = tuple[int, int, tuple[DraftNote, ...]]  # start, end, notes
Graces = dict[int, list[tuple[int, list[DraftNote]]]]  # by lane: (onset, notes)


def lanes_of(notes: Iterable[DraftNote]) -> tuple[list[list[Chord]], Graces]:
    """The strands of one hand as lanes of chords that do not overlap, and the graces of each lane by onset.

    Lane 0 is strand 1, lane 1 is strand 2.  Where a strand breaks its promise (two durations at one onset, an overlap)
    the note goes to the first lane that is free, so that nothing is lost.
    """
    struck: dict[tuple[int, int, int], list[DraftNote]] = {}
    graces: dict[int, dict[int, list[DraftNote]]] = {}
    for note in notes:
        if note.grace or note.duration <= 0:
            graces.setdefault(note.strand - 1, {}).setdefault(note.onset, []).append(note)
        else:
            struck.setdefault((note.onset, -note.duration, note.strand), []).append(note)
    lanes: list[list[Chord]] = [[], []]
    free = [0, 0]
    for (onset, minus, strand), chord in sorted(struck.items(), key=lambda item: item[0]):
        lane = strand - 1
        if free[lane] > onset:
            lane = next((k for k in (0, 1, *range(2, len(free))) if free[k] <= onset), len(free))
            if lane == len(free):
                free.append(0)
                lanes.append([])
        free[lane] = onset - minus
        chord.sort(key=lambda note: (note.midi, note.id))
        lanes[lane].append((onset, onset - minus, tuple(chord)))
    return lanes, {lane: sorted(found.items()) for lane, found in graces.items()}


def voices_of_hand(
    lanes: list[list[Chord]], graces: Graces, bars: Sequence[Bar], resolution: int, staff: int, first_voice: int, low_first: bool
) -> list[list[Voice]]:
    """The voices of one hand, bar by bar, from its lanes (`lanes_of`).

    ``low_first``: strand 1 is the lower line (left hand), so that its stems point down; voices are always numbered from
    the top (``first_voice``, ``first_voice + 1``), as readers of files expect.
    """
    starts = [[chord[0] for chord in lane] for lane in lanes]
    found = []
    for bar in bars:
        inside = []
        for lane, onsets in zip(lanes, starts, strict=True):
            k = bisect_left(onsets, bar.start)
            if k and lane[k - 1][1] > bar.start:
                k -= 1
            here: list[Chord] = []
            while k < len(lane) and lane[k][0] < bar.end:
                start, end, chord = lane[k]
                here.append((max(start, bar.start), min(end, bar.end), chord))
                k += 1
            inside.append(here)
        voices = _bar_voices(inside, bar, resolution, staff, first_voice, low_first)
        _add_graces(voices, graces, bar, low_first)
        found.append(voices)
    return found


def _bar_voices(lanes: list[list[Chord]], bar: Bar, resolution: int, staff: int, first_voice: int, low_first: bool) -> list[Voice]:
    extra = [lane for lane in lanes[2:] if lane]
    one, two = lanes[0], lanes[1]
    stretches = _stretches(one, two, bar)
    if not extra and not any(double for _, _, double in stretches):
        merged = _merge(one + two)
        return [Voice(first_voice, staff, "", _filled(merged, bar, ()))]
    upper, lower = (two, one) if low_first else (one, two)
    second = lower if not low_first else upper  # the inner line
    double = [(start, end) for start, end, both in stretches if both]
    if extra:
        double = [(bar.start, bar.end)]
    both = [[chord for chord in lane if _within(chord, double)] for lane in (upper, lower)]
    single = _merge([chord for lane in (upper, lower) for chord in lane if not _within(chord, double)])
    beats = [bar.start + beat * 4 * resolution // WHOLE for beat in beats_of(bar.meter)]
    voices = []
    for k, (lane, direction) in enumerate(zip(both, ("up", "down"), strict=True)):
        inner = (lane is both[0]) == (second is upper)
        chords = sorted(lane + (single if k == 0 else []))
        spans = _filled(chords, bar, double, beats, waits=inner, home=k == 0)
        voices.append(Voice(first_voice + k, staff, direction, spans, double=double))
    for k, lane in enumerate(extra):
        direction = "down" if k % 2 else "up"
        voices.append(Voice(first_voice + 2 + k, staff, direction, _filled(lane, bar, double, beats, waits=True), double=double))
    return voices


def _within(chord: Chord, stretches: Sequence[tuple[int, int]]) -> bool:
    return any(start <= chord[0] < end for start, end in stretches)


def _stretches(one: list[Chord], two: list[Chord], bar: Bar) -> list[tuple[int, int, bool]]:
    """The bar cut wherever no note of the hand is held across; True where the two lines need a voice each."""
    if not one or not two:
        return [(bar.start, bar.end, False)]
    events = sorted(one + two, key=lambda chord: (chord[0], chord[1]))
    found: list[tuple[int, int, bool]] = []
    start, reach = events[0][0], events[0][0]
    group: list[Chord] = []
    for event in [*events, (bar.end, bar.end, ())]:
        if event[0] >= reach and group:
            found.append((start, reach, _differ(group, one, two)))
            start, group = event[0], []
        if not group:
            start = event[0]
        group.append(event)
        reach = max(reach, event[1], min(bar.end, max((note.end for note in event[2]), default=0)))
    return found


def _differ(group: list[Chord], one: list[Chord], two: list[Chord]) -> bool:
    if len(group) == 1:
        return False
    start, end = group[0][0], max(chord[1] for chord in group)
    upper = [chord for chord in one if start <= chord[0] < end]
    lower = [chord for chord in two if start <= chord[0] < end]
    if not upper or not lower:
        return False
    if [chord[:2] for chord in upper] != [chord[:2] for chord in lower]:
        return True
    for a, b in zip(upper, lower, strict=True):
        if {note.midi for note in a[2]} & {note.midi for note in b[2]} or a[2][0].tremolo != b[2][0].tremolo:
            return True
    return False


def _merge(chords: list[Chord]) -> list[Chord]:
    """Lines of one rhythm on one stem."""
    joined: dict[tuple[int, int], tuple[DraftNote, ...]] = {}
    for start, end, notes in chords:
        joined[start, end] = (*joined.get((start, end), ()), *notes)
    return [(start, end, tuple(sorted(notes, key=lambda note: (note.midi, note.id)))) for (start, end), notes in sorted(joined.items())]


def _filled(
    chords: list[Chord], bar: Bar, double: Sequence[tuple[int, int]], beats: Sequence[int] = (), waits: bool = False, home: bool = False
) -> list[Span]:
    """The voice with its silences, so that it fills the bar.

    In a bar of two voices a silence is printed where both lines are at work, unless it follows the last note there of the
    inner line (``waits``), whose beat (``beats``, ticks) is filled and no more; elsewhere only the first voice (``home``)
    prints it, for the whole hand is silent.
    """
    spans: list[Span] = []
    at = bar.start
    for start, end, notes in [*chords, (bar.end, bar.end, ())]:
        if start > at:
            for low, high, shown in _silences(at, start, double):
                goes_on = notes and any(low < b and a <= start < b for a, b in double)
                printed = (not waits or goes_on) if shown else home
                if shown and not printed and low not in beats and low == at > bar.start:
                    beat = min((beat for beat in beats if beat > low), default=high)
                    if beat <= high:
                        spans.append(Span(low, beat))
                        low = beat
                if low < high:
                    spans.append(Span(low, high, hidden=bool(double) and not printed))
        if notes:
            spans.append(Span(start, end, notes))
        at = max(at, end)
    return spans


def _silences(start: int, end: int, double: Sequence[tuple[int, int]]) -> list[tuple[int, int, bool]]:
    edges = sorted({start, end, *(edge for stretch in double for edge in stretch if start < edge < end)})
    return [(a, b, any(low <= a and b <= high for low, high in double)) for a, b in itertools.pairwise(edges)]


def _add_graces(voices: list[Voice], graces: Graces, bar: Bar, low_first: bool) -> None:
    """Hang each grace before the note that it leads to; a grace that leads to none gets its place in the silence."""
    for lane, found in graces.items():
        k = bisect_left(found, (bar.start, []), key=lambda item: (item[0], []))
        while k < len(found) and found[k][0] < bar.end:
            onset, notes = found[k]
            k += 1
            choice = [voice for voice in voices if any(span.start == onset and span.notes for span in voice.spans)]
            voice = choice[0] if choice else voices[0]
            if len(choice) > 1:
                voice = choice[lane if not low_first else 1 - lane] if lane < 2 else choice[0]
            for place, span in enumerate(voice.spans):
                if span.start == onset:
                    span.graces = (*span.graces, *notes)
                    break
                if span.start < onset < span.end:
                    if span.notes:
                        span = voice.spans[min(place + 1, len(voice.spans) - 1)]
                        span.graces = (*span.graces, *notes)
                    else:
                        voice.spans.insert(place + 1, Span(onset, span.end, hidden=span.hidden, graces=tuple(notes)))
                        span.end = onset
                    break
