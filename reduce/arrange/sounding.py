"""The source as a bed of sound: what sounds and what is struck between two moments."""

from __future__ import annotations

from bisect import bisect_right
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
    rival: bool = False  # of a line that may have the tune, where that is not sure


def bed(
    score: Score,
    texture: Texture,
    shift: int,
    start: int,
    end: int,
    silent: Container[str] = (),
    wanted: Container[str] = (),
    doubt: float = 2.0,
) -> tuple[Sound, ...]:
    """All struck notes that sound between ``start`` and ``end`` ticks, by onset, ``shift`` semitones higher; not the ``silent`` ones.

    A runner-up for the tune whose share is ``doubt`` or more is told apart while it is one.
    """
    roles, stream_of = texture.roles, texture.stream_of
    rivals: dict[int, list[tuple[int, int]]] = {}
    for lead in texture.tune:
        if lead.runner_up is not None and lead.runner_up_share >= doubt:
            rivals.setdefault(lead.runner_up, []).append((lead.start, lead.end))
    return tuple(
        Sound(
            note.onset,
            note.onset + note.duration,
            note.midi + shift,
            (stream := stream_of.get(note.id, -1)),
            roles.get(note.id, "harmony"),
            note,
            note.id in wanted,
            stream in rivals and any(first <= note.onset < last for first, last in rivals[stream]),
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


class Heard:
    """Which pitch classes the orchestra sounds, for quick questions; drums left out."""

    def __init__(self, sounds: Sequence[Sound]) -> None:
        merged: list[list[list[int]]] = [[] for _ in range(12)]
        for sound in sounds:  # by onset
            if sound.role == "rhythm":
                continue
            row = merged[sound.midi % 12]
            if row and sound.onset <= row[-1][1]:
                row[-1][1] = max(row[-1][1], sound.end)
            else:
                row.append([sound.onset, sound.end])
        self._starts = [[start for start, _ in row] for row in merged]
        self._ends = [[end for _, end in row] for row in merged]

    def share(self, pc: int, start: int, end: int) -> float:
        """The share of the time from ``start`` to ``end`` (ticks) in which a pitch class sounds."""
        starts, ends = self._starts[pc], self._ends[pc]
        at, total = bisect_right(ends, start), 0
        while at < len(starts) and starts[at] < end:
            total += min(end, ends[at]) - max(start, starts[at])
            at += 1
        return total / (end - start) if end > start else 0.0
