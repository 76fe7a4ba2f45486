"""Phrases that begin with a run: where it lands, the music itself begins, and an excerpt may begin there too."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence

from reduce.arrange.line import bar_at
from reduce.model.record import replace
from reduce.model.score import Note, Score
from reduce.model.texture import Phrase, Texture

_ENTER = 1 / 3  # share of the players of the bar that the run lands in who did not play in the bar before


def runs_apart(phrases: Sequence[Phrase], score: Score, texture: Texture, least: int) -> tuple[Phrase, ...]:
    """The phrases, with a run of at least ``least`` equal notes that one begins with as a phrase of its own.

    The run is as quick as half a beat or quicker, lands on a longer note on a bar line where other players enter, and is no longer than
    what follows in its phrase.
    """
    by_id = score.note_by_id
    tune = sorted((by_id[name] for lead in texture.tune for name in lead.notes if by_id[name].duration), key=lambda note: note.onset)
    onsets = [note.onset for note in tune]
    found: list[Phrase] = []
    for phrase in phrases:
        lands = _lands(tune[bisect_left(onsets, phrase.start) : bisect_left(onsets, phrase.end)], score, least)
        if lands is not None and 2 * (lands - phrase.start) <= phrase.end - phrase.start:
            found += [replace(phrase, end=lands, label="", cadence=""), replace(phrase, start=lands)]
        else:
            found.append(phrase)
    return tuple(found)


def _lands(notes: Sequence[Note], score: Score, least: int) -> int | None:
    """The tick on which a run at the head of ``notes`` lands; None where there is none."""
    if len(notes) <= least:
        return None
    quick = notes[0].duration
    count = 1
    while count < len(notes) and notes[count].duration == quick and notes[count].onset == notes[count - 1].end:
        count += 1
    if count < least or count == len(notes):
        return None
    landing = notes[count]
    bar = bar_at(score.bars, landing.onset)
    joined = landing.onset == notes[count - 1].end == bar.start and landing.duration > quick
    if not joined or 2 * quick > bar.meter.beat_ticks(score.resolution):
        return None
    return landing.onset if _entering(score, bar.index) >= _ENTER else None


def _entering(score: Score, index: int) -> float:
    """Share of the players of a bar who do not play in the bar before."""
    here, before = ({note.part for note in score.notes if note.bar == place and note.duration} for place in (index, index - 1))
    return len(here - before) / len(here) if here else 0.0
