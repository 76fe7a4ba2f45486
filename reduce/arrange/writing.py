"""Keys that were chosen become draft notes with names, ids and claims on the source."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Sequence

from reduce.arrange.key_spelling import Speller
from reduce.arrange.line import bar_at
from reduce.arrange.marks_colour import Event
from reduce.arrange.sounding import Sound
from reduce.arrange.strands import Key as Press
from reduce.model.draft import DraftNote
from reduce.model.pitch import Pitch, above, in_key
from reduce.model.record import replace
from reduce.model.score import Bar
from reduce.model.texture import Chord

_CHORDS_BACK = 2  # chords that a figure of the left hand may have been made of before it is named
_LOOK_BACK = 24  # notes of one pitch class that may still sound when a later one begins


def names(sounds: Sequence[Sound], speller: Speller, chords: Sequence[Chord] = ()) -> Callable[[int, int, int, int], Pitch]:
    """A way to name keys: as the source names what sounds in a stretch (key, onset, end).

    What does not sound is named in thirds from the root of its chord (``chords``, in the draft's key), else plainly in the key signature.
    """
    by_class: dict[int, list[Sound]] = {}
    for sound in sounds:
        by_class.setdefault(sound.midi % 12, []).append(sound)
    onsets = {pc: [s.onset for s in row] for pc, row in by_class.items()}

    starts = [chord.start for chord in chords]

    def sounding(midi: int, onset: int, end: int) -> Pitch | None:
        row = by_class.get(midi % 12, [])
        first = max(0, bisect_left(onsets.get(midi % 12, []), onset) - _LOOK_BACK)
        for sound in row[first:]:
            if sound.onset >= end:
                break
            if sound.end > onset:
                there = speller.pitch(sound.note.pitch, onset)
                return Pitch(there.step, there.alter, there.octave + (midi - there.midi) // 12)
        return None

    def name(midi: int, onset: int, end: int, fifths: int) -> Pitch:
        found = sounding(midi, onset, end)
        if found is not None:
            return found
        place = bisect_right(starts, onset) - 1
        chord = next((each for each in reversed(chords[max(0, place - _CHORDS_BACK) : place + 1]) if midi % 12 in each.tones), None)
        if chord is None:
            return in_key(midi, fifths)
        low = midi - (midi - chord.root) % 12
        root = sounding(low, chord.start, chord.end) or in_key(low, fifths)
        return above(root, midi, 2 * chord.tones.index(midi % 12)) or in_key(midi, fifths)

    return name


def written(
    presses: Sequence[Press], name: Callable[[int, int, int, int], Pitch], bars: Sequence[Bar], offset: int
) -> tuple[tuple[DraftNote, ...], dict[str, str]]:
    """Draft notes with ids in score order, and which source note each outer note claims."""
    notes: list[DraftNote] = []
    claims: dict[str, str] = {}
    serial = 0
    for press in sorted(presses, key=lambda p: (p.onset, p.hand == "left", p.strand, -p.midi)):
        tone = press.tone
        for grace in tone.graces if tone is not None else ():
            serial += 1
            notes.append(
                DraftNote(
                    id=f"n{serial}", hand=press.hand, strand=press.strand, onset=press.onset - offset, duration=0, pitch=grace.pitch,
                    midi=grace.midi, role="melody", sources=grace.sources, grace=True, grace_slash=True,
                )
            )  # fmt: skip
        serial += 1
        pitch = press.pitch or name(press.midi, press.onset, press.end, bar_at(bars, press.onset).key.fifths)
        note = DraftNote(
            id=f"n{serial}",
            hand=press.hand,
            strand=press.strand,
            onset=press.onset - offset,
            duration=press.end - press.onset,
            pitch=pitch,
            midi=press.midi,
            role=("melody" if press.sung or press.hand == "right" else "bass") if press.outer else "harmony",
            sources=tone.sources if tone is not None else (),
            decision=tone.changed if tone is not None else "",
            articulations=tone.articulations if tone is not None else (),
            ornaments=tone.ornaments if tone is not None else (),
            fermata=tone.fermata if tone is not None else False,
        )
        claims.update((source, note.id) for source in note.sources)
        notes.append(note)
    return tuple(notes), claims


def weighted(notes: tuple[DraftNote, ...], events: Sequence[Event], offset: int) -> tuple[DraftNote, ...]:
    """An accent on the lowest note struck where a drum or a cymbal enters."""
    onsets = {event.onset - offset for event in events}
    lowest: dict[int, DraftNote] = {}
    for note in notes:
        if note.onset in onsets and not note.grace and (note.onset not in lowest or note.midi < lowest[note.onset].midi):
            lowest[note.onset] = note
    marked = {n.id for n in lowest.values() if "accent" not in n.articulations and "strong-accent" not in n.articulations}
    return tuple(replace(n, articulations=(*n.articulations, "accent")) if n.id in marked else n for n in notes)
