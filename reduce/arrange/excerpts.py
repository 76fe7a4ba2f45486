"""Excerpts that stand alone: from phrase to phrase, weighed by the theme, the close and what is cut through."""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from itertools import pairwise

from reduce.arrange.excerpt_counts import bars_returning, bars_with_tune, leaps_sung, notes_sung, repeats_cut, section_ends, whole_endings
from reduce.arrange.landing import runs_apart
from reduce.arrange.line import bar_at
from reduce.arrange.parted_bars import parts_of
from reduce.arrange.resting import Rest, Resting, repeated
from reduce.arrange.returns import Return, held_by_all, returns_of, within_return
from reduce.arrange.vamps import tune_enters, without_vamp
from reduce.model.record import dataclass, replace
from reduce.model.rules import Rules
from reduce.model.score import Bar, Score
from reduce.model.texture import Phrase, Texture

FULL_CLOSE = ("authentic", "plagal")
_HELD = 0.6  # share of the worth of coming to rest that a fermata over the dominant has
_UNPHRASED = 0.75  # ... that a tonic has where no phrase is heard to end
_AWAY = 0.25  # ... that the tonic of another key has


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
    bars, level = score.bars, rules.level
    plain = without_vamp(_phrases(texture, bars), score, texture)
    entered = bar_at(bars, tune_enters(score, texture)).index or None
    phrases = runs_apart(plain, score, texture, rules.whole("length.excerpt.run-notes"))
    if not phrases:
        return []
    price = {name: rules.number(f"length.excerpt.{name}") for name in _PRICES}
    sung = bars_with_tune(texture, score)
    starts = [bar_at(bars, phrase.start).index for phrase in phrases]
    ends = [bar_at(bars, max(phrase.start, phrase.end - 1)).index for phrase in phrases]
    upbeats = [
        bars[start].pickup or 2 * (phrase.start - bars[start].start) >= bars[start].length
        for phrase, start in zip(phrases, starts, strict=True)
    ]
    returning = bars_returning(texture, bars)
    busy, wide = notes_sung(texture, score), leaps_sung(texture, score, level.step_max or 99)
    slow = _after_introduction(score, rules)
    themed = _own_theme([phrase for phrase, start in zip(phrases, starts, strict=True) if start < slow])
    if slow and (themed is not None or (returning[slow] - returning[0]) / slow > rules.number("length.excerpt.introduction-returns")):
        slow = 0  # music that comes back is the theme, not an introduction
    again_from = returns_of(score, texture, rules.whole("length.excerpt.return-bars") * parts_of(bars))
    period = rules.whole("length.excerpt.period-bars") * parts_of(bars)
    head = next((start for start in starts if start >= slow), starts[0])
    tuneful = max(1, len(bars) - head)
    opening = {0, head, sung.index(True) if True in sung else 0, *(bar.index for bar in bars if bar.repeat_start)}
    opening |= {bar.index + 1 for bar in bars if bar.barline in ("light-light", "light-heavy") or bar.repeat_end}
    stated = _statement(again_from, starts, period)
    opening |= {stated, starts[themed or 0]}
    later = _restated(again_from, starts, {head, stated, starts[themed or 0]})
    landings = {phrase.start for phrase in phrases} - {phrase.start for phrase in plain}
    opening |= {start for start, phrase in zip(starts, phrases, strict=True) if start <= period and phrase.start in landings}
    changes, paces = [0], [0]
    turned = _new_pace(score)
    for before, after in pairwise(bars):
        changes.append(changes[-1] + (before.key.fifths != after.key.fifths))
        paces.append(paces[-1] + (before.meter != after.meter or after.index in turned))
    silent = [0]
    for singing in sung:
        silent.append(silent[-1] + (not singing))
    least, most = level.bars_min, level.bars_max
    closing = frozenset(end for end, phrase in zip(ends, phrases, strict=True) if phrase.cadence in FULL_CLOSE)
    paused = held_by_all(score)
    holds, near = sorted(paused), rules.whole("length.excerpt.fermata-near")
    resting = Resting(score, texture)
    sections = section_ends(bars)
    stops = _stops(phrases, ends, bars, paused, again_from, resting.closes(bars, sections))
    doubled = repeated(bars)
    found: dict[tuple[int, int], Stretch] = {}
    for attempt in (1.0, 1.3):
        for i, first in enumerate(starts):
            for stop in stops[bisect_left(stops, first, key=lambda stop: stop.last) :]:
                last, length = stop.last, stop.last - first + 1 - upbeats[i]
                if length > most * attempt:
                    break
                heard = length + sum(end - begin + 1 for begin, end in doubled if first <= begin and end <= last)
                if 5 * length < 4 * least or heard + upbeats[i] < least / attempt:  # an upbeat fills up the last bar
                    continue
                if stop.phrase < i or not whole_endings(bars, first, last):
                    continue
                inside = phrases[i : stop.phrase + 1]
                states = (returning[last + 1] - returning[first]) / length
                origin = max(head, stated) if first >= stated else head
                early = max(0.0, 1 - 10 * (first - origin) / tuneful) if first >= origin else 0.0
                early *= last >= stated + period // 2  # the theme itself, not what leads to it
                begun, whole = float(first in opening), early > 0.8
                later_on = price["restatement"] * (first in later and last >= first + period // 2)
                rest = resting.rest(bars[last], stop.ends, resting.key(phrases[i].start), phrased=stop.phrased)
                begins, ends_in = _key_at(texture, phrases[i].start, after=True), _key_at(texture, stop.ends - 1, after=False)
                home = begins == ends_in
                far = begins is not None and ends_in is not None and _far(begins, ends_in)
                away = rest if rest or far else resting.rest(bars[last], stop.ends, resting.key(stop.ends - 1), phrased=stop.phrased)
                closed = stop.close in FULL_CLOSE and (away is not None or not texture.chords)
                full = stop.held or closed or (rest is not None and rest.close)
                if rest is None and not stop.held and last + 1 < len(bars) and bars[last + 1].parent:
                    continue  # in the middle of a bar of the score only a rest on the tonic is an end
                settled = _settled(stop, rest, away, resting.open(stop.ends, resting.key(phrases[i].start)))
                following = phrases[stop.phrase + 1].label[:1] if stop.phrase + 1 < len(phrases) else ""
                again = any(0 <= place - first <= period // 2 for place in stop.again) or following in _beginnings(inside)
                broken = within_return(again_from, first, last - stop.elided, closing, period) or (
                    not again and _goes_on(inside, following)
                )
                to_hold = next((place - last for place in holds if place > last), near + 1)
                short = to_hold <= near and not stop.held
                worth = (
                    price["theme"] * states
                    + price["first-statement"] * early
                    - price["busy"] * max(0.0, (busy[last + 1] - busy[first]) / length / (busy[-1] / len(bars) or 1) - 1)
                    + price["opening"] * begun
                    + price["close"] * (0.0 if full and far else 1.0 if full else -1 / 3 if stop.close == "half" and not again else 0.0)
                    + price["home"] * home
                    + price["rest"] * begun * whole * settled
                    + price["section"] * (last in sections)
                    + price["before-return"] * again
                    - price["one-signature"] * (changes[last] - changes[first])
                    - price["one-pace"] * (paces[last] - paces[first])
                    - price["silence"] * (silent[last + 1] - silent[first]) / length
                    + price["length"] * min(1.0, length / most)
                    - price["leaps"] * (wide[last + 1] - wide[first]) / length
                    - price["repeat-cut"] * repeats_cut(bars, first, last)
                    - price["in-return"] * broken
                    - price["before-fermata"] * short
                    - 0.001 * first
                )
                reasons = []
                if whole:
                    reasons.append("state the theme" + (" from where it enters over its accompaniment" if first == entered else ""))
                elif first in later:
                    reasons.append("state the theme where it returns")
                elif states >= 0.5:
                    reasons.append("have music that returns")
                mode = ends_in[1] if begins and ends_in and begins[0] == ends_in[0] and not home else ""
                reasons += _ending(stop, rest, away, home=home, mode=mode) if texture.chords else _told(stop, home=home)
                if again and not full and not rest:
                    reasons.append("stop where the music begins again")
                held = found.get((first, last))
                if held is None or worth > held.worth:
                    restated = max(0.0, later_on - early) * price["first-statement"] + max(0.0, later_on - begun) * (
                        price["opening"] + price["rest"] * settled
                    )
                    restated *= home and (rest is not None or full)
                    darkened = begins is not None and ends_in is not None and not home and begins[0] == ends_in[0]
                    closes = rest is not None or stop.held or (full and not far and not darkened)
                    found[(first, last)] = Stretch(first, last, worth, tuple(reasons), closes, restated)
        if found:
            break
    if found and not max(found.values(), key=lambda item: item.worth).closes:
        found = {place: replace(item, worth=item.worth + item.restated) for place, item in found.items()}
    return sorted(found.values(), key=lambda item: (-round(item.worth, 6), item.first, item.last))


_PRICES = (
    "theme", "first-statement", "restatement", "busy", "opening", "close", "home", "rest", "section", "before-return", "one-signature",
    "one-pace", "silence", "length", "leaps", "repeat-cut", "in-return", "before-fermata",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Stop:
    """A bar (index) that an excerpt may end with: its phrase, the tick where that ends in it, how it closes, whether all hold there.

    ``again``: the bars whose tune comes again after it; ``phrased``: a phrase ends in it; ``elided``: on the first note of the next one.
    """

    last: int
    phrase: int
    ends: int
    close: str = ""
    held: bool = False
    again: tuple[int, ...] = ()
    phrased: bool = True
    elided: bool = False


def _stops(
    phrases: Sequence[Phrase],
    ends: Sequence[int],
    bars: Sequence[Bar],
    held: Mapping[int, int],
    returns: Sequence[Return],
    closes_home: Mapping[int, Rest],
) -> list[_Stop]:
    """The ends of phrases, the bars where all hold, and those before the beginning comes back, in order."""
    closes = {end: (index, phrases[index].cadence) for index, end in enumerate(ends)}
    stated: dict[int, list[int]] = {}
    for item in returns:
        stated.setdefault(item.second - 1, []).append(item.first)
    out = []
    for last in sorted({*ends, *held, *stated, *closes_home}):
        index, close = closes.get(last, (bisect_left(ends, last), ""))
        if last not in closes and last in closes_home and closes_home[last].elided:
            again = tuple(stated.get(last - 1, ()))
            out.append(_Stop(last, index - 1, bars[last].end, phrases[index - 1].cadence, last in held, again, phrased=False, elided=True))
        elif index < len(phrases):
            sung = min(phrases[index].end, bars[last].end)  # without the upbeat to the next phrase
            out.append(_Stop(last, index, sung, close, last in held, tuple(stated.get(last, ())), last in closes))
    return out


def _settled(stop: _Stop, rest: Rest | None, away: Rest | None, dominant: bool) -> float:
    """How well an end brings a stretch to rest, 0..1; a fermata does so on the ``dominant`` rather than on another chord."""
    if rest is not None:
        return rest.worth * (1.0 if stop.phrased or rest.elided else _UNPHRASED)
    if stop.held:
        return _HELD if dominant else _HELD / 2
    return _AWAY * away.worth if away is not None else 0.0


def _ending(stop: _Stop, rest: Rest | None, away: Rest | None, *, home: bool, mode: str = "") -> list[str]:
    """How a stretch ends, in words that its last bar bears out; ``mode`` is that of its end where it began in the other one."""
    if stop.held:
        return ["end where all hold"]
    if rest is not None and mode:
        return [f"end {'with a full close ' if rest.close else ''}on the tonic of their beginning, in {mode}"]
    if rest is not None:
        return ["end with a full close in the key of their beginning" if rest.close else "end on the tonic of the key of their beginning"]
    if away is not None and not home:
        return [f"end {'with a full close' if away.close else 'on a tonic'}, though in another key"]
    return ["end in the key of their beginning, though not on its tonic"] if home else []


def _told(stop: _Stop, *, home: bool) -> list[str]:
    """The same where no harmony is known: as the phrase says."""
    if stop.held:
        return ["end where all hold"]
    if stop.close in FULL_CLOSE:
        return ["end with a full close" + (" in the key of their beginning" if home else "")]
    return ["end in the key of their beginning"] if home else []


def _goes_on(inside: Sequence[Phrase], following: str) -> bool:
    """Whether the music after a stretch goes on with a repetition that has begun in it: a letter that is in it, but not as a beginning."""
    letters = [phrase.label[:1] for phrase in inside]
    begun = any(letter and letter in letters[:place] for place, letter in enumerate(letters))
    return begun and bool(following) and following in letters and following != letters[-1]


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


def _beginnings(phrases: Sequence[Phrase]) -> frozenset[str]:
    """The letters of the phrases that begin something: the first one, and those that first come after a full close."""
    found: set[str] = set()
    heard: set[str] = set()
    for index, phrase in enumerate(phrases):
        letter = phrase.label[:1]
        if letter and letter not in heard and (index == 0 or phrases[index - 1].cadence in FULL_CLOSE):
            found.add(letter)
        heard.add(letter)
    return frozenset(found)


def _new_pace(score: Score) -> frozenset[int]:
    """Bars (indices) that begin with another speed than the one before: half as fast again, or two thirds."""
    found = set()
    speed = None
    for tempo in score.tempos:
        if tempo.quarters and speed and not 2 / 3 <= tempo.quarters / speed <= 3 / 2:
            found.add(bar_at(score.bars, tempo.onset).index)
        speed = tempo.quarters or speed
    return frozenset(found)


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


def _key_at(texture: Texture, tick: int, *, after: bool) -> tuple[int, str] | None:
    """Tonic and mode heard at a moment; a beginning is read a little later, an ending a little earlier."""
    for local in texture.keys:
        if local.start <= tick < local.end:
            return local.tonic, local.mode
    if not texture.keys:
        return None
    local = texture.keys[0 if after else -1]
    return local.tonic, local.mode


def _far(home: tuple[int, str], other: tuple[int, str]) -> bool:
    """Whether a close in ``other`` leads too far from ``home``: neither its own tonic, nor its dominant, nor its relative.

    Common practice: a first part closes at home, on the dominant, or in minor in the relative major.
    """
    apart = (other[0] - home[0]) % 12
    return apart not in (0, 7) and _fifths_apart(home, other) > 0


def _fifths_apart(one: tuple[int, str], other: tuple[int, str]) -> int:
    """Steps on the circle of fifths between two keys, a minor key where its relative major is; 0 between major and minor of one tonic."""
    if one[0] == other[0]:
        return 0
    places = [(7 * (tonic + (3 if mode == "minor" else 0))) % 12 for tonic, mode in (one, other)]
    away = (places[0] - places[1]) % 12
    return min(away, 12 - away)
