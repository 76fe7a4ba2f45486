"""A passage of the tune that comes again, in any key, lies in one octave in all its places, unless one of them pays too much for it."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Mapping, Sequence
from itertools import groupby

from reduce.arrange.explain import Ledger, bars_named
from reduce.arrange.line import Tone
from reduce.arrange.octaves import Compass, change_price, prices_of
from reduce.model.decision import Decision, Rejected
from reduce.model.score import Bar
from reduce.model.texture import Parallel

_ROUNDS = 4  # looks over all passages; a second one seldom finds more


def twins(tones: Sequence[Tone], parallels: Sequence[Parallel]) -> tuple[tuple[int, int], ...]:
    """Pairs of tones (positions) that are the same note of a passage and of its return, in the composer's own octave."""
    onsets = [tone.onset for tone in tones]
    found = []
    for parallel in parallels:
        away = parallel.second - parallel.first
        for second in range(bisect_left(onsets, parallel.second), bisect_left(onsets, parallel.second + parallel.length)):
            first = bisect_left(onsets, onsets[second] - away)
            if onsets[first] == onsets[second] - away and tones[second].midi - tones[first].midi == parallel.shift:
                found.append((first, second))
    return tuple(found)


def placed_again(
    tones: Sequence[Tone],
    shifts: Sequence[int],
    starts: set[int],
    compass: Compass,
    home: Sequence[int],
    pairs: Sequence[tuple[int, int]],
    price: float,
) -> tuple[int, ...]:
    """The shifts with passages that come again in one octave where the whole line is cheaper so.

    To the prices of the line comes ``price`` for each pair of tones (``pairs``) whose shifts differ.  The tones between two places
    where the placement may change go together; each passage is tried with all its places in the octave of the highest of them, and the
    best path through the rest of the line follows.  No place goes down for another one, which may have had to: the keyboard has an end,
    and a low tune leaves the left hand no room.
    """
    if not price or all(shifts[a] == shifts[b] for a, b in pairs):
        return tuple(shifts)
    search = _Search(tones, shifts, starts, compass, home, pairs, price)
    labels, passages = search.labels, search.passages()
    least = search.cost(labels)
    for _ in range(_ROUNDS):
        before = least
        for passage in passages:
            highest = max(labels[part] for part in passage)
            if all(labels[part] == highest for part in passage):
                continue
            bound = search.path(labels, dict.fromkeys(passage, highest))
            for tried in (bound, search.path(bound, {})):  # a place for which that is too dear goes its own way
                cost = search.cost(tried)
                if cost < least - 1e-9:
                    labels, least = tried, cost
        if least == before:
            break
    return search.shifts(labels)


class _Search:
    """The line in parts that are moved as one, with what each costs in each octave (a label), from part to part, and between twins."""

    def __init__(
        self, tones: Sequence[Tone], shifts: Sequence[int], starts: set[int], compass: Compass, home: Sequence[int],
        pairs: Sequence[tuple[int, int]], price: float,
    ) -> None:  # fmt: skip
        own = [shift - at for shift, at in zip(shifts, home, strict=True)]
        self._home, self._compass, self._price = home, compass, price
        self._firsts = [
            i for i, tone in enumerate(tones)
            if not i or tone.onset in starts or tone.onset > tones[i - 1].end or own[i] != own[i - 1]
        ]  # fmt: skip
        ends = [*self._firsts[1:], len(tones)]
        self._stops = ends
        self.labels = self._alone = [compass.shifts.index(own[first]) for first in self._firsts]
        self._local: list[list[float]] = [
            [sum(row) for row in zip(*(prices_of(tones[i], home[i], compass, None) for i in range(first, stop)), strict=True)]
            for first, stop in zip(self._firsts, ends, strict=True)
        ]
        self._ways = [
            [
                [change_price(tones[first - 1], tones[first], old, new, first_seam, compass) for old in compass.shifts]
                for new in compass.shifts
            ]
            for first in self._firsts[1:]
            for first_seam in [tones[first].onset in starts or tones[first].onset > tones[first - 1].end]
        ]
        self._links: dict[tuple[int, int], int] = {}
        self._differ: dict[tuple[int, int], int] = {}
        for a, b in pairs:
            x, y = self._part(a), self._part(b)
            if x != y and home[a] == home[b]:
                key = (min(x, y), max(x, y))
                self._links[key] = self._links.get(key, 0) + 1
        self._beside: list[list[tuple[int, int]]] = [[] for _ in self._firsts]
        for (x, y), count in self._links.items():
            self._beside[x].append((y, count))
            self._beside[y].append((x, count))

    def _part(self, index: int) -> int:
        return bisect_right(self._firsts, index) - 1

    def passages(self) -> list[tuple[int, ...]]:
        """Parts that are mostly the same passage, all its places together; the longest first."""
        root = list(range(len(self._firsts)))

        def top(part: int) -> int:
            while root[part] != part:
                part = root[part]
            return part

        sizes = [stop - first for first, stop in zip(self._firsts, self._stops, strict=True)]
        for (x, y), count in self._links.items():
            if 2 * count >= min(sizes[x], sizes[y]):
                root[top(x)] = top(y)
        found: dict[int, list[int]] = {}
        for part in range(len(root)):
            if self._beside[part]:
                found.setdefault(top(part), []).append(part)
        rows = [tuple(row) for row in found.values() if len(row) > 1]
        return sorted(rows, key=lambda row: (-sum(sizes[part] for part in row), row))

    def cost(self, labels: Sequence[int]) -> float:
        """What the whole line costs so."""
        total = sum((self._local[part][label] for part, label in enumerate(labels)), 0.0)
        total += sum(way[labels[part + 1]][labels[part]] for part, way in enumerate(self._ways))
        return total + self._price * sum(count for (x, y), count in self._links.items() if labels[x] != labels[y])

    def path(self, labels: Sequence[int], fixed: Mapping[int, int]) -> list[int]:
        """The cheapest labels with some parts fixed, twins judged by what they have or get."""
        now = [fixed.get(part, label) for part, label in enumerate(labels)]
        states = range(len(self._compass.shifts))
        best: list[float] = []
        back: list[list[int]] = []
        for part, own in enumerate(self._local):
            row = list(own)
            for other, count in self._beside[part]:
                for state in states:
                    row[state] += self._price * count * (state != now[other])
            for state in states:
                if state != fixed.get(part, state) or state < self._alone[part]:
                    row[state] = float("inf")
            if part:
                ways = [[so_far + step for so_far, step in zip(best, into, strict=True)] for into in self._ways[part - 1]]
                arrive = [min(states, key=way.__getitem__) for way in ways]
                best = [way[old] + cost for way, old, cost in zip(ways, arrive, row, strict=True)]
                back.append(arrive)
            else:
                best = row
        state = min(states, key=best.__getitem__)
        found = [state]
        for arrive in reversed(back):
            state = arrive[state]
            found.append(state)
        return found[::-1]

    def shifts(self, labels: Sequence[int]) -> tuple[int, ...]:
        """The shift of each tone."""
        out = list(self._home)
        for first, stop, label in zip(self._firsts, self._stops, labels, strict=True):
            for i in range(first, stop):
                out[i] += self._compass.shifts[label]
        return tuple(out)


def told_again(
    ledger: Ledger,
    tones: Sequence[Tone],
    alone: Sequence[int],
    shifts: Sequence[int],
    home: Sequence[int],
    pairs: Sequence[tuple[int, int]],
    bars: Sequence[Bar],
    price: float,
) -> frozenset[int]:
    """One decision for each stretch that lies elsewhere than it would by itself (``alone``); the positions of all such tones."""
    starts = [bar.start for bar in bars]
    twin = {a: b for a, b in pairs if shifts[a] == shifts[b]} | {b: a for a, b in pairs if shifts[a] == shifts[b]}
    moved = [i for i in range(len(tones)) if alone[i] != shifts[i]]
    for _, group in groupby(enumerate(moved), key=lambda item: (item[1] - item[0], alone[item[1]], shifts[item[1]])):
        row = [index for _, index in group]
        first, last = (bars[bisect_right(starts, tones[i].onset) - 1] for i in (row[0], row[-1]))
        others = sorted({bisect_right(starts, tones[twin[i]].onset) - 1 for i in row if i in twin})
        if not others:
            as_in = "as in the passage that it goes on from"
        else:
            near = [place for place in others if place - others[0] < last.index - first.index + 1]
            as_in = f"as in {bars_named(bars[near[0]], bars[near[-1]]).replace('Bar', 'bar')}"
        ledger.add(
            Decision(
                id="",
                kind="octave",
                bars=(first.index, last.index),
                onset=tones[row[0]].onset,
                hand="right",
                weight="medium",
                certainty=0.7,
                sentence=(
                    f"{bars_named(first, last)}, right hand: the tune is played {_octave(shifts[row[0]] - home[row[0]])}, {as_in}, "
                    "because a passage that comes again is known by its octave."
                ),
                rule="placement.tune-octave",
                setting="placement.tune-octave.again",
                measured=float(sum(i in twin for i in row)),
                unit="notes",
                source_notes=tuple(name for i in row for name in tones[i].sources),
                rejected=(
                    Rejected(
                        _octave(alone[row[0]] - home[row[0]]),
                        f"a little easier by itself, but each note in another octave than its first time counts {price:g}",
                    ),
                ),
            )
        )
    return frozenset(moved)


def _octave(shift: int) -> str:
    if not shift:
        return "in the written octave"
    return f"{'an octave' if abs(shift) == 12 else 'two octaves'} {'higher' if shift > 0 else 'lower'}"
