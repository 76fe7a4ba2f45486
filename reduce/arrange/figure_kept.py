"""Eased bars that are lighter and still have the figure of their section: like bars that nothing eased, or by turns with them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping, Sequence

from reduce.arrange.desk import Desk
from reduce.arrange.figures_sections import Section
from reduce.arrange.line import Tone
from reduce.arrange.strands import Key

_Shape = tuple[tuple[int, int, int], ...]  # onset in the bar, length in it, keys


def by_turns(
    left: Sequence[Key], silent: Mapping[int, bool], kept: Collection[int], given: Sequence[Tone], desk: Desk, least: int
) -> frozenset[int]:
    """The ``silent`` bars (positions; whether the left hand holds on) that come by turns with played ones: a figure of two bars.

    It lasts ``least`` bars and more, all its second bars are held or none is, and the hand has no notes of the tune (``given``) in it.
    ``kept`` are eased bars that keep their figure.
    """
    struck = {desk.place(key.onset) for key in left}
    played = {place for place in struck if desk.ease.get(place, 0) <= 1 or place in kept}
    sung = {desk.place(tone.onset) for tone in given}
    found: set[int] = set()
    for first in sorted(silent):
        if first in found:
            continue
        run = [first]
        while run[-1] + 2 in silent and silent[run[-1] + 2] == silent[first]:
            run.append(run[-1] + 2)
        while run and not all(place - 1 in played and {place - 1, place}.isdisjoint(sung) for place in run):
            run.pop()
        if 2 * len(run) >= least:
            found |= set(run)
    return frozenset(found)


def figure_kept(left: Sequence[Key], parts: Sequence[Section], desk: Desk, share: float) -> frozenset[int]:
    """The eased bars (positions) whose left hand plays what a ``share`` of the bars of its section play that nothing eased.

    Bars in which nothing is struck are not among them, nor counted.
    """
    rows: list[dict[tuple[int, int], int]] = [{} for _ in desk.bars]
    for key in left:
        place = desk.place(key.onset)
        touch = (key.onset - desk.bars[place].start, min(key.end, desk.bars[place].end) - key.onset)
        rows[place][touch] = rows[place].get(touch, 0) + 1
    shapes: list[_Shape] = [tuple(sorted((onset, length, count) for (onset, length), count in row.items())) for row in rows]
    found = set()
    for part in parts:
        places = [place for place in range(part.first, part.last + 1) if shapes[place]]
        free = Counter(shapes[place] for place in places if desk.ease.get(place, 0) <= 1)
        least = share * sum(free.values())
        found |= {place for place in places if desk.ease.get(place, 0) > 1 and free[shapes[place]] >= max(1, least)}
    return frozenset(found)
