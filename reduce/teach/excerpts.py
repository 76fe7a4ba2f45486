"""Which bars of a long piece are worked on in one lesson: those that teach most, a few bars at a time."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from reduce.teach.lesson import Lesson

Bars = tuple[int, int]  # first and last bar (indices)
Gain = Callable[[Bars, Sequence[Bars]], float]
_IN_FOUR = 1.05  # groups of bars mostly begin where fours do (common practice): of two alike that one is taken


def excerpts(lesson: Lesson, size: int, gain: Gain) -> tuple[Bars, ...]:
    """Stretches of ``size`` bars, the best one first taken and none overlapping, in the order of the piece.

    ``gain`` tells what some bars add to those that are taken already; where nothing adds, no more are taken.
    """
    bars = lesson.draft.bars
    first = 1 if bars[0].pickup and len(bars) > size else 0
    ways = [(k, min(k + size, len(bars)) - 1) for k in range(first, max(first + 1, len(bars) - size + 1))]
    taken: list[Bars] = []
    while True:
        free = [way for way in ways if all(way[1] < a or way[0] > b for a, b in taken)]
        found = [(gain(way, taken) * (_IN_FOUR if (way[0] - first) % 4 == 0 else 1.0), -way[0], way) for way in free]
        best = max(found, default=None)
        if best is None or best[0] <= 0:
            return tuple(sorted(taken))
        taken.append(best[2])
