"""The chords that a pupil can name: which sound in the draft, how they lie, what they are called."""

from __future__ import annotations

import re
from collections.abc import Container, Sequence

from reduce.model.draft import DraftNote
from reduce.model.pitch import SEMITONES, STEPS, Pitch, spelled
from reduce.model.record import dataclass, replace
from reduce.model.rules import Rules
from reduce.model.texture import Chord
from reduce.teach.lesson import Lesson, sounding

_ALTER = {"♯": 1, "♭": -1, "𝄪": 2, "𝄫": -2}
_OCTAVE = 4  # chords in thirds stand in the octave from middle C
_TRIADS = {  # what is left of a seventh chord whose seventh does not sound
    "dominant-seventh": "major", "major-seventh": "major", "minor-seventh": "minor", "minor-major-seventh": "minor",
    "half-diminished": "diminished", "diminished-seventh": "diminished",
}  # fmt: skip
_BY_FIFTH = ("diminished", "augmented", "half-diminished", "diminished-seventh")  # kinds that the fifth tells from others
_MAJOR, _MINOR = (0, 2, 4, 5, 7, 9, 11), (0, 2, 3, 5, 7, 8, 10, 11)  # semitones
_FIGURES = {3: ("", "6", "64"), 4: ("7", "65", "43", "42")}  # by the number of notes, root position first (common practice)
_NUMERAL = re.compile(r"([♭♯]*[ivIV]+)([°ø+]?)(?:maj)?\d*(/.*)?")


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """One chord in one bar, called by what sounds of it there.

    ``clear``: it can be named from its notes alone.  ``asked``: the pupil names it, ``number`` counts the questions; else it
    ``goes_on`` from the bar before, is the ``example``, or is not clear.  ``upper`` and ``lower`` are the chord's notes as they lie in
    the hands, ``thirds`` the chord piled up, ``silent`` those of them that do not sound.
    """

    bar: int
    start: int
    end: int
    chord: Chord
    upper: tuple[Pitch, ...]
    lower: tuple[Pitch, ...]
    thirds: tuple[Pitch, ...]
    silent: tuple[Pitch, ...]
    clear: bool = False
    asked: bool = False
    goes_on: bool = False
    example: bool = False
    number: int = 0

    @property
    def name(self) -> str:
        return self.chord.name


def answers(lesson: Lesson) -> tuple[Answer, ...]:
    """The chords of the draft bar by bar, numbered where the pupil is to name them.

    A chord is asked where its root and third sound in the bar, its notes are written as the name spells them, it is long enough and no
    other name fits as well; a seventh is named only where it sounds.  The first that is complete is the worked example.
    """
    rules = lesson.rules
    sure = rules.number("teach.chords-to-name.sure")
    shortest = rules.number("teach.chords-to-name.shortest")
    notes = tuple(note for note in lesson.draft.notes if not note.grace)
    found: list[Answer] = []
    for chord in lesson.chords:
        for bar, start, end in lesson.by_bar(chord.start, chord.end):
            answer = _lying(chord, bar, start, end, sounding(notes, start, end), rules)
            if not answer.upper and not answer.lower:
                continue
            length = (end - start) / lesson.draft.bars[bar].meter.beat_ticks(lesson.draft.resolution)
            told = _told_by_its_notes(answer, _scale(lesson, bar, start)) and _in_letters(answer)
            found.append(replace(answer, clear=told and chord.certainty >= sure and length >= shortest))
    return asked_in(found, range(len(lesson.draft.bars)))


def asked_in(found: Sequence[Answer], bars: Container[int]) -> tuple[Answer, ...]:
    """The chords asked in some bars (indices) only and numbered there; one that lasts is asked once in neighbouring bars."""
    told: list[Answer] = []
    before: Answer | None = None  # the last chord in these bars
    asked = False  # whether it has been asked
    for answer in found:
        if answer.bar not in bars:
            told.append(replace(answer, asked=False, goes_on=False, example=False, number=0))
            before = None
            continue
        same = before is not None and (answer.chord.root, answer.chord.quality, answer.start) == (
            before.chord.root, before.chord.quality, before.end,
        )  # fmt: skip
        asked = asked and same
        told.append(replace(answer, asked=answer.clear and not asked, goes_on=asked, example=False, number=0))
        asked, before = asked or answer.clear, answer
    return _numbered(told)


def _numbered(found: list[Answer]) -> tuple[Answer, ...]:
    """The questions counted; the first triad whose notes all sound becomes the example, if another is left to ask."""
    asked = [answer for answer in found if answer.asked]
    example = min(asked, key=lambda answer: (bool(answer.silent), len(answer.thirds), answer.start)) if len(asked) > 1 else None
    count, told = 0, []
    for answer in found:
        if answer is example:
            answer = replace(answer, asked=False, example=True)
        elif answer.asked:
            count += 1
            answer = replace(answer, number=count)
        told.append(answer)
    return tuple(told)


def _told_by_its_notes(answer: Answer, scale: frozenset[int]) -> bool:
    """Whether root and third sound, and the fifth where the kind hangs on it; another fifth that is silent has to be of the ``scale``.

    B and D alone in A minor are rather B diminished than B minor.
    """
    needed = answer.thirds[: 3 if answer.chord.quality in _BY_FIFTH else 2]
    fifth = answer.thirds[2]
    return (fifth not in answer.silent or fifth.midi % 12 in scale) and not any(pitch in answer.silent for pitch in needed)


def _scale(lesson: Lesson, bar: int, tick: int) -> frozenset[int]:
    """Pitch classes of the key that is heard at a moment, else of the signature; in minor the leading note too."""
    local = next((key for key in lesson.keys if key.start <= tick < key.end), None)
    tonic = local.tonic if local is not None else 7 * lesson.draft.bars[bar].key.fifths % 12
    return frozenset((tonic + step) % 12 for step in (_MINOR if local is not None and local.mode == "minor" else _MAJOR))


def _in_letters(answer: Answer) -> bool:
    """Whether the notes as they are written pile up in the thirds of the chord: D–E♯–G♯ does not spell D–F–A♭."""
    letters = {(pitch.step, pitch.alter) for pitch in answer.thirds}
    return all((pitch.step, pitch.alter) in letters for pitch in (*answer.upper, *answer.lower))


def _lying(chord: Chord, bar: int, start: int, end: int, notes: list[DraftNote], rules: Rules) -> Answer:
    """A chord as its notes lie in the hands between two ticks."""
    tones = [note for note in notes if note.midi % 12 in chord.tones]
    struck = {note.midi % 12 for note in tones}
    there = [note for note in tones if note.onset <= start and note.hand == "left"] or tones
    heard = start == chord.start and chord.bass in struck  # where the chord begins its bass is known
    lowest = None if heard else min(there, key=lambda note: note.midi, default=None)
    chord = _as_it_sounds(chord, struck, lowest, rules)
    tones = _from_the_bass(tones, chord.bass)
    sides = {hand: {note.midi: note.pitch for note in tones if note.hand == hand} for hand in ("right", "left")}
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
    )


def _from_the_bass(tones: list[DraftNote], bass: int) -> list[DraftNote]:
    """The notes without those that come later below the bass, as far as they sound above it too: the lowest head is the bass."""
    low = min((note.midi for note in tones if note.midi % 12 == bass), default=0)
    above = [note for note in tones if note.midi >= low]
    there = {note.midi % 12 for note in above}
    return [note for note in tones if note.midi >= low or note.midi % 12 not in there]


def _as_it_sounds(chord: Chord, struck: set[int], lowest: DraftNote | None, rules: Rules) -> Chord:
    """The chord called by what sounds of it: without a seventh that is silent, over ``lowest`` instead of a bass that has gone."""
    quality, tones = chord.quality, chord.tones
    if quality in _TRIADS and tones[3] not in struck:
        quality, tones = _TRIADS[quality], tones[:3]
    bass = chord.bass if lowest is None or chord.bass not in chord.tones else lowest.midi % 12
    if (quality, bass) == (chord.quality, chord.bass):
        return chord
    letter, alter = root_of(chord.name)
    root = next(sign for sign, value in (("", 0), *_ALTER.items()) if value == alter)
    name = f"{letter}{root}{rules.word(f'harmony.chord-names.{quality}')}"
    under = chord.name.partition("/")[1:] if lowest is None or bass == chord.bass else ("/", lowest.pitch.name)
    below = "" if bass == chord.root else "".join(under)
    return replace(chord, quality=quality, tones=tones, bass=bass, name=name + below, roman=_numeral(chord.roman, quality, tones, bass))


def _numeral(roman: str, quality: str, tones: tuple[int, ...], bass: int) -> str:
    """A numeral with the figures of other notes: 'V42' as a triad in root position is 'V'."""
    found = _NUMERAL.fullmatch(roman)
    if found is None or bass not in tones:
        return roman
    degree, sign, over = found.groups()
    if quality == "diminished":
        sign = "°"
    figures = _FIGURES[len(tones)][tones.index(bass)]
    major = "maj" if figures == "7" and quality in ("major-seventh", "minor-major-seventh") else ""
    return f"{degree}{sign}{major}{figures}{over or ''}"


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
