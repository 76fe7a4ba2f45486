"""How much of the piece is played: a stretch that states the theme and stands alone."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from reduce.arrange.excerpt_counts import notes_sung
from reduce.arrange.excerpts import Stretch, stretches
from reduce.arrange.parted_bars import known_number, last_part
from reduce.arrange.resting import Rest, Resting
from reduce.arrange.returns import held_by_all
from reduce.model.decision import Decision, Rejected
from reduce.model.errors import UsageError
from reduce.model.record import replace
from reduce.model.rules import Rules
from reduce.model.score import Bar, Score
from reduce.model.texture import Texture


def choose_length(
    score: Score, texture: Texture, rules: Rules, request: str | None, *, broad: bool = False
) -> tuple[int, int, tuple[Decision, ...]]:
    """First and last bar (indices) to play, and one decision that says so.

    ``request``: ``full``, ``level`` (an excerpt of the level's length), ``A-B`` (printed numbers), or None: an excerpt for the easy levels
    (setting ``length.excerpt.default-level-up-to``), the whole piece for the others.  ``broad``: the bars are halves of the score's, and
    half as full, so that more of them are learned (setting ``rhythm.broad.bars-share``).  Raises UsageError where A-B is not in the score.
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
    short = 1.0 if broad else _short_bars(score, rules)
    longer = rules.number("rhythm.broad.bars-share") if broad else short
    found = stretches(score, texture, replace(rules, level=replace(level, bars_max=int(level.bars_max * longer))))
    if short > 1 and found and _full(found[0], score, texture, rules):
        short, found = 1.0, stretches(score, texture, rules) or found
    if not found:
        return *whole, (_kept_whole(bars, rules, asked=False),)
    best = found[0]
    return best.first, best.last, (_proposed(best, found[1:], bars, rules, short),)


def _short_bars(score: Score, rules: Rules) -> float:
    """How many more bars the level plays where most of them have two quarters or less, as a factor."""
    short = sum(bar.length <= 2 * score.resolution for bar in score.bars)
    return rules.numbers("length.excerpt.short-bars")[rules.level.order - 1] if 2 * short > len(score.bars) else 1.0


def _full(stretch: Stretch, score: Score, texture: Texture, rules: Rules) -> bool:
    """Whether the tune fills short bars as it would long ones."""
    notes, count = notes_sung(texture, score), stretch.last - stretch.first + 1
    return notes[stretch.last + 1] - notes[stretch.first] > rules.number("length.excerpt.short-bars-notes") * count


def named_bars(text: str, bars: Sequence[Bar]) -> tuple[int, int]:
    """Indices of the bars printed as "A-B" (or "A").  Raises UsageError where a number is not in the score or B comes before A."""
    parts = re.split(r"\s*[-–]\s*", text.strip())
    if not 1 <= len(parts) <= 2 or not all(parts):
        raise UsageError(f"{text!r} is no range of bars; write it as 9-16, with the printed numbers, or 'full' or 'level'.")
    numbers = [bar.number for bar in bars]
    for part in parts:
        if not known_number(numbers, part):
            raise UsageError(f"There is no bar {part}; the score has bars {numbers[0]} to {numbers[-1]}.")
    parts = [known_number(numbers, part) for part in parts]
    first, last = numbers.index(parts[0]), last_part(numbers, parts[-1])
    if last < first:
        raise UsageError(f"Bar {parts[-1]} comes before bar {parts[0]}; write the earlier bar first.")
    return first, last


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


def section_begins(score: Score, bar: Bar) -> bool:
    """Whether the piece, or a section of it, begins with a bar: what sounds in it is no tail of what came before.

    A section begins at a double bar or a repeat sign, and with another metre or tempo.
    """
    if not bar.index:
        return True
    before = score.bars[bar.index - 1]
    signs = bar.repeat_start or before.repeat_end or before.barline in ("light-light", "light-heavy") or before.meter != bar.meter
    return bool(signs) or any(tempo.onset == bar.start and tempo.text for tempo in score.tempos)


def rests_at(score: Score, texture: Texture, bars: Sequence[Bar]) -> int:
    """The tick at which an excerpt comes to rest in its last bar: where its tonic gives way to what is not played; else the bar's end.

    The tonic is that of the key of its beginning, or else of its end.  Without one it is where a fermata over all of them ends.
    """
    last = bars[-1]
    if last.index == len(score.bars) - 1:
        return last.end
    found = _rests(score, texture, bars)
    return next((rest.until for rest in found if rest is not None), held_by_all(score).get(last.index, last.end))


def comes_home(score: Score, texture: Texture, bars: Sequence[Bar]) -> bool:
    """Whether an excerpt ends with a full close on the tonic of the key that it begins in."""
    home = next(_rests(score, texture, bars))
    return home is not None and home.close


def _rests(score: Score, texture: Texture, bars: Sequence[Bar]) -> Iterator[Rest | None]:
    """Where an excerpt comes to rest in its last bar: in the key of its beginning, then in that of its end; None where it does not."""
    last, resting = bars[-1], Resting(score, texture)
    phrased = any(last.start < phrase.end <= last.end for phrase in texture.phrases)
    lowest, highest = tune_limits(texture, bars)
    for key in (resting.key(lowest), resting.key(highest - 1)):
        yield resting.rest(last, highest, key, phrased=phrased)


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


def _usual(rules: Rules, short: float = 1.0) -> str:
    level = rules.level
    if not level.bars_max:
        return "this level plays pieces of any length"
    return f"this level plays {level.bars_min}–{int(level.bars_max * short)} bars" + (" of two quarters" if short > 1 else "")


def _asked(first: int, last: int, bars: Sequence[Bar], rules: Rules) -> Decision:
    count = last - first + 1
    sentence = f"{_range(bars[first], bars[last])} only, as asked: {count} of {len(bars)} bars; {_usual(rules)}."
    return _decision(bars[first], bars[last], sentence, rules, weight=True, by_arranger=True)


def _kept_whole(bars: Sequence[Bar], rules: Rules, *, asked: bool) -> Decision:
    sentence = f"The whole piece is kept{', as asked' if asked else ''}: {len(bars)} bars; {_usual(rules)}."
    long = bool(rules.level.bars_max) and len(bars) > rules.level.bars_max
    return _decision(bars[0], bars[-1], sentence, rules, weight=long, by_arranger=asked)


def _proposed(best: Stretch, others: Sequence[Stretch], bars: Sequence[Bar], rules: Rules, short: float) -> Decision:
    first, last = bars[best.first], bars[best.last]
    because = " and ".join(best.reasons) or "begin and end with a phrase"
    count = sum(not bar.parent for bar in bars)
    sentence = f"{_range(first, last)} of {count} are proposed, because they {because}; {_usual(rules, short)}."
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
