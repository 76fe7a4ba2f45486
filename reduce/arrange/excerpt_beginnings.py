"""Where an excerpt may begin: with the piece, with its theme, or where the theme comes again."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Sequence

from reduce.arrange.excerpt_endings import FULL_CLOSE
from reduce.arrange.landing import runs_apart
from reduce.arrange.line import bar_at
from reduce.arrange.parted_bars import parts_of
from reduce.arrange.returns import Return
from reduce.arrange.vamps import tune_enters, without_vamp
from reduce.model.record import dataclass
from reduce.model.rules import Rules
from reduce.model.score import Bar, Score
from reduce.model.texture import Phrase, Texture


@dataclass(frozen=True, kw_only=True)
class Beginnings:
    """The phrases of a piece, and which of the bars (indices) that they start in begin something.

    ``head`` is the first bar after a slow introduction, ``stated`` the bar where the theme is stated (0: at once), ``entered`` the one
    where the tune comes in over an accompaniment that was there before, if any; ``opening`` bars begin the piece or a section, ``later``
    ones the theme where it comes again.
    """

    phrases: Sequence[Phrase]
    starts: Sequence[int]
    head: int
    stated: int
    entered: int | None
    opening: frozenset[int]
    later: frozenset[int]


def beginnings(
    score: Score, texture: Texture, rules: Rules, sung: Sequence[bool], returning: Sequence[int], again: Sequence[Return]
) -> Beginnings:
    """The beginnings of a piece; ``sung``: the bars with tune, ``returning``: the running count of bars that come again, ``again``: the
    returns of the tune."""
    bars = score.bars
    plain = without_vamp(_phrases(texture, bars), score, texture)
    phrases = runs_apart(plain, score, texture, rules.whole("length.excerpt.run-notes"))
    starts = [bar_at(bars, phrase.start).index for phrase in phrases]
    period = rules.whole("length.excerpt.period-bars") * parts_of(bars)
    slow = _after_introduction(score, rules)
    themed = _own_theme([phrase for phrase, start in zip(phrases, starts, strict=True) if start < slow])
    if slow and (themed is not None or (returning[slow] - returning[0]) / slow > rules.number("length.excerpt.introduction-returns")):
        slow = 0  # music that comes back is the theme, not an introduction
    head = next((start for start in starts if start >= slow), starts[0] if starts else 0)
    stated = _statement(again, starts, period)
    own = starts[themed or 0] if starts else 0
    opening = {0, head, sung.index(True) if True in sung else 0, *(bar.index for bar in bars if bar.repeat_start), stated, own}
    opening |= {bar.index + 1 for bar in bars if bar.barline in ("light-light", "light-heavy") or bar.repeat_end}
    landings = {phrase.start for phrase in phrases} - {phrase.start for phrase in plain}
    opening |= {start for start, phrase in zip(starts, phrases, strict=True) if start <= period and phrase.start in landings}
    return Beginnings(
        phrases=phrases, starts=starts, head=head, stated=stated, entered=bar_at(bars, tune_enters(score, texture)).index or None,
        opening=frozenset(opening), later=_restated(again, starts, {head, stated, own}),
    )  # fmt: skip


def _statement(returns: Sequence[Return], starts: Sequence[int], period: int) -> int:
    """The bar (index) where the theme is stated: the first phrase in two ``period``s, the first to come again, twice at least.

    0 where there is none: then the piece states its theme at once.
    """
    long = Counter(item.first for item in returns if item.last - item.second + 1 >= period)
    start = min(long, default=0)
    phrase = next((begin for begin in starts if begin in (start, start - 1)), 0)
    return phrase if long[start] > 1 and phrase <= 2 * period else 0


def _restated(returns: Sequence[Return], starts: Sequence[int], openings: Collection[int]) -> frozenset[int]:
    """The bars (indices) where phrases begin with which the theme comes again: what begins in, or after the upbeat in, ``openings``."""
    seconds = {item.second for item in returns if item.first in openings or item.first - 1 in openings}
    return frozenset(start for start in starts if start in seconds or start + 1 in seconds) - frozenset(openings)


def _own_theme(slow: Sequence[Phrase]) -> int | None:
    """Which phrase of a slow beginning states a theme of its own: most come again in it, one of them to a full close; else None."""
    letters = Counter(phrase.label[:1] for phrase in slow if phrase.label)
    again = [place for place, phrase in enumerate(slow) if letters[phrase.label[:1]] > 1]
    themed = 2 * len(again) > len(slow) and any(slow[place].cadence in FULL_CLOSE for place in again)
    return again[0] if themed else None


def _after_introduction(score: Score, rules: Rules) -> int:
    """The bar (index) after a slow introduction: the first change to a faster tempo or another metre early in the piece; 0 without one."""
    bars = score.bars
    limit = rules.number("length.excerpt.introduction-share") * len(bars)
    slow = next((tempo.quarters for tempo in score.tempos if tempo.quarters), None)
    for tempo in score.tempos:
        place = bar_at(bars, tempo.onset).index
        if 2 <= place <= limit and tempo.quarters and slow and tempo.quarters > 1.3 * slow:
            return place
    return next((bar.index for bar in bars[2:] if bar.index <= limit and bar.meter != bars[0].meter and bars[bar.index - 1].barline), 0)


def _phrases(texture: Texture, bars: Sequence[Bar]) -> Sequence[Phrase]:
    """The phrases, or blocks of four bars from the first bar of tune where none were found."""
    if texture.phrases:
        return texture.phrases
    start = bar_at(bars, texture.tune[0].start).index if texture.tune else 0
    return tuple(Phrase(start=bars[first].start, end=bars[min(first + 3, len(bars) - 1)].end) for first in range(start, len(bars), 4))
