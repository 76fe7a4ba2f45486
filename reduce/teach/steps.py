"""Practice steps to the printed left hand: the bass alone, its chords as blocks, the figure as it is printed."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from operator import itemgetter
from typing import Literal

from reduce.hands.check import check
from reduce.hands.hand import grip
from reduce.model.draft import Draft, DraftNote
from reduce.model.record import dataclass, replace
from reduce.teach.lesson import Lesson, sounding
from reduce.teach.tempi import at_tempo, ladder

Kind = Literal["bass", "blocks"]
Right = Literal["printed", "tune", "none"]
Piece = tuple[int, int, tuple[int, ...]]  # start, end, pitch classes of the chord
_RIGHTS: tuple[Right, ...] = ("printed", "tune", "none")
PRACTICE = "practice step"  # the decision of a note that a step has instead of printed ones
_KEPT = ("slur", "ottava", "rehearsal")  # marks that a step keeps


@dataclass(frozen=True, kw_only=True)
class Step:
    """One stage on the way: the draft with a simpler left hand, at its slowest tempo.

    ``right`` tells what the right hand plays with it, ``level`` the name of the level at which the check finds it playable.
    """

    kind: Kind
    draft: Draft
    right: Right
    level: str


def steps(lesson: Lesson) -> tuple[Step, ...]:
    """The stages that are simpler than the printed left hand, the simplest first; none where it is simple already.

    Each note is a key that the printed left hand plays in that moment's chord, and each stage is playable at the easier level: if
    need be the right hand plays the tune alone, or rests.
    """
    printed = lesson.hand("left")
    harmony = [(start, end, chord.tones) for chord, _, start, end in lesson.pieces]
    most = lesson.rules.number("teach.practice-steps.simpler") * len({note.onset for note in printed})
    slow = ladder(lesson)[0]
    whole = check(at_tempo(lesson, lesson.draft, slow), lesson.rules.level, lesson.rules, lesson.span).weight
    made: list[Step] = []
    shapes: list[list[tuple[int, int]]] = []
    for kind, keys in _stages(lesson):
        found: list[tuple[int, Step, list[tuple[int, int]]]] = []
        for most_keys in keys:
            notes = _simpler(lesson, printed, harmony, most_keys)
            shape = sorted((note.onset, note.midi) for note in notes)
            if not notes or shape in shapes or len({note.onset for note in notes}) > most:
                continue
            step = _playable(lesson, kind, notes, slow, whole)
            if step is not None:
                found.append((_RIGHTS.index(step.right), step, shape))
        if found:
            _, step, shape = min(found, key=itemgetter(0))
            made.append(step)
            shapes.append(shape)
    return tuple(made)


def _stages(lesson: Lesson) -> tuple[tuple[Kind, Sequence[int]], ...]:
    """What is tried, with the most keys of a chord: the bass; as many keys as the easier level holds, down to two.

    Of these the one that leaves most of the right hand is taken.
    """
    return ("bass", (1,)), ("blocks", range(max(2, lesson.easier.level.notes_left), 1, -1))


def _simpler(lesson: Lesson, printed: Sequence[DraftNote], harmony: Sequence[Piece], most_keys: int) -> tuple[DraftNote, ...]:
    """The left hand with one stroke of so many keys for each chord in each bar.

    Where the left hand has the tune (the right one rests, or the log says so) it stays as printed; so does a chord that is one stroke
    already and lies under an easier hand.
    """
    right = lesson.hand("right")
    found: list[DraftNote] = []
    for start, end, tones in harmony:
        here = [note for note in printed if start <= note.onset < end]
        if not here:
            continue
        above = sounding(right, start, end)
        struck_once = len({note.onset for note in here}) == 1 and most_keys > 1 and len(here) <= most_keys and _under_hand(lesson, here)
        if struck_once or not above or any(note.id in lesson.tune for note in here):
            found.extend(here)
            continue
        chosen = _grip(lesson, [note for note in here if note.midi % 12 in tones], most_keys)
        chosen = [note for note in chosen if all(other.midi != note.midi for other in above)]
        if chosen:
            onset = min(note.onset for note in here)
            found.extend(
                DraftNote(
                    id=f"step-{note.id}", hand="left", strand=1, onset=onset, duration=end - onset, pitch=note.pitch, midi=note.midi,
                    role=note.role, sources=note.sources, decision=PRACTICE,
                )
                for note in chosen
            )  # fmt: skip
    return _one_after_another(found)


def _one_after_another(notes: Sequence[DraftNote]) -> tuple[DraftNote, ...]:
    """The notes of each strand cut where its next ones begin."""
    cut = []
    for strand in (1, 2):
        row = sorted((note for note in notes if note.strand == strand), key=lambda note: (note.onset, note.midi))
        onsets = sorted({note.onset for note in row})
        following = dict(pairwise(onsets))
        ends = {onset: max(note.end for note in row if note.onset == onset) for onset in onsets}
        for note in row:
            cut.append(replace(note, duration=min(ends[note.onset], following.get(note.onset, ends[note.onset])) - note.onset))
    return tuple(cut)


def _grip(lesson: Lesson, tones: list[DraftNote], most_keys: int) -> list[DraftNote]:
    """Keys that the hand takes together: from the bass up or, where the bass lies apart, the chord above it; one key is the bass."""
    keys = sorted({note.midi: note for note in reversed(tones)}.values(), key=lambda note: note.midi)
    if not keys or most_keys == 1:
        return keys[:1]
    low = [keys[0]]
    for note in keys[1:]:
        if len(low) < most_keys and _under_hand(lesson, [*low, note]):
            low.append(note)
    high = [keys[-1]]
    for note in keys[-2::-1]:
        if len(high) < most_keys and _under_hand(lesson, [note, *high]):
            high.insert(0, note)
    return low if len(low) > 1 else high


def _under_hand(lesson: Lesson, chosen: Sequence[DraftNote]) -> bool:
    """Whether a hand of the easier level takes these keys at once."""
    level = lesson.easier.level
    row = tuple(sorted({note.midi for note in chosen}))
    span = min(lesson.span or level.hand_span, level.hand_span)
    octave = lesson.rules.number("hands.keyboard.octave")
    return row[-1] - row[0] <= level.span_left and (len(row) < 2 or grip(row, span, "left", octave) is not None)


def _playable(lesson: Lesson, kind: Kind, left: tuple[DraftNote, ...], slow: int, whole: float) -> Step | None:
    """The stage with as much of the right hand as the easier level plays and as is lighter than the ``whole`` piece.

    None where the left hand alone is too much.
    """
    level = lesson.easier.level
    printed = [note for note in lesson.draft.notes if note.hand == "right"]
    tune = _top(lesson)
    choices: tuple[tuple[Right, Sequence[DraftNote]], ...] = (("printed", printed), ("tune", tune), ("none", ()))
    for right, notes in choices:
        there = {note.id for note in notes}
        draft = replace(
            lesson.draft,
            notes=(*notes, *left),
            marks=tuple(mark for mark in lesson.draft.marks if mark.kind in _KEPT and mark.hand != "left" and there.issuperset(mark.notes)),
        )
        draft = at_tempo(lesson, draft, slow)
        report = check(draft, level, lesson.easier, lesson.span)
        if report.playable and report.weight < whole:
            return Step(kind=kind, draft=draft, right=right, level=level.name)
    return None


def _top(lesson: Lesson) -> list[DraftNote]:
    """The right hand's highest notes, one at a time."""
    tops: dict[int, DraftNote] = {}
    for note in lesson.hand("right"):
        if note.onset not in tops or note.midi > tops[note.onset].midi:
            tops[note.onset] = note
    row = sorted(tops.values(), key=lambda note: note.onset)
    ends = [*(note.onset for note in row[1:]), lesson.draft.end]
    return [replace(note, strand=1, duration=min(note.duration, end - note.onset)) for note, end in zip(row, ends, strict=True)]
