"""The beginning of the theme in another line while the leader holds or rests: for that long the tune is there."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Collection, Iterator, Sequence
from itertools import chain, pairwise

from reduce.analyse.lines import Line
from reduce.model.record import dataclass, replace
from reduce.model.score import Note, Score
from reduce.model.texture import Lead, Stream

_SURE = 4.0  # points of the one reason there is
_CERTAINTY = 0.7  # of 28 openly annotated movements, two thirds of such notes are marked as the tune

Head = tuple[tuple[int, ...], tuple[int, ...]]  # which way each step goes (-1, 0, 1); the ticks from note to note


@dataclass(frozen=True, slots=True)
class Entry:
    """A line (``stream``) that comes in after a rest; ``notes`` go on to its next rest."""

    stream: int
    notes: tuple[Note, ...]

    @property
    def onset(self) -> int:
        """When it comes in (ticks)."""
        return self.notes[0].onset


def answered(
    score: Score, streams: Sequence[Stream], lines: Sequence[Line], drums: Collection[int], leads: Sequence[Lead], size: int
) -> tuple[Lead, ...]:
    """The leads and between them those that answer: lines that come in with the theme's first ``size`` notes while the leader strikes none.

    Such an entry has the rhythm of the theme's head, and each of its steps goes the way of the theme's, as in real and tonal answers.  It
    lasts until the tune's next note, the next entry or its own rest; a note that the leader holds has been heard.  Answers bring their
    reason with them.  Source: common practice (imitation).

    Args:
        score: for the notes of the leads.
        streams: for the names of the players.
        lines: the outline of each stream.
        drums: the streams (ids) that answer nobody.
        leads: by time.
        size: notes of the head; below two nothing is a head.
    """
    sung = frozenset(chain.from_iterable(lead.notes for lead in leads))
    head = _head(lines, leads, sung, size)
    if head is None:
        return tuple(leads)
    tune = sorted((note for line in lines for note in line.notes if note.id in sung), key=lambda note: note.onset)
    struck = [note.onset for note in tune]
    entries: dict[int, list[Entry]] = {}
    for entry in chain.from_iterable(_entries(line, size) for line in lines if line.stream not in drums):
        first, last = (bisect_left(struck, entry.notes[place].onset) for place in (0, size - 1))
        if first == last and _shape(entry.notes[:size]) == head and entry.notes[0].id not in sung:
            entries.setdefault(entry.onset, []).append(entry)
    found: list[Lead] = []
    onsets = sorted(entries)
    for onset, following in pairwise([*onsets, score.end]):
        place = bisect_left(struck, onset)
        until = min([following, *struck[place : place + 1]])
        meanwhile = "holds" if place and onset < tune[place - 1].onset + tune[place - 1].duration else "rests"
        leader = next((lead.stream for lead in reversed(leads) if lead.start <= onset), None)
        found.append(_answer(entries[onset], until, leader, meanwhile, streams))
    kept = chain.from_iterable(_around(lead, found, score) for lead in leads)
    return tuple(sorted((*kept, *found), key=lambda lead: lead.start))


def _head(lines: Sequence[Line], leads: Sequence[Lead], sung: Collection[str], size: int) -> Head | None:
    """The first figure of the tune that begins after a rest and does not stay on one note."""
    for lead in leads:
        for entry in _entries(lines[lead.stream], size):
            head = _shape(entry.notes[:size])
            if lead.start <= entry.onset < lead.end and any(head[0]) and all(note.id in sung for note in entry.notes[:size]):
                return head
    return None


def _entries(line: Line, size: int) -> Iterator[Entry]:
    """Where the line comes in after a rest with at least ``size`` notes."""
    starts = [place for place, note in enumerate(line.notes) if not place or line.ends[place - 1] < note.onset]
    for first, last in pairwise([*starts, len(line.notes)]):
        if last - first >= size:
            yield Entry(line.stream, line.notes[first:last])


def _shape(notes: Sequence[Note]) -> Head:
    pairs = list(pairwise(notes))
    return tuple((b.midi > a.midi) - (b.midi < a.midi) for a, b in pairs), tuple(b.onset - a.onset for a, b in pairs)


def _answer(together: Sequence[Entry], until: int, leader: int | None, meanwhile: str, streams: Sequence[Stream]) -> Lead:
    """The highest of the entries of one moment as a lead up to the tick ``until``; what the ``leader`` around it does ``meanwhile``."""
    entry = max(together, key=lambda entry: (entry.notes[0].midi, -entry.stream))
    notes = [note for note in entry.notes if note.onset < until]
    words = "it brings the theme's beginning" + (f" while {streams[leader].name} {meanwhile}" if leader is not None else "")
    return Lead(
        start=entry.onset,
        end=min(until, max(note.onset + note.duration for note in notes)),
        stream=entry.stream,
        notes=tuple(note.id for note in notes),
        doubled_by=tuple(sorted(other.stream for other in together if other is not entry)),
        certainty=_CERTAINTY,
        evidence=((words, _SURE),),
        runner_up=leader,
        runner_up_share=round(1 - _CERTAINTY, 3) if leader is not None else 0.0,
    )


def _around(lead: Lead, answers: Sequence[Lead], score: Score) -> Iterator[Lead]:
    """What is left of a lead before, between and after the answers."""
    start = lead.start
    for answer in answers:
        if lead.start < answer.end and answer.start < lead.end:
            yield from _part(lead, start, answer.start, score)
            start = answer.end
    yield from _part(lead, start, lead.end, score)


def _part(lead: Lead, start: int, end: int, score: Score) -> Iterator[Lead]:
    notes = tuple(name for name in lead.notes if start <= score.note_by_id[name].onset < end)
    if notes:
        yield lead if notes == lead.notes else replace(lead, start=max(lead.start, start), end=end, notes=notes)
