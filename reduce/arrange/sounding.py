"""The source as a bed of sound: what sounds and what is struck between two moments."""

from __future__ import annotations

from collections.abc import Container, Iterator, Sequence

from reduce.model.record import dataclass
from reduce.model.score import Note, Score
from reduce.model.texture import Role, Texture


@dataclass(frozen=True, slots=True)
class Sound:
    """A source note, in the draft's key: ``midi`` is already transposed."""

    onset: int
    end: int
    midi: int
    stream: int
    role: Role
    note: Note
    wanted: bool = False  # the arranger keeps its instrument


def bed(
    score: Score, texture: Texture, shift: int, start: int, end: int, silent: Container[str] = (), wanted: Container[str] = ()
) -> tuple[Sound, ...]:
    """All struck notes that sound between ``start`` and ``end`` ticks, by onset, ``shift`` semitones higher; not the ``silent`` ones."""
    roles, stream_of = texture.roles, texture.stream_of
    return tuple(
        Sound(
            note.onset,
            note.onset + note.duration,
            note.midi + shift,
            stream_of.get(note.id, -1),
            roles.get(note.id, "harmony"),
            note,
            note.id in wanted,
        )
        for note in score.notes
        if note.kind == "struck" and note.duration > 0 and note.onset < end and note.onset + note.duration > start and note.id not in silent
    )


def over(sounds: Sequence[Sound], spans: Sequence[tuple[int, int]]) -> Iterator[list[Sound]]:
    """For each span (onset, end), in order of onset, the sounds that are heard in it."""
    active: list[Sound] = []
    upcoming = 0
    count = len(sounds)
    for first, last in spans:
        while upcoming < count and sounds[upcoming].onset < last:
            active.append(sounds[upcoming])
            upcoming += 1
        active = [sound for sound in active if sound.end > first]
        yield [sound for sound in active if sound.onset < last]
