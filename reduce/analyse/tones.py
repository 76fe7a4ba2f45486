"""What sounds when: tones without their doublings, on a grid of beats, with the ornaments told apart."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal, NamedTuple

from reduce.model.score import Bar, Score

Ornament = Literal["", "passing", "neighbour", "suspension", "appoggiatura", "escape", "anticipation", "pedal"]


class Tone(NamedTuple):
    """A sounding tone: ``onset``, ``end`` in ticks, MIDI number, place on the line of fifths (C = 0), weight, line.

    ``weight`` 1 is one real line; ``line`` joins the tones that one player plays one after the other (any number).
    """

    onset: int
    end: int
    midi: int
    fifths: int
    weight: float = 1.0
    line: int = 0


class Point(NamedTuple):
    """A moment where the harmony may change.  ``strength`` 0 bar line, 1 middle of the bar, 2 other beat, 3 off the beat."""

    at: int
    strength: int


@dataclass(frozen=True, slots=True)
class Slice:
    """What sounds between two neighbouring points.

    ``value[pc]`` is what a chord gains by owning that pitch class: its weight as a chord note plus what it would cost as a
    foreign note (index 12 is always 0).  ``foreign`` is the cost of all of them as foreign notes.  ``beats`` is the length.
    """

    start: int
    end: int
    strength: int
    bar: int
    beats: float
    value: tuple[float, ...]
    foreign: float
    mask: int
    bass: int  # pitch class of the lowest tone, -1 in silence


def tones_of(score: Score) -> list[Tone]:
    """All struck, pitched tones of the score; notes of one pitch class, onset and end are one tone (a doubling), at their lowest octave.

    Drums carry half the weight: old timpani parts sound tonic and dominant whatever the chord is (common practice).
    """
    drums = {part.index for part in score.parts if part.family == "percussion"}
    lines: dict[tuple[int, int, str], int] = {}
    lowest: dict[tuple[int, int, int], Tone] = {}
    for note in score.notes:
        if note.kind != "struck" or not note.duration:
            continue
        midi = note.midi
        onset = note.onset
        end = onset + note.duration
        key = (onset, end, midi % 12)
        held = lowest.get(key)
        if held is not None and held.midi <= midi:
            continue
        place = (note.part, note.staff, note.voice)
        line = lines.setdefault(place, len(lines))
        if note.part in drums:
            if held is None:
                lowest[key] = Tone(onset, end, midi + 48, note.pitch.fifths, 0.5, line)
        else:
            lowest[key] = Tone(onset, end, midi, note.pitch.fifths, 1.0, line)
    return sorted(lowest.values())


def bar_at(bars: Sequence[Bar], tick: int) -> Bar:
    """The bar that sounds at a tick (the last one beyond the end)."""
    return bars[max(0, bisect_right(bars, tick, key=lambda bar: bar.start) - 1)]


def beats_of(bars: Iterable[Bar], resolution: int) -> list[tuple[int, int, int]]:
    """Every beat as (tick, strength, bar index); an upbeat bar counts from its end, a short bar as far as it goes."""
    beats: list[tuple[int, int, int]] = []
    for bar in bars:
        beat = bar.meter.beat_ticks(resolution)
        full = bar.meter.ticks(resolution)
        count = max(1, full // beat)
        groups: set[int] = set()
        if len(bar.meter.beats) > 1:
            at = 0
            for group in bar.meter.beats[:-1]:
                at += group
                groups.add(at)
        elif count % 2 == 0 and count > 2:
            groups.add(count // 2)
        skipped = full - bar.length if bar.pickup and bar.length < full else 0
        for index in range(-(-bar.length // beat) + 1 + count):
            tick = bar.start + index * beat - skipped
            if tick >= bar.end:
                break
            if tick < bar.start:
                continue
            beats.append((tick, 0 if index == 0 else 1 if index % count in groups else 2, bar.index))
        if not beats or beats[-1][2] != bar.index:
            beats.append((bar.start, 2, bar.index))
        elif skipped and (bar.length % beat):
            beats.append((bar.start, 3, bar.index))
    beats.sort()
    return beats


def moves_in_line(tones: Sequence[Tone]) -> tuple[list[int], list[int]]:
    """Semitones by which each tone is reached from, and left for, the nearest tone of its line; 99 where a rest or nothing lies there."""
    into = [99] * len(tones)
    out = [99] * len(tones)
    last: dict[int, list[int]] = {}
    for index, tone in enumerate(tones):
        group = last.get(tone.line)
        if group is None:
            last[tone.line] = [index]
            continue
        first = tones[group[0]]
        if first.onset == tone.onset:
            group.append(index)
            continue
        if tone.onset <= first.end:
            for old in group:
                move = tone.midi - tones[old].midi
                if abs(move) < abs(out[old]):
                    out[old] = move
                if abs(move) < abs(into[index]):
                    into[index] = move
        last[tone.line] = [index]
    return into, out


def ornaments(tones: Sequence[Tone], on_beat: frozenset[int], into: Sequence[int], out: Sequence[int]) -> list[Ornament]:
    """For each tone what kind of foreign note it could be by the way it is reached and left in its line; ``""`` for none.

    Whether it *is* one depends on the chord.  Steps are one or two semitones.  ``on_beat`` holds the ticks of the beats.
    Source: the usual definitions of harmony books (common practice).
    """
    kinds: list[Ornament] = []
    for tone, come, go in zip(tones, into, out, strict=True):
        strong = tone.onset in on_beat
        kind: Ornament = ""
        if 0 < abs(go) <= 2:
            if come == 0 and go < 0:
                kind = "suspension"
            elif 0 < abs(come) <= 2:
                kind = "passing" if (come > 0) == (go > 0) else "neighbour"
            elif come != 99:
                kind = "appoggiatura" if strong else "neighbour"
        elif 0 < abs(come) <= 2 and not strong and go != 99:
            kind = "anticipation" if go == 0 else "escape"
        kinds.append(kind)
    return kinds


def slices_of(
    tones: Sequence[Tone],
    bars: Sequence[Bar],
    resolution: int,
    *,
    off_beat: float,
    as_foreign: dict[Ornament, float],
    held_foreign: float,
) -> list[Slice]:
    """Cut the piece at its beats, and off the beat where two lines move to new pitch classes together.

    ``off_beat`` is the weight of a tone struck off the beat; ``as_foreign`` what a tone costs, as a share of its weight, when it is
    foreign to the chord, by the kind of ornament it could be; ``held_foreign`` the share for a tone that was struck before this slice
    and steps away (a suspension) or lies still (a pedal).
    """
    if not tones or not bars:
        return []
    beats = beats_of(bars, resolution)
    on_beat = frozenset(tick for tick, _, _ in beats)
    into, out = moves_in_line(tones)
    kinds = ornaments(tones, on_beat, into, out)
    points = {tick: (strength, bar) for tick, strength, bar in beats}
    bar_at = {bar.index: bar for bar in bars}

    # moves of several lines off the beat, at the half of a simple beat or the thirds of a dotted one
    attacks: dict[int, int] = {}
    for tone in tones:
        if tone.onset not in on_beat:
            attacks[tone.onset] = attacks.get(tone.onset, 0) | 1 << tone.midi % 12
    ticks = sorted(points)
    if attacks:
        sounding: dict[int, int] = {}
        for tone in tones:
            sounding[tone.onset] = sounding.get(tone.onset, 0) | 1 << tone.midi % 12
        position = 0
        previous = 0
        for onset in sorted(sounding):
            mask = sounding[onset]
            if onset in attacks and mask & (mask - 1) and mask & ~previous:
                while position + 1 < len(ticks) and ticks[position + 1] <= onset:
                    position += 1
                strength, bar = points[ticks[position]]
                meter = bar_at[bar].meter
                beat = meter.beat_ticks(resolution)
                part = beat // 3 if meter.compound else beat // 2
                if ticks[position] < onset and part and (onset - ticks[position]) % part == 0:
                    points[onset] = (3, bar)
            previous = mask
        ticks = sorted(points)
    end = max(bars[-1].end, max(tone.end for tone in tones))
    ticks = [tick for tick in ticks if tick < end]
    ticks.append(end)
    count = len(ticks) - 1
    own = [[0.0] * 12 for _ in range(count)]
    alien = [[0.0] * 12 for _ in range(count)]
    low = [999] * count
    masks = [0] * count
    index_of = {tick: index for index, tick in enumerate(ticks)}
    at = 0
    for tone, kind, go in zip(tones, kinds, out, strict=True):
        onset = tone.onset
        first = index_of.get(onset, -1)
        if first < 0:
            while at + 1 < count and ticks[at + 1] <= onset:
                at += 1
            while ticks[at] > onset:
                at -= 1
            first = at
            base = off_beat * tone.weight
        else:
            at = first
            base = tone.weight
        pc = tone.midi % 12
        share = as_foreign[kind]
        bit = 1 << pc
        index = first
        tone_end = tone.end
        while index < count and ticks[index] < tone_end:
            start = ticks[index] if ticks[index] > onset else onset
            stop = ticks[index + 1] if ticks[index + 1] < tone_end else tone_end
            weight = base * (stop - start)
            own[index][pc] += weight
            alien[index][pc] += weight * (share if index == first else held_foreign if 0 < abs(go) <= 2 else 1.0)
            masks[index] |= bit
            if tone.midi < low[index] and (2 * (start - ticks[index]) <= ticks[index + 1] - ticks[index]):
                low[index] = tone.midi
            index += 1
    slices: list[Slice] = []
    for index in range(count):
        start = ticks[index]
        strength, bar = points[start]
        beat = bar_at[bar].meter.beat_ticks(resolution)
        beats_long = (ticks[index + 1] - start) / beat
        total = sum(own[index])
        density = total / (ticks[index + 1] - start)
        scale = (1.0 if density <= 4 else (4 / density) ** 0.5) / beat
        foreign = [scale * cost for cost in alien[index]]
        value = [scale * gain + cost for gain, cost in zip(own[index], foreign, strict=True)]
        slices.append(
            Slice(
                start,
                ticks[index + 1],
                strength,
                bar,
                beats_long,
                (*value, 0.0),
                sum(foreign),
                masks[index],
                low[index] % 12 if low[index] < 999 else -1,
            )
        )
    return slices
