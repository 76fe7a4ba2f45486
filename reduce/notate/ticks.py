"""Ticks fine enough for every beat."""

from __future__ import annotations

from collections.abc import Iterable
from math import gcd, lcm

from reduce.model.draft import Draft
from reduce.model.record import replace
from reduce.model.score import Bar, Score
from reduce.model.texture import Lead, Texture


def factor_for_beats(bars: Iterable[Bar], resolution: int) -> int:
    """By how much ticks must be divided so that the unit of every time signature is a whole number of them."""
    return lcm(1, *(bar.meter.unit // gcd(4 * resolution, bar.meter.unit) for bar in bars))


def finer_bars(bars: Iterable[Bar], factor: int) -> tuple[Bar, ...]:
    """The bars in ticks ``factor`` times as fine."""
    return tuple(replace(bar, start=bar.start * factor, length=bar.length * factor) for bar in bars)


def finer_source(score: Score, texture: Texture) -> tuple[Score, Texture]:
    """The same for a source and what was found in it, as far as the condensed score needs it."""
    factor = factor_for_beats(score.bars, score.resolution)
    if factor == 1:
        return score, texture

    def leads(found: Iterable[Lead]) -> tuple[Lead, ...]:
        return tuple(replace(lead, start=lead.start * factor, end=lead.end * factor) for lead in found)

    finer_score = replace(
        score,
        resolution=score.resolution * factor,
        bars=finer_bars(score.bars, factor),
        notes=tuple(replace(note, onset=note.onset * factor, duration=note.duration * factor) for note in score.notes),
        marks=tuple(replace(mark, onset=mark.onset * factor, end=mark.end * factor) for mark in score.marks),
        tempos=tuple(replace(tempo, onset=tempo.onset * factor) for tempo in score.tempos),
    )
    return finer_score, replace(texture, tune=leads(texture.tune), bass=leads(texture.bass), counters=leads(texture.counters))


def finer(draft: Draft) -> Draft:
    """The draft with ticks that divide every beat; the draft itself where they do already, as they nearly always do."""
    factor = factor_for_beats(draft.bars, draft.resolution)
    if factor == 1:
        return draft
    return replace(
        draft,
        resolution=draft.resolution * factor,
        bars=finer_bars(draft.bars, factor),
        notes=tuple(replace(note, onset=note.onset * factor, duration=note.duration * factor) for note in draft.notes),
        marks=tuple(replace(mark, onset=mark.onset * factor, end=mark.end * factor) for mark in draft.marks),
        tempos=tuple(replace(tempo, onset=tempo.onset * factor) for tempo in draft.tempos),
    )
