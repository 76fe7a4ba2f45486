"""The chords that a pupil can name: which sound in the draft, how they lie, what they are called."""

from __future__ import annotations

from reduce.model.draft import DraftNote
from reduce.model.pitch import SEMITONES, STEPS, Pitch, spelled
from reduce.model.record import dataclass, replace
from reduce.model.texture import Chord
from reduce.teach.lesson import Lesson, sounding

_ALTER = {"♯": 1, "♭": -1, "𝄪": 2, "𝄫": -2}
_OCTAVE = 4  # chords in thirds stand in the octave from middle C


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """One chord in one bar.

    ``asked``: the pupil names it, ``number`` counts the questions; else it ``goes_on`` from the bar before, is the ``example``, or
    cannot be named from its notes alone.  ``upper`` and ``lower`` are the chord's notes as they lie in the hands, ``thirds`` the
    chord piled up, ``silent`` those of them that do not sound.
    """

    bar: int
    start: int
    end: int
    chord: Chord
    upper: tuple[Pitch, ...]
    lower: tuple[Pitch, ...]
    thirds: tuple[Pitch, ...]
    silent: tuple[Pitch, ...]
    asked: bool
    goes_on: bool = False
    example: bool = False
    number: int = 0

    @property
    def name(self) -> str:
        return self.chord.name


def answers(lesson: Lesson) -> tuple[Answer, ...]:
    """The chords of the draft bar by bar, numbered where the pupil is to name them.

    A chord is asked where its root and third sound in the bar, its notes are written as the name spells them, it is long enough and no
    other name fits as well.  The first that is complete is the worked example.
    """
    rules = lesson.rules
    sure = rules.number("teach.chords-to-name.sure")
    shortest = rules.number("teach.chords-to-name.shortest")
    notes = tuple(note for note in lesson.draft.notes if not note.grace)
    found: list[Answer] = []
    before: Chord | None = None
    asked = False  # whether the chord that sounds has been asked
    for chord in lesson.chords:
        if before is None or (chord.root, chord.quality, chord.start) != (before.root, before.quality, before.end):
            asked = False
        for bar, start, end in lesson.by_bar(chord.start, chord.end):
            answer = _lying(chord, bar, start, end, sounding(notes, start, end))
            if not answer.upper and not answer.lower:
                continue
            struck = {pitch.midi % 12 for pitch in (*answer.upper, *answer.lower)}
            length = (end - start) / lesson.draft.bars[bar].meter.beat_ticks(lesson.draft.resolution)
            clear = {chord.tones[0], chord.tones[1]} <= struck and chord.certainty >= sure and length >= shortest and _in_letters(answer)
            found.append(replace(answer, asked=clear and not asked, goes_on=asked))
            asked = asked or clear
        before = chord
    return _numbered(found)


def _numbered(found: list[Answer]) -> tuple[Answer, ...]:
    """The questions counted; the first whose notes all sound becomes the example, if another is left to ask."""
    asked = [answer for answer in found if answer.asked]
    example = next((answer for answer in asked if not answer.silent), asked[0]) if len(asked) > 1 else None
    count, told = 0, []
    for answer in found:
        if answer is example:
            answer = replace(answer, asked=False, example=True)
        elif answer.asked:
            count += 1
            answer = replace(answer, number=count)
        told.append(answer)
    return tuple(told)


def _in_letters(answer: Answer) -> bool:
    """Whether the notes as they are written pile up in the thirds of the chord: D–E♯–G♯ does not spell D–F–A♭."""
    letters = {(pitch.step, pitch.alter) for pitch in answer.thirds}
    return all((pitch.step, pitch.alter) in letters for pitch in (*answer.upper, *answer.lower))


def _lying(chord: Chord, bar: int, start: int, end: int, notes: list[DraftNote]) -> Answer:
    """A chord as its notes lie in the hands between two ticks."""
    tones = [note for note in notes if note.midi % 12 in chord.tones]
    sides = {hand: {note.midi: note.pitch for note in tones if note.hand == hand} for hand in ("right", "left")}
    struck = {note.midi % 12 for note in tones}
    thirds = in_thirds(chord)
    return Answer(
        bar=bar,
        start=start,
        end=end,
        chord=chord,
        upper=tuple(pitch for _, pitch in sorted(sides["right"].items())),
        lower=tuple(pitch for _, pitch in sorted(sides["left"].items())),
        thirds=thirds,
        silent=tuple(pitch for pitch in thirds if pitch.midi % 12 not in struck),
        asked=False,
    )


def root_of(name: str) -> tuple[str, int]:
    """Letter and alteration at the head of a chord name: ('F', 1) for 'F♯m7/C♯'."""
    alter = 0
    for sign in name[1:]:
        if sign not in _ALTER:
            break
        alter += _ALTER[sign]
    return name[0], alter


def in_thirds(chord: Chord) -> tuple[Pitch, ...]:
    """The chord in root position, third upon third, spelled from its name: root in the octave from middle C."""
    letter, alter = root_of(chord.name)
    place = STEPS.index(letter)
    root = spelled(letter, alter, _OCTAVE)
    found = []
    for k, tone in enumerate(chord.tones):
        up, step = divmod(place + 2 * k, 7)
        natural = 12 * (_OCTAVE + up + 1) + SEMITONES[step]
        found.append(spelled(STEPS[step], root.midi + (tone - chord.root) % 12 - natural, _OCTAVE + up))
    return tuple(found)
