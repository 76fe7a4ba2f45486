"""The order in which the bars are played: repeats, endings, D.C. and D.S. unfolded."""

from __future__ import annotations

from collections.abc import Sequence

from reduce.model.score import Bar

MOST_BARS = 20_000  # a file with faulty repeats must still end


def playing_order(bars: Sequence[Bar]) -> list[int]:
    """Indices of ``bars`` as they are heard.

    After D.C. or D.S. repeats are not taken again and the last ending is played (common practice); the music then stops at
    Fine, or goes from the sign "to coda" to the coda.
    """
    order: list[int] = []
    at, start, turn, jumped = 0, 0, 1, False
    while at < len(bars) and len(order) < MOST_BARS:
        bar = bars[at]
        if bar.repeat_start and start != at:
            start, turn = at, 1
        if bar.endings and not _plays(bars, at, turn, jumped):
            at += 1
            continue
        order.append(at)
        if bar.repeat_end and not jumped:
            last = max(_ending_numbers(bars, at), default=0) if bar.endings else bar.repeat_end
            if turn < last:
                at, turn = start, turn + 1
                continue
            start, turn = at + 1, 1
        elif bar.endings and bar.ending_stop and not jumped and turn >= max(_ending_numbers(bars, at)):
            start, turn = at + 1, 1
        if jumped:
            if "fine" in bar.jumps:
                break
            if "to-coda" in bar.jumps and (coda := _find(bars, "coda")) is not None:
                at = coda
                continue
        elif "da-capo" in bar.jumps:
            at, start, turn, jumped = 0, 0, 1, True
            continue
        elif "dal-segno" in bar.jumps:
            at, start, turn, jumped = _find(bars, "segno") or 0, 0, 1, True
            continue
        at += 1
    return order


def _find(bars: Sequence[Bar], sign: str) -> int | None:
    return next((k for k, bar in enumerate(bars) if sign in bar.jumps), None)


def _ending_numbers(bars: Sequence[Bar], at: int) -> set[int]:
    """The numbers of all endings that stand side by side with the one at ``at``."""
    first = last = at
    while first > 0 and bars[first - 1].endings:
        first -= 1
    while last + 1 < len(bars) and bars[last + 1].endings:
        last += 1
    return {number for bar in bars[first : last + 1] for number in bar.endings}


def _plays(bars: Sequence[Bar], at: int, turn: int, jumped: bool) -> bool:
    numbers = bars[at].endings
    return max(_ending_numbers(bars, at)) in numbers if jumped else turn in numbers
