"""How much of the piece is played: a stretch that states the theme and stands alone."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from itertools import accumulate, pairwise

from reduce.arrange.line import bar_at
from reduce.model.decision import Decision, Rejected
from reduce.model.errors import UsageError
from reduce.model.record import dataclass, replace
from reduce.model.rules import Rules
from reduce.model.score import Bar, Score
from reduce.model.texture import Phrase, Texture

FULL_CLOSE = ("authentic", "plagal")


@dataclass(frozen=True, slots=True)
class Stretch:
    """Bars ``first``..``last`` (indices) as an excerpt, its worth, and why in words."""

    first: int
    last: int
    worth: float
    reasons: tuple[str, ...]


def choose_length(score: Score, texture: Texture, rules: Rules, request: str | None) -> tuple[int, int, tuple[Decision, ...]]:
    """First and last bar (indices) to play, and one decision that says so.

    ``request``: ``full``, ``level`` (an excerpt of the level's length), ``A-B`` (printed numbers), or None: an excerpt for the easy levels
    (setting ``length.excerpt.default-level-up-to``), the whole piece for the others.  Raises UsageError where A-B is not in the score.
    """
    bars, level = score.bars, rules.level
    whole = (0, len(bars) - 1)
    if not bars:
        return 0, -1, ()
    if request not in (None, "full", "level"):
        first, last = named_bars(request or "", bars)
        return first, last, (_asked(first, last, bars, rules),)
    wanted = request or ("level" if level.order <= rules.whole("length.excerpt.default-level-up-to") else "full")
    keep_up_to = level.bars_max * rules.number("length.excerpt.keep-short-pieces")
    if wanted == "full" or level.bars_max == 0 or len(bars) <= keep_up_to:
        return *whole, (_kept_whole(bars, rules, asked=request == "full"),)
    found = stretches(score, texture, rules)
    if not found:
        return *whole, (_kept_whole(bars, rules, asked=False),)
    best = found[0]
    return best.first, best.last, (_proposed(best, found[1:], bars, rules),)


def named_bars(text: str, bars: Sequence[Bar]) -> tuple[int, int]:
    """Indices of the bars printed as "A-B" (or "A").  Raises UsageError where a number is not in the score or B comes before A."""
    parts = re.split(r"\s*[-–]\s*", text.strip())
    if not 1 <= len(parts) <= 2 or not all(parts):
        raise UsageError(f"{text!r} is no range of bars; write it as 9-16, with the printed numbers, or 'full' or 'level'.")
    numbers = [bar.number for bar in bars]
    for part in parts:
        if part not in numbers:
            raise UsageError(f"There is no bar {part}; the score has bars {numbers[0]} to {numbers[-1]}.")
    first = numbers.index(parts[0])
    last = len(numbers) - 1 - numbers[::-1].index(parts[-1])
    if last < first:
        raise UsageError(f"Bar {parts[-1]} comes before bar {parts[0]}; write the earlier bar first.")
    return first, last


def stretches(score: Score, texture: Texture, rules: Rules) -> list[Stretch]:
    """Excerpts of the level's length, from phrase to phrase, best first (settings ``length.excerpt``)."""
    bars, level = score.bars, rules.level
    phrases = _phrases(texture, bars)
    if not phrases:
        return []
    price = {name: rules.number(f"length.excerpt.{name}") for name in _PRICES}
    sung = _bars_with_tune(texture, score)
    starts = [bar_at(bars, phrase.start).index for phrase in phrases]
    ends = [bar_at(bars, max(phrase.start, phrase.end - 1)).index for phrase in phrases]
    returning = _returning(texture, bars)
    busy = _busy(texture, score)
    slow = _after_introduction(score, rules)
    if slow and (returning[slow] - returning[0]) / slow > rules.number("length.excerpt.introduction-returns"):
        slow = 0  # music that comes back is the theme, not an introduction
    head = next((start for start in starts if start >= slow), starts[0])
    tuneful = max(1, len(bars) - head)
    opening = {0, head, sung.index(True) if True in sung else 0, *(bar.index for bar in bars if bar.repeat_start)}
    opening |= {bar.index + 1 for bar in bars if bar.barline in ("light-light", "light-heavy") or bar.repeat_end}
    changes = [0]
    for before, after in pairwise(bars):
        changes.append(changes[-1] + (before.key.fifths != after.key.fifths) + (before.meter != after.meter))
    silent = [0]
    for singing in sung:
        silent.append(silent[-1] + (not singing))
    least, most = level.bars_min, level.bars_max
    found: dict[tuple[int, int], Stretch] = {}
    for attempt in (1.0, 1.3):
        for i, first in enumerate(starts):
            for j in range(i, len(phrases)):
                last, length = ends[j], ends[j] - first + 1
                if length > most * attempt:
                    break
                if length < least / attempt or not _whole_endings(bars, first, last):
                    continue
                inside = phrases[i : j + 1]
                states = (returning[last + 1] - returning[first]) / length
                early = max(0.0, 1 - 10 * (first - head) / tuneful) if first >= head else 0.0
                close = inside[-1].cadence
                again = j + 1 < len(phrases) and phrases[j + 1].label[:1] in _beginnings(inside)
                home = _key_at(texture, phrases[i].start, after=True) == _key_at(texture, phrases[j].end - 1, after=False)
                worth = (
                    price["theme"] * states
                    + price["first-statement"] * early
                    - price["busy"] * max(0.0, (busy[last + 1] - busy[first]) / length / (busy[-1] / len(bars) or 1) - 1)
                    + price["opening"] * (first in opening)
                    + price["close"] * (1.0 if close in FULL_CLOSE else -1 / 3 if close == "half" else 0.0)
                    + price["home"] * home
                    + price["before-return"] * again
                    - price["one-signature"] * (changes[last] - changes[first])
                    - price["silence"] * (silent[last + 1] - silent[first]) / length
                    + price["length"] * min(1.0, length / most)
                    - price["repeat-cut"] * _cuts_repeat(bars, first, last)
                    - 0.001 * first
                )
                reasons = []
                if early > 0.8:
                    reasons.append("state the theme")
                elif states >= 0.5:
                    reasons.append("have music that returns")
                if close in FULL_CLOSE:
                    reasons.append("end with a full close" + (" in the key of their beginning" if home else ""))
                elif home:
                    reasons.append("end in the key of their beginning")
                if again and close not in FULL_CLOSE:
                    reasons.append("stop where the music begins again")
                held = found.get((first, last))
                if held is None or worth > held.worth:
                    found[(first, last)] = Stretch(first, last, worth, tuple(reasons))
        if found:
            break
    return sorted(found.values(), key=lambda item: (-round(item.worth, 6), item.first, item.last))


_PRICES = (
    "theme", "first-statement", "busy", "opening", "close", "home", "before-return", "one-signature", "silence", "length", "repeat-cut",
)  # fmt: skip


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


def _returning(texture: Texture, bars: Sequence[Bar]) -> list[int]:
    """Running count of bars whose music is heard again, or was heard before, elsewhere in the piece."""
    again = [False] * len(bars)
    for parallel in texture.parallels:
        for start in (parallel.first, parallel.second):
            at = bar_at(bars, start).index
            while at < len(bars) and bars[at].start < start + parallel.length:
                again[at] = True
                at += 1
    if not texture.parallels:
        labels = Counter(phrase.label[:1] for phrase in texture.phrases if phrase.label)
        for phrase in texture.phrases:
            at = bar_at(bars, phrase.start).index
            while at < len(bars) and bars[at].start < phrase.end and labels[phrase.label[:1]] > 1:
                again[at] = True
                at += 1
    return [0, *accumulate(again)]


def _busy(texture: Texture, score: Score) -> list[int]:
    """Running count of tune notes by bar."""
    notes = [0] * len(score.bars)
    by_id = score.note_by_id
    for lead in texture.tune:
        for name in lead.notes:
            notes[by_id[name].bar] += 1
    return [0, *accumulate(notes)]


def _bars_with_tune(texture: Texture, score: Score) -> list[bool]:
    sung = [False] * len(score.bars)
    by_id = score.note_by_id
    for lead in texture.tune:
        for name in lead.notes:
            note = by_id[name]
            place = note.bar
            while place < len(sung) and score.bars[place].start < note.end:
                sung[place] = True
                place += 1
    return sung if any(sung) else [True] * len(sung)


def _key_at(texture: Texture, tick: int, *, after: bool) -> tuple[int, str] | None:
    """Tonic and mode heard at a moment; a beginning is read a little later, an ending a little earlier."""
    for local in texture.keys:
        if local.start <= tick < local.end:
            return local.tonic, local.mode
    if not texture.keys:
        return None
    local = texture.keys[0 if after else -1]
    return local.tonic, local.mode


def _whole_endings(bars: Sequence[Bar], first: int, last: int) -> bool:
    """Whether first and second endings are inside or outside together."""
    cut_before = first > 0 and bool(bars[first].endings) and bars[first].endings != (1,)
    cut_before = cut_before or (bool(bars[first].endings) and not bars[first].ending_start)
    cut_after = last + 1 < len(bars) and bool(bars[last + 1].endings) and bool(bars[last].endings)
    return not cut_before and not cut_after


def _cuts_repeat(bars: Sequence[Bar], first: int, last: int) -> int:
    """How many repeated sections are cut into: a sign whose partner is outside."""
    cuts = open_signs = 0
    for bar in bars[first : last + 1]:
        if bar.repeat_start:
            open_signs += 1
        if bar.repeat_end:
            if open_signs:
                open_signs -= 1
            elif first > 0 and not any(earlier.repeat_end for earlier in bars[max(0, first - 1) : first]):
                cuts += 1
    return cuts + open_signs


def closed(bars: Sequence[Bar]) -> tuple[Bar, ...]:
    """The kept bars with repeats, endings and jumps that make sense alone, and a final barline.

    A repeat sign without its partner, an ending without the other endings and a jump without its goal are taken off.
    """
    kept = list(bars)
    if not kept:
        return ()
    open_at: int | None = None
    for place, bar in enumerate(kept):
        if bar.repeat_start:
            if open_at is not None:
                kept[open_at] = replace(kept[open_at], repeat_start=False)
            open_at = place
        if bar.repeat_end:
            at_head = bars[0].index == 0 or not any(earlier.repeat_end for earlier in kept[:place])
            if open_at is None and not (at_head and bars[0].index == 0) and not any(b.repeat_end for b in kept[:place]):
                kept[place] = replace(kept[place], repeat_end=0)
            open_at = None
    if open_at is not None:
        kept[open_at] = replace(kept[open_at], repeat_start=False)
    numbers = {number for bar in kept for number in bar.endings}
    if numbers and not ({1, 2} <= numbers and any(bar.repeat_end for bar in kept)):
        kept = [replace(bar, endings=(), ending_start=False, ending_stop="") for bar in kept]
    marks = {jump for bar in kept for jump in bar.jumps}
    goals = {"dal-segno": "segno", "to-coda": "coda", "coda": "to-coda"}
    bad = {jump for jump, goal in goals.items() if goal not in marks}
    if not marks & {"dal-segno", "da-capo"}:
        bad |= {"segno", "coda", "to-coda", "fine"}
    if bad & marks:
        kept = [replace(bar, jumps=tuple(jump for jump in bar.jumps if jump not in bad)) for bar in kept]
    if not kept[-1].repeat_end:
        kept[-1] = replace(kept[-1], barline="light-heavy")
    return tuple(kept)


def tune_limits(texture: Texture, bars: Sequence[Bar]) -> tuple[int, int]:
    """Ticks between which the tune of an excerpt is played: without the tail of a phrase before it, or the upbeat to one after it."""
    start, end = bars[0].start, bars[-1].end
    first = [phrase.start for phrase in texture.phrases if bars[0].start <= phrase.start < bars[0].end]
    last = [phrase.end for phrase in texture.phrases if bars[-1].start < phrase.end < bars[-1].end]
    return (first[-1] if first else start), (last[-1] if last else end)


def _range(first: Bar, last: Bar) -> str:
    return f"Bar {first.number}" if first is last else f"Bars {first.number}–{last.number}"


def _decision(first: Bar, last: Bar, sentence: str, rules: Rules, *, weight: bool, by_arranger: bool, **more: object) -> Decision:
    return replace(
        Decision(
            id="cut-1",
            kind="cut",
            bars=(first.index, last.index),
            sentence=sentence,
            onset=first.start,
            weight="big" if weight else "medium",
            rule="length.excerpt",
            setting="level.bars-max",
            measured=float(last.index - first.index + 1),
            limit=float(rules.level.bars_max) or None,
            unit="bars",
            by="arranger" if by_arranger else "tool",
        ),
        **more,  # type: ignore[arg-type]
    )


def _usual(rules: Rules) -> str:
    level = rules.level
    return f"this level plays {level.bars_min}–{level.bars_max} bars" if level.bars_max else "this level plays pieces of any length"


def _asked(first: int, last: int, bars: Sequence[Bar], rules: Rules) -> Decision:
    count = last - first + 1
    sentence = f"{_range(bars[first], bars[last])} only, as asked: {count} of {len(bars)} bars; {_usual(rules)}."
    return _decision(bars[first], bars[last], sentence, rules, weight=True, by_arranger=True)


def _kept_whole(bars: Sequence[Bar], rules: Rules, *, asked: bool) -> Decision:
    sentence = f"The whole piece is kept{', as asked' if asked else ''}: {len(bars)} bars; {_usual(rules)}."
    long = bool(rules.level.bars_max) and len(bars) > rules.level.bars_max
    return _decision(bars[0], bars[-1], sentence, rules, weight=long, by_arranger=asked)


def _proposed(best: Stretch, others: Sequence[Stretch], bars: Sequence[Bar], rules: Rules) -> Decision:
    first, last = bars[best.first], bars[best.last]
    because = " and ".join(best.reasons) or "begin and end with a phrase"
    sentence = f"{_range(first, last)} of {len(bars)} are proposed, because they {because}; {_usual(rules)}."
    apart = [item for item in others if abs(item.first - best.first) + abs(item.last - best.last) > 4][:2]
    rejected = tuple(
        Rejected(
            _range(bars[item.first], bars[item.last]),
            "they " + (" and ".join(item.reasons) or "begin and end with a phrase") + f"; worth {item.worth:.1f} against {best.worth:.1f}",
        )
        for item in apart
    )
    sure = 0.9 if not apart or best.worth - apart[0].worth > 2 else 0.6
    return _decision(first, last, sentence, rules, weight=True, by_arranger=False, rejected=rejected, certainty=sure)
