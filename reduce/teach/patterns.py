"""What repeats in a hand's notes: the same notes an octave away, two notes in turn, the chord behind a broken figure."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

from reduce.hands.hand import grip
from reduce.hands.keyboard import centres
from reduce.model.draft import DraftNote, Hand
from reduce.model.pitch import Pitch
from reduce.model.texture import Chord
from reduce.teach.lesson import Lesson
from reduce.teach.naming import interval, joined, root_name

_GROUPS = (6, 5, 4, 3)  # notes of a group that may come again an octave away, the longest first
_RUN, _TURNS, _STRIKES = 5, 4, 4  # fewest notes of a run, of two things in turn, strokes of one thing


@dataclass(frozen=True, slots=True)
class Stroke:
    """What one hand strikes at one moment, low to high."""

    onset: int
    notes: tuple[DraftNote, ...]

    @property
    def keys(self) -> tuple[int, ...]:
        return tuple(note.midi for note in self.notes)

    @property
    def pitches(self) -> tuple[Pitch, ...]:
        return tuple(note.pitch for note in self.notes)


@dataclass(frozen=True, slots=True, kw_only=True)
class Pattern:
    """One thing that repeats.

    ``groups`` are the notes that its sentence names, ``facts`` what else it is filled with; ``chord`` what a broken figure spells.
    """

    kind: str
    groups: tuple[tuple[Pitch, ...], ...]
    strokes: tuple[Stroke, ...]
    facts: Mapping[str, object] = field(default_factory=dict)
    chord: Chord | None = None


def strokes(lesson: Lesson, hand: Hand, start: int, end: int) -> list[Stroke]:
    """What a hand strikes between two ticks, moment by moment."""
    by_onset: dict[int, dict[int, DraftNote]] = {}
    for note in lesson.struck(hand, start, end):
        by_onset.setdefault(note.onset, {})[note.midi] = note
    return [Stroke(onset, tuple(notes[key] for key in sorted(notes))) for onset, notes in sorted(by_onset.items())]


def pattern(lesson: Lesson, row: Sequence[Stroke]) -> Pattern | None:
    """The plainest thing that repeats in a row of strokes, or None where nothing does."""
    finders: tuple[Callable[[Lesson, Sequence[Stroke]], Pattern | None], ...] = (
        _octave_copy, _run, _bass_and_chord, _in_turn, _broken_chord, _shape_again, _repeated
    )  # fmt: skip
    return next((found for finder in finders if (found := finder(lesson, row)) is not None), None)


def told(lesson: Lesson, found: Pattern) -> str:
    """The pattern as a sentence, with its notes by name."""
    names = {f"group_{k}": joined(group, lesson.words) for k, group in enumerate(found.groups, 1)}
    return lesson.words.say(f"pattern.{found.kind}", **names, **found.facts)


def _octave_copy(lesson: Lesson, row: Sequence[Stroke]) -> Pattern | None:
    """A group of single notes that comes again an octave lower or higher."""
    for size in _GROUPS:
        for i in range(len(row) - 2 * size + 1):
            group, again = row[i : i + size], row[i + size : i + 2 * size]
            if any(len(stroke.keys) > 1 for stroke in (*group, *again)) or len({stroke.keys for stroke in group}) < 3:
                continue
            shifts = {b.keys[0] - a.keys[0] for a, b in zip(group, again, strict=True)}
            if shifts in ({12}, {-12}):
                name = "octave-higher" if shifts == {12} else "octave-lower"
                notes = tuple(stroke.pitches[0] for stroke in group)
                return Pattern(kind=name, groups=(notes,), strokes=(*group, *again), facts={"n": size})
    return None


def _shape_again(lesson: Lesson, row: Sequence[Stroke]) -> Pattern | None:
    """A group of single notes in one rhythm that comes again at once, from the same or from another step of the scale."""
    words = lesson.words
    for size in _GROUPS:
        for i in range(len(row) - 2 * size + 1):
            group, again = row[i : i + size], row[i + size : i + 2 * size]
            if any(len(stroke.keys) > 1 for stroke in (*group, *again)) or len({stroke.keys for stroke in group}) < 3:
                continue
            steps = {b.pitches[0].diatonic - a.pitches[0].diatonic for a, b in zip(group, again, strict=True)}
            if len(steps) > 1 or _gaps(group) != _gaps(again):
                continue
            step = steps.pop()
            groups = tuple(tuple(stroke.pitches[0] for stroke in part) for part in (group, again))
            facts: dict[str, object] = {"n": size}
            if step:
                facts |= {"interval": interval(groups[0][0], groups[1][0], words), "way": words.say(f"way.{'up' if step > 0 else 'down'}")}
            kind = "moved" if step else "again"
            return Pattern(kind=kind, groups=groups if step else groups[:1], strokes=(*group, *again), facts=facts)
    return None


def _gaps(row: Sequence[Stroke]) -> list[int]:
    return [b.onset - a.onset for a, b in pairwise(row)]


def _run(lesson: Lesson, row: Sequence[Stroke]) -> Pattern | None:
    """Neighbouring keys in one direction, white and black as the scale has them."""
    best: list[Stroke] = []
    for up in (1, -1):
        run: list[Stroke] = []
        for stroke in row:
            if len(stroke.keys) > 1:
                run = []
                continue
            step = (stroke.keys[0] - run[-1].keys[0]) * up if run else 0
            run = [*run, stroke] if 1 <= step <= 2 else [stroke]
            if len(run) > len(best):
                best = run
    if len(best) < _RUN:
        return None
    five = len(best) == _RUN and _in_one_grip(lesson, best)
    way = "up" if best[-1].keys > best[0].keys else "down"
    kind = f"five-{way}" if five else f"run-{way}"
    return Pattern(kind=kind, groups=(best[0].pitches, best[-1].pitches), strokes=tuple(best), facts={"n": len(best)})


def _bass_and_chord(lesson: Lesson, row: Sequence[Stroke]) -> Pattern | None:
    """Low notes, single or in octaves, and between or after them one chord that is struck again and again."""
    chords = [stroke for stroke in row if not _low(stroke)]
    lows = [stroke for stroke in row if _low(stroke)]
    if not chords or not lows or row[0] is not lows[0]:
        return None
    if len({stroke.keys for stroke in chords}) > 1 or any(low.keys[0] >= chords[0].keys[0] for low in lows):
        return None
    basses = tuple(dict.fromkeys(stroke.pitches[0] for stroke in lows))
    if len(lows) == 1:
        kind = "bass-and-chord"
    elif all(_low(stroke) != _low(after) for stroke, after in pairwise(row)):
        kind = "stride"
    else:
        return None
    return Pattern(kind=kind, groups=(basses, chords[0].pitches), strokes=tuple(row), facts={"n": len(chords)})


def _low(stroke: Stroke) -> bool:
    """Whether a stroke is one note, or one in octaves."""
    return len(stroke.keys) == 1 or (len(stroke.keys) == 2 and stroke.keys[1] - stroke.keys[0] == 12)


def _in_turn(lesson: Lesson, row: Sequence[Stroke]) -> Pattern | None:
    """Two strokes that alternate."""
    best: list[Stroke] = []
    run: list[Stroke] = []
    for stroke in row:
        if run and stroke.keys != run[-1].keys and (len(run) < 2 or stroke.keys == run[-2].keys):
            run = [*run, stroke]
        else:
            run = [run[-1], stroke] if run and run[-1].keys != stroke.keys else [stroke]
        if len(run) > len(best):
            best = run
    if len(best) < _TURNS:
        return None
    return Pattern(kind="in-turn", groups=(best[0].pitches, best[1].pitches), strokes=tuple(best), facts={"n": len(best)})


def _broken_chord(lesson: Lesson, row: Sequence[Stroke]) -> Pattern | None:
    """Notes one after another that are a chord together: inside one grip, or wider than the hand."""
    best: list[Stroke] = []
    spelled: Chord | None = None
    for chord, _, start, end in lesson.pieces_in(row[0].onset, row[-1].onset + 1) if row else ():
        here = [stroke for stroke in row if start <= stroke.onset < end]
        if len(here) > len(best) and all(len(stroke.keys) == 1 and stroke.keys[0] % 12 in chord.tones for stroke in here):
            alone = _spelled(lesson, chord, {stroke.keys[0] % 12 for stroke in here})
            if alone is not None:
                best, spelled = here, alone
    if not best:
        return None
    by_class = {stroke.keys[0] % 12: stroke.pitches[0] for stroke in sorted(best, key=lambda stroke: stroke.keys, reverse=True)}
    notes = tuple(sorted(by_class.values(), key=lambda pitch: pitch.midi))
    kind = "broken-chord" if _in_one_grip(lesson, best) else "wide-chord"
    return Pattern(kind=kind, groups=(notes,), strokes=tuple(best), facts={"n": len(best)}, chord=spelled)


def _spelled(lesson: Lesson, chord: Chord, classes: set[int]) -> Chord | None:
    """The chord that stands on these pitch classes alone: the seventh may be elsewhere; None where they leave it open."""
    above = {(tone - chord.root) % 12 for tone in classes}
    for kind in (chord.quality, "major", "minor", "diminished", "augmented"):
        template = lesson.rules.numbers(f"harmony.chord-templates.{kind}")
        if above == set(template):
            root = root_name(chord.name)
            tones = tuple((chord.root + int(step)) % 12 for step in template)
            return replace(chord, quality=kind, tones=tones, name=root + lesson.rules.word(f"harmony.chord-names.{kind}"))
    return None


def _in_one_grip(lesson: Lesson, row: Sequence[Stroke]) -> bool:
    """Whether the hand can lie on all these keys at once."""
    keys = tuple(sorted({key for stroke in row for key in stroke.keys}))
    span = lesson.span or lesson.rules.level.hand_span
    return len(keys) <= 5 and grip(keys, span, row[0].notes[0].hand, lesson.rules.number("hands.keyboard.octave")) is not None


def _repeated(lesson: Lesson, row: Sequence[Stroke]) -> Pattern | None:
    """One stroke again and again."""
    best: list[Stroke] = []
    run: list[Stroke] = []
    for stroke in row:
        run = [*run, stroke] if run and stroke.keys == run[-1].keys else [stroke]
        if len(run) > len(best):
            best = run
    if len(best) < _STRIKES:
        return None
    return Pattern(kind="repeated", groups=(best[0].pitches,), strokes=tuple(best), facts={"n": len(best)})


def places(lesson: Lesson, row: Sequence[Stroke]) -> list[tuple[Stroke, ...]]:
    """The strokes parted by the places that the hand takes one after another: as few places as its span allows."""
    at = centres(lesson.rules.number("hands.keyboard.octave"))
    width = 10 * (lesson.span or lesson.rules.level.hand_span) + 10
    found: list[list[Stroke]] = []
    for stroke in row:
        if found:
            low = min(one.keys[0] for one in (*found[-1], stroke))
            high = max(one.keys[-1] for one in (*found[-1], stroke))
            if at[high] - at[low] <= max(width, at[stroke.keys[-1]] - at[stroke.keys[0]]):
                found[-1].append(stroke)
                continue
        found.append([stroke])
    return [tuple(place) for place in found]


def by_places(lesson: Lesson, row: Sequence[Stroke]) -> str:
    """The notes of a row as the hand takes them, place after place: 'C–G, then E–C'."""
    taken = (dict.fromkeys(note.pitch for stroke in place for note in stroke.notes) for place in places(lesson, row))
    return lesson.words.say("list.then").join(joined(place, lesson.words) for place in taken)


def ends(place: Sequence[Stroke]) -> tuple[Pitch, Pitch]:
    """The lowest and the highest note of a place."""
    notes = [note for stroke in place for note in stroke.notes]
    return min(notes, key=lambda note: note.midi).pitch, max(notes, key=lambda note: note.midi).pitch
