"""Excerpts that stand alone: from phrase to phrase, weighed by the theme, the close and what is cut through."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator
from itertools import accumulate, pairwise

from reduce.arrange.excerpt_beginnings import beginnings
from reduce.arrange.excerpt_counts import bars_returning, bars_with_tune, leaps_sung, notes_sung, repeats_cut, section_ends, whole_endings
from reduce.arrange.excerpt_endings import FULL_CLOSE, Stop, begun_in, ending, goes_on, stops_of
from reduce.arrange.line import bar_at
from reduce.arrange.parted_bars import parts_of
from reduce.arrange.resting import Resting, repeated
from reduce.arrange.returns import held_by_all, returns_of, within_return
from reduce.model.record import dataclass, replace
from reduce.model.rules import Rules
from reduce.model.score import Score
from reduce.model.texture import Texture

_PRICES = (
    "theme", "first-statement", "restatement", "busy", "opening", "close", "home", "rest", "section", "before-return", "one-signature",
    "one-pace", "silence", "length", "leaps", "repeat-cut", "in-return", "before-fermata",
)  # fmt: skip
_LONGER = (1.0, 1.3)  # where no excerpt has the level's length one may be so much longer, or shorter


@dataclass(frozen=True, slots=True)
class Stretch:
    """Bars ``first``..``last`` (indices) as an excerpt, its worth, and why in words.

    ``closes``: it comes to an end that one may stop at.  ``restated``: what it is worth more, as it states the theme where it comes again,
    if the best of all the others comes to no end.
    """

    first: int
    last: int
    worth: float
    reasons: tuple[str, ...]
    closes: bool = True
    restated: float = 0.0


def stretches(score: Score, texture: Texture, rules: Rules) -> list[Stretch]:
    """Excerpts of the level's length, from phrase to phrase, best first (settings ``length.excerpt``)."""
    weigher = _Weigher(score, texture, rules)
    for longer in _LONGER:
        found: dict[tuple[int, int], Stretch] = {}
        for phrase, stop in weigher.pairs(longer):
            stretch = weigher.weighed(phrase, stop)
            if stretch is not None and ((held := found.get((stretch.first, stretch.last))) is None or stretch.worth > held.worth):
                found[(stretch.first, stretch.last)] = stretch
        if found:
            break
    rows = list(found.values())
    if rows and not max(rows, key=lambda item: item.worth).closes:
        rows = [replace(item, worth=item.worth + item.restated) for item in rows]
    return sorted(rows, key=lambda item: (-round(item.worth, 6), item.first, item.last))


class _Weigher:
    """A piece with all that its excerpts are weighed by, counted once."""

    def __init__(self, score: Score, texture: Texture, rules: Rules) -> None:
        bars = score.bars
        self._bars, self._texture, self._level = bars, texture, rules.level
        self._price = {name: rules.number(f"length.excerpt.{name}") for name in _PRICES}
        self._period = rules.whole("length.excerpt.period-bars") * parts_of(bars)
        self._near = rules.whole("length.excerpt.fermata-near")
        sung = bars_with_tune(texture, score)
        self._silent = [0, *accumulate(not singing for singing in sung)]
        self._returning = bars_returning(texture, bars)
        self._busy, self._wide = notes_sung(texture, score), leaps_sung(texture, score, rules.level.step_max or 99)
        self._returns = returns_of(score, texture, rules.whole("length.excerpt.return-bars") * parts_of(bars))
        self._begin = beginnings(score, texture, rules, sung, self._returning, self._returns)
        phrases = self._begin.phrases
        ends = [bar_at(bars, max(phrase.start, phrase.end - 1)).index for phrase in phrases]
        self._upbeats = [
            bars[start].pickup or 2 * (phrase.start - bars[start].start) >= bars[start].length
            for phrase, start in zip(phrases, self._begin.starts, strict=True)
        ]
        turned = _new_pace(score)
        self._changes = [0, *accumulate(before.key.fifths != after.key.fifths for before, after in pairwise(bars))]
        self._paces = [0, *accumulate(before.meter != after.meter or after.index in turned for before, after in pairwise(bars))]
        self._closing = frozenset(end for end, phrase in zip(ends, phrases, strict=True) if phrase.cadence in FULL_CLOSE)
        paused = held_by_all(score)
        self._holds = sorted(paused)
        self._sections = section_ends(bars)
        self._resting = Resting(score, texture)
        self._stops = stops_of(phrases, ends, bars, paused, self._returns, self._resting.closes(bars, self._sections)) if phrases else []
        self._doubled = repeated(bars)

    def pairs(self, longer: float) -> Iterator[tuple[int, Stop]]:
        """Phrases (places) and the stops after them that make whole excerpts of the level's length, give or take a factor."""
        least, most, bars = self._level.bars_min, self._level.bars_max, self._bars
        for place, first in enumerate(self._begin.starts):
            for stop in self._stops[bisect_left(self._stops, first, key=lambda stop: stop.last) :]:
                length = self._length(place, stop)
                if length > most * longer:
                    break
                heard = length + sum(end - begin + 1 for begin, end in self._doubled if first <= begin and end <= stop.last)
                if 5 * length < 4 * least or heard + self._upbeats[place] < least / longer:  # an upbeat fills up the last bar
                    continue
                if stop.phrase >= place and whole_endings(bars, first, stop.last):
                    yield place, stop

    def _length(self, place: int, stop: Stop) -> int:
        return stop.last - self._begin.starts[place] + 1 - self._upbeats[place]

    def weighed(self, place: int, stop: Stop) -> Stretch | None:
        """The excerpt from a phrase to a stop; None for one that would end in the middle of a bar of the score, and not at rest."""
        bars, begin, price, period = self._bars, self._begin, self._price, self._period
        first, last, length = begin.starts[place], stop.last, self._length(place, stop)
        inside = begin.phrases[place : stop.phrase + 1]
        end = ending(stop, inside[0].start, bars[last], self._texture, self._resting)
        if end.rest is None and not stop.held and last + 1 < len(bars) and bars[last + 1].parent:
            return None
        states = (self._returning[last + 1] - self._returning[first]) / length
        early, opens = self._early(first, last), float(first in begin.opening)
        whole = early > 0.8
        following = begin.phrases[stop.phrase + 1].label[:1] if stop.phrase + 1 < len(begin.phrases) else ""
        again = any(0 <= bar - first <= period // 2 for bar in stop.again) or following in begun_in(inside)
        broken = within_return(self._returns, first, last - stop.elided, self._closing, period) or (
            not again and goes_on(inside, following)
        )
        to_hold = next((bar - last for bar in self._holds if bar > last), self._near + 1)
        short = to_hold <= self._near and not stop.held
        tuneful = self._busy[-1] / len(bars) or 1
        worth = (
            price["theme"] * states
            + price["first-statement"] * early
            - price["busy"] * max(0.0, (self._busy[last + 1] - self._busy[first]) / length / tuneful - 1)
            + price["opening"] * opens
            + price["close"] * (0.0 if end.full and end.far else 1.0 if end.full else -1 / 3 if stop.close == "half" and not again else 0.0)
            + price["home"] * end.home
            + price["rest"] * opens * whole * end.settled
            + price["section"] * (last in self._sections)
            + price["before-return"] * again
            - price["one-signature"] * (self._changes[last] - self._changes[first])
            - price["one-pace"] * (self._paces[last] - self._paces[first])
            - price["silence"] * (self._silent[last + 1] - self._silent[first]) / length
            + price["length"] * min(1.0, length / self._level.bars_max)
            - price["leaps"] * (self._wide[last + 1] - self._wide[first]) / length
            - price["repeat-cut"] * repeats_cut(bars, first, last)
            - price["in-return"] * broken
            - price["before-fermata"] * short
            - 0.001 * first
        )
        restated = 0.0
        if first in begin.later and last >= first + period // 2 and end.home and (end.rest is not None or end.full):
            share = price["restatement"]
            restated = max(0.0, share - early) * price["first-statement"]
            restated += max(0.0, share - opens) * (price["opening"] + price["rest"] * end.settled)
        reasons = []
        if whole:
            reasons.append("state the theme" + (" from where it enters over its accompaniment" if first == begin.entered else ""))
        elif first in begin.later:
            reasons.append("state the theme where it returns")
        elif states >= 0.5:
            reasons.append("have music that returns")
        reasons += end.told() if self._texture.chords else end.told_plainly()
        if again and not end.full and not end.rest:
            reasons.append("stop where the music begins again")
        return Stretch(first, last, worth, tuple(reasons), end.closes, restated)

    def _early(self, first: int, last: int) -> float:
        """How much of the theme's first statement the bars have, 0..1: less the later they begin."""
        begin = self._begin
        origin = max(begin.head, begin.stated) if first >= begin.stated else begin.head
        if first < origin or last < begin.stated + self._period // 2:  # the theme itself, not what leads to it
            return 0.0
        return max(0.0, 1 - 10 * (first - origin) / max(1, len(self._bars) - begin.head))


def _new_pace(score: Score) -> frozenset[int]:
    """Bars (indices) that begin with another speed than the one before: half as fast again, or two thirds."""
    found = set()
    speed = None
    for tempo in score.tempos:
        if tempo.quarters and speed and not 2 / 3 <= tempo.quarters / speed <= 3 / 2:
            found.add(bar_at(score.bars, tempo.onset).index)
        speed = tempo.quarters or speed
    return frozenset(found)
