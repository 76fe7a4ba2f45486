"""The teacher's part of a duet: what the pupil's draft left out of the orchestra, arranged for a second player."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import TYPE_CHECKING, Any

from reduce import analyse, arrange, rulebook
from reduce.model.record import replace
from reduce.teach.duet import Duet, kept_apart, seat, shares
from reduce.teach.lesson import factor_of

if TYPE_CHECKING:
    from reduce.model.draft import Draft
    from reduce.model.score import Note, Score
    from reduce.teach import Lesson

_PLAYED = ("kept", "moved")
DEEPEST = 28  # MIDI number: the lowest string of a double bass, as it sounds (E1; common practice)


def accompanied(lesson: Lesson) -> Lesson:
    """The lesson with a duet part, where the pupil left enough of the orchestra out for a second player to add something."""
    source = lesson.source
    if source is None or not lesson.fates:
        return lesson
    rules = rulebook.load(rulebook.levels()[-1].name)
    rest = replace(source, notes=left_out(source.notes, lesson.fates), marks=(), tempos=(), strokes=())
    if not rest.notes:
        return lesson
    place = seat(lesson.draft, lesson.rules, rules.level.highest)
    deep = replace(rules, level=replace(rules.level, lowest=DEEPEST))
    narrow = replace(deep, level=replace(deep.level, highest=place.highest))
    texture, _ = analyse.texture(rest, narrow)
    made = arrange.arrange(rest, texture, narrow, arrange.Request(frame=_frame(lesson.draft, rest, lesson.rules.level.meters)))
    part = replace(kept_apart(made.draft, lesson.draft, place, deep, source), title=lesson.draft.title, source=lesson.draft.source)
    alone, both = shares(lesson, part)
    if both - alone < lesson.rules.number("teach.duet-part.gain"):
        return lesson
    return replace(lesson, duet=Duet(part=part, seat=place, alone=alone, both=both))


def left_out(notes: Sequence[Note], fates: Sequence[Mapping[str, Any]]) -> tuple[Note, ...]:
    """What is there for a second player: the orchestra without its tune, and without the lines that the pupil plays.

    A line is judged bar by bar, so that no figure is left in pieces; the bass comes along always, since a second player doubles it.
    """
    fate = {row["note"]: row for row in fates}

    def role(note: Note) -> str:
        return str(fate.get(note.id, {}).get("role", ""))

    lines: dict[tuple[int, int, str, int], list[bool]] = {}
    for note in notes:
        lines.setdefault((note.part, note.staff, note.voice, note.bar), []).append(fate.get(note.id, {}).get("fate") in _PLAYED)
    return tuple(
        note
        for note in notes
        if note.kind == "struck"
        and role(note) not in ("melody", "melody-double")
        and (role(note).startswith("bass") or not all(lines[note.part, note.staff, note.voice, note.bar]))
    )


def _frame(pupil: Draft, source: Score, meters: tuple[str, ...]) -> arrange.Frame:
    """Bars, metre, tempo and key of the pupil's draft, told in the ticks of the source."""
    ratio = Fraction(source.end, pupil.end)
    moved = arrange.interval(pupil.transposed, pupil.bars[0].key.fifths - source.bars[0].key.fifths)
    return arrange.Frame(
        level="", first=0, last=len(source.bars) - 1, until=source.end, factor=factor_of(pupil, source), meters=meters,
        tempos=tuple(replace(tempo, onset=int(tempo.onset * ratio)) for tempo in pupil.tempos),
        marked="", shift=moved.semitones, steps=moved.steps, keys=tuple(bar.key for bar in pupil.bars),
    )  # fmt: skip
