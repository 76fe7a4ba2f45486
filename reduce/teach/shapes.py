"""The way of an accompaniment through its notes: low, high, middle, high; the chords change, the way stays."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from reduce.hands.touch import HANDS
from reduce.model.draft import Hand
from reduce.teach.lesson import Lesson
from reduce.teach.patterns import Pattern, Stroke, pattern, strokes

KIND = "shape"
_SIZES = (3, 4, 6, 8)  # strokes of a group
_HEIGHTS = 3  # low, middle, high
Shape = tuple[int, ...]  # the height of each stroke of a group: 0 low, 1 middle, 2 high


def shape_in(lesson: Lesson, hand: Hand, bar: int) -> tuple[Shape, tuple[Pattern, ...]] | None:
    """The way that a hand goes in a bar (index), with the groups of strokes that go it; None where it goes none.

    The bar is parted into groups of equally many single strokes in even rhythm.  Its first group has three heights, and groups of its
    way make up half the bar at least.
    """
    there = lesson.draft.bars[bar]
    row = strokes(lesson, hand, there.start, there.end)
    gaps = {after.onset - stroke.onset for stroke, after in pairwise(row)}
    if len(gaps) != 1 or any(len(stroke.keys) > 1 for stroke in row):
        return None
    best: tuple[Shape, list[Sequence[Stroke]]] | None = None
    for size in _SIZES:
        if len(row) % size:
            continue
        groups: list[Sequence[Stroke]] = [row[k : k + size] for k in range(0, len(row), size)]
        shape = _heights(groups[0])
        same = [group for group in groups if _heights(group) == shape]
        if len(set(shape)) == _HEIGHTS and 2 * len(same) >= len(groups) and (best is None or len(same) * size > _count(best[1])):
            best = shape, same
    if best is None:
        return None
    return best[0], tuple(_group(lesson, group, best[0]) for group in best[1])


def shapes(lesson: Lesson) -> list[tuple[Hand, int, tuple[tuple[Pattern, ...], ...]]]:
    """Neighbouring bars in which a hand goes one way: hand, index of the first bar, what it does bar by bar."""
    found: list[tuple[Hand, int, tuple[tuple[Pattern, ...], ...]]] = []
    for hand in HANDS:
        now: Shape | None = None
        for k in range(len(lesson.draft.bars)):
            here = shape_in(lesson, hand, k)
            if here is not None and here[0] == now:
                found[-1] = (hand, found[-1][1], (*found[-1][2], here[1]))
            elif here is not None:
                found.append((hand, k, (here[1],)))
            now = here[0] if here is not None else None
    return found


def spoken(lesson: Lesson, shape: Sequence[int]) -> str:
    """'low, high, middle, high'."""
    return ", ".join(lesson.words.say(f"height.{height}") for height in shape)


def _heights(group: Sequence[Stroke]) -> Shape:
    keys = sorted({stroke.keys[0] for stroke in group})
    return tuple(keys.index(stroke.keys[0]) for stroke in group)


def _group(lesson: Lesson, group: Sequence[Stroke], shape: Shape) -> Pattern:
    """One group with the chord that it spells, if any."""
    by_key = {stroke.keys[0]: stroke.pitches[0] for stroke in group}
    notes = tuple(by_key[key] for key in sorted(by_key))
    plain = pattern(lesson, group)
    return Pattern(kind=KIND, groups=(notes,), strokes=tuple(group), facts={"shape": shape}, chord=plain.chord if plain else None)


def _count(groups: Sequence[Sequence[Stroke]]) -> int:
    return sum(len(group) for group in groups)
