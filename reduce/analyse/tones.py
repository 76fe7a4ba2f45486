"""What sounds: tones without their doublings, and what each could be besides a chord note."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal, NamedTuple

from reduce.model.draft import Draft
from reduce.model.score import Score

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


def tones_of_draft(draft: Draft) -> list[Tone]:
    """The tones of a piano draft: each strand of each hand is a line."""
    lines = {("right", 1): 0, ("right", 2): 1, ("left", 2): 2, ("left", 1): 3}
    return sorted(
        Tone(note.onset, note.end, note.midi, note.pitch.fifths, 1.0, lines[note.hand, note.strand])
        for note in draft.notes
        if note.duration and not note.grace
    )


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


def ringing(tones: Sequence[Tone], out: Sequence[int], bar_ends: Sequence[int], beats: Sequence[int]) -> list[int]:
    """Until when each tone is still heard in the mind: its end, or the end of its bar where its line leaps away in a broken chord.

    A line that leaps twice in notes shorter than a beat, or once where no more than two lines sound, is heard as several lines; each
    tone lasts until the line comes back to within a step of it.  ``bar_ends`` and ``beats`` give for each tone the end of its bar and
    the length of its beat in ticks.  Source: compound melody, as harmony books teach it (common practice).
    """
    ends = [tone.end for tone in tones]
    players: dict[int, list[int]] = {}
    for index, tone in enumerate(tones):
        players.setdefault(tone.line, []).append(index)
    crowd = _crowd(tones)
    for indices in players.values():
        for place, index in enumerate(indices):
            tone = tones[index]
            before = indices[place - 1] if place else index
            long = tone.end - tone.onset
            after = indices[place + 1] if place + 1 < len(indices) else index
            if not 2 < abs(out[index]) < 99 or long > beats[index] or (long == beats[index] and crowd[index] > 2):
                continue
            if crowd[index] > 2 and not 2 < abs(out[after]) < 99 and not 2 < abs(out[before]) < 99:
                continue
            end = bar_ends[index]
            for other in indices[place + 1 :]:
                later = tones[other]
                if later.onset >= end:
                    break
                if later.onset > tone.onset and abs(later.midi - tone.midi) <= 2:
                    end = later.onset
                    break
            ends[index] = max(end, tone.end)
    return ends


def _crowd(tones: Sequence[Tone]) -> list[int]:
    """How many lines sound when each tone is struck."""
    counts = [0] * len(tones)
    until: dict[int, int] = {}
    start = 0
    while start < len(tones):
        onset = tones[start].onset
        stop = start
        while stop < len(tones) and tones[stop].onset == onset:
            line = tones[stop].line
            until[line] = max(until.get(line, 0), tones[stop].end)
            stop += 1
        sounding = sum(1 for end in until.values() if end > onset)
        for index in range(start, stop):
            counts[index] = sounding
        start = stop
    return counts
