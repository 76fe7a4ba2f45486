"""Long pauses and breaths: one pause a moment, on what each hand holds then."""

from __future__ import annotations

from collections.abc import Sequence

from reduce.arrange.line import bar_at
from reduce.arrange.marks_place import Page
from reduce.model.draft import DraftMark, DraftNote, Hand
from reduce.model.record import dataclass, replace
from reduce.model.score import Bar, Score


@dataclass(frozen=True, slots=True)
class Pause:
    """The orchestra holds from ``start`` (the last written note of it, which may be tied to one of ``since``) to ``end``, source ticks."""

    since: int
    start: int
    end: int


def pauses_of(score: Score, bars: Sequence[Bar]) -> tuple[Pause, ...]:
    """The long pauses over notes of the kept bars, in order.

    Players come to one pause at different times: who has held a note for bars has the sign on the last of its tied notes (Gould, *Behind
    Bars*, from memory).  So notes that sound together are one pause, from the last of their beginnings to the first of their ends.
    """
    first, last = bars[0].start, bars[-1].end
    held: dict[int, int] = {}
    for note in score.notes:
        if note.fermata and note.duration and first <= note.onset < last:
            held[note.end] = max(held.get(note.end, 0), note.onset)
    out: list[Pause] = []
    for end, onset in sorted(held.items(), key=lambda one: one[::-1]):
        if out and onset < out[-1].end:
            end = min(end, out.pop().end)
        end = min(end, last)
        out.append(Pause(onset, max(onset, bar_at(bars, end - 1).start), end))
    return tuple(out)


def held_to_the_end(notes: tuple[DraftNote, ...], score: Score, bars: Sequence[Bar]) -> tuple[DraftNote, ...]:
    """The draft's notes with a fermata only where the hand still holds them when the pause comes."""
    if not any(note.fermata for note in notes):
        return notes
    keepers = {note.id for pause in pauses_of(score, bars) for note in _holding(notes, pause, bars[0].start).values()}
    return tuple(replace(note, fermata=False) if note.fermata and note.id not in keepers else note for note in notes)


def pauses(page: Page) -> list[DraftMark]:
    """Fermatas and breaths: a long pause anywhere in the orchestra holds both hands, on the note that each has then or on its rest.

    Signs over silences are those of the source, unless the same bar has a pause over notes.
    """
    found = pauses_of(page.score, page.bars)
    out: list[DraftMark] = []
    for pause in found:
        holding = _holding(page.notes, pause, page.offset)
        for hand in ("left", "right"):
            note = holding.get(hand)
            if note is None or not _signed(page.notes, note):
                onset = note.onset if note is not None else pause.start - page.offset
                out.append(DraftMark(kind="fermata", onset=onset, end=onset, hand=hand))
    over_rests: dict[int, int] = {}
    for mark in page.marks("fermata"):
        bar = page.bar(mark.onset)
        if mark.onset >= page.start and not any(pause.since < bar.end and bar.start < pause.end for pause in found):
            over_rests[bar.start] = max(mark.onset, over_rests.get(bar.start, 0))
    for start, tick in over_rests.items():
        before = [onset for onset in page.onsets if start <= onset <= tick]
        onset = (before[-1] if before else tick) - page.offset
        out.append(DraftMark(kind="fermata", onset=onset, end=onset))
    for mark in page.marks("breath"):
        if mark.onset >= page.start and page.part_at(max(page.start, mark.onset - 1)) == mark.part:
            out.append(DraftMark(kind="breath", onset=mark.onset - page.offset, end=mark.onset - page.offset, text=mark.text, hand="right"))
    return out


def _holding(notes: Sequence[DraftNote], pause: Pause, offset: int) -> dict[Hand, DraftNote]:
    """What each hand has at a pause: the note that sounds when it ends, the longest of those, or the last of it."""
    out: dict[Hand, DraftNote] = {}
    low, high = pause.start - offset, pause.end - offset

    def rank(note: DraftNote) -> tuple[int, bool, int]:
        return min(note.end, high), note.fermata, -note.onset

    for note in notes:
        if not note.grace and note.onset < high and note.end > low and (note.hand not in out or rank(note) > rank(out[note.hand])):
            out[note.hand] = note
    return out


def _signed(notes: Sequence[DraftNote], held: DraftNote) -> bool:
    """Whether the note, or another of its chord, has the sign already."""
    return any(note.fermata and note.hand == held.hand and note.onset == held.onset and note.end == held.end for note in notes)
