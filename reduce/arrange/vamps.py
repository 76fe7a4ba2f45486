"""A bar or more of accompaniment that begins alone, before the tune comes in over it."""

from __future__ import annotations

from collections.abc import Sequence

from reduce.arrange.line import bar_at
from reduce.arrange.parted_bars import parts_of
from reduce.model.record import replace
from reduce.model.score import Bar, Score
from reduce.model.texture import Phrase, Texture

_LONGEST = 4  # bars; more than that is music of its own
_FIGURE = 3  # notes a bar that make a figure
_SAME = 0.5  # share of the strokes of two bars that agree where a figure goes on


def tune_enters(score: Score, texture: Texture) -> int:
    """The tick where another player brings the tune, while what was alone until then goes on under it as a figure; 0 where none does.

    The figure keeps its rhythm in the bar of the entry, or most of it, and the tune has another one.  Source: common practice (a vamp).
    """
    if len(texture.tune) < 2:
        return 0
    alone, tune = texture.tune[:2]
    bars, by_id = score.bars, score.note_by_id
    player, singer = (by_id[lead.notes[0]].part for lead in (alone, tune))
    entry = bar_at(bars, tune.start)
    first = entry if 2 * (tune.start - entry.start) < entry.length else bars[min(entry.index + 1, len(bars) - 1)]
    if player == singer or first.index > _LONGEST * parts_of(bars) or tune.start - alone.start < first.length:
        return 0
    figure, goes_on, sung = (
        _rhythm(score, part, bars[place]) for part, place in ((player, first.index - 1), (player, first.index), (singer, first.index))
    )
    return tune.start if len(figure) >= _FIGURE and _alike(figure, goes_on) > max(_SAME, _alike(figure, sung)) else 0


def without_vamp(phrases: Sequence[Phrase], score: Score, texture: Texture) -> Sequence[Phrase]:
    """The phrases of an excerpt, the first of them from where the tune enters."""
    at = tune_enters(score, texture)
    return [replace(phrase, start=max(phrase.start, at)) for phrase in phrases if phrase.end > at]


def _rhythm(score: Score, part: int, bar: Bar) -> frozenset[int]:
    """Where a player strikes in a bar, in ticks from its beginning."""
    return frozenset(note.onset - bar.start for note in score.notes if note.bar == bar.index and note.part == part and note.duration)


def _alike(one: frozenset[int], other: frozenset[int]) -> float:
    return 2 * len(one & other) / max(1, len(one) + len(other))
