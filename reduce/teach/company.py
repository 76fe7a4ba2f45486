"""Drafts of one excerpt sounding together: whether they make one harmony, and which notes stand against it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from math import lcm

from reduce.model.draft import Draft, DraftNote
from reduce.model.record import dataclass, replace
from reduce.model.score import Score
from reduce.model.texture import Chord

_STEP = 2  # semitones
_WHOLE = 4  # beats of a bar whose half is strong too


@dataclass(frozen=True, slots=True, kw_only=True)
class Clash:
    """A note against the harmony of a strong beat; ``bar`` index, ``beat`` from 1, ``player`` which draft it belongs to."""

    bar: int
    beat: int
    player: int
    note: DraftNote
    chord: Chord


def united(drafts: Sequence[Draft]) -> Draft:
    """All drafts as one, bar for bar; ids of the notes begin with the number of their draft.

    Raises ValueError where bars, metres, key or tempo differ.
    """
    first = drafts[0]
    frames = [[(bar.number, bar.meter, bar.key.fifths) for bar in draft.bars] for draft in drafts]
    speeds = {next((tempo.quarters for tempo in draft.tempos if tempo.quarters), None) for draft in drafts}
    if any(frame != frames[0] for frame in frames) or len(speeds) > 1:
        raise ValueError("bars, metre, key or tempo differ")
    resolution = lcm(*(draft.resolution for draft in drafts))
    notes: list[DraftNote] = []
    for place, draft in enumerate(drafts):
        scale = resolution // draft.resolution
        notes += [
            replace(note, id=f"{place}-{note.id}", onset=note.onset * scale, duration=note.duration * scale)
            for note in draft.notes
            if not note.grace
        ]
    scale = resolution // first.resolution
    return replace(
        first,
        resolution=resolution,
        bars=tuple(replace(bar, start=bar.start * scale, length=bar.length * scale) for bar in first.bars),
        notes=tuple(sorted(notes, key=lambda note: (note.onset, note.midi))),
        tempos=tuple(replace(tempo, onset=tempo.onset * scale) for tempo in first.tempos),
        marks=(),
    )


def clashes(whole: Draft, chords: Sequence[Chord], source: Score | None) -> tuple[Clash, ...]:
    """Notes that sound on a strong beat and belong neither to its chord nor to the orchestra there; passing and neighbour notes apart.

    ``whole`` are all drafts as one, ``chords`` its harmony, ``source`` the same bars of the orchestra.
    """
    found = []
    for bar, beat, tick in strong_beats(whole):
        chord = next((chord for chord in chords if chord.start <= tick < chord.end), None)
        if chord is None:
            continue
        allowed = {*chord.tones, *_orchestra(whole, source, tick)}
        for note in whole.notes:
            if note.onset <= tick < note.end and note.midi % 12 not in allowed and not _on_its_way(note, whole):
                found.append(Clash(bar=bar, beat=beat, player=int(note.id.partition("-")[0]), note=note, chord=chord))
    return tuple(found)


def strong_beats(draft: Draft) -> Iterator[tuple[int, int, int]]:
    """Bar lines and, in bars of four, the third beat: bar index, beat from 1, tick."""
    for k, bar in enumerate(draft.bars):
        step = bar.meter.beat_ticks(draft.resolution)
        for beat in (0, 2) if bar.length == _WHOLE * step else (0,):
            if not bar.pickup:
                yield k, beat + 1, bar.start + beat * step


def _orchestra(whole: Draft, source: Score | None, tick: int) -> set[int]:
    """Pitch classes that the orchestra sounds at a moment, in the key of the drafts."""
    if source is None or not whole.end:
        return set()
    now = Fraction(tick * source.end, whole.end)
    return {(note.midi + whole.transposed) % 12 for note in source.notes if note.kind == "struck" and note.onset <= now < note.end}


def _on_its_way(note: DraftNote, whole: Draft) -> bool:
    """Whether a note comes and goes by step inside its line: the notes of the same hand just before and after it."""
    place = note.id.partition("-")[0]
    line = [
        other for other in whole.notes if other.hand == note.hand and other.id.partition("-")[0] == place and other.strand == note.strand
    ]
    before = [other for other in line if other.end == note.onset]
    after = [other for other in line if other.onset == note.end]
    return any(0 < abs(one.midi - note.midi) <= _STEP for one in before) and any(0 < abs(one.midi - note.midi) <= _STEP for one in after)
