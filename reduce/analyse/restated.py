"""Bars that come again note for note, in any key and by whatever players, have the tune in the same notes."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from reduce.analyse.breaths import Breaths
from reduce.analyse.lines import Grid, Line
from reduce.analyse.path import NOBODY, Costs, best_path, passing
from reduce.model.record import dataclass
from reduce.model.score import Score

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

_BOUND = 1e3  # worth that no other path makes good
_AROUND = 16  # beats on either side in which the path may still give way
_HELD = -1  # in place of the onset of what is held over from the bar before

Edge = tuple[tuple[int, int, int], ...]  # what the top of one stream sounds in one beat: onset, end, key above the lowest of the bar
Led = Edge | int | None  # the leader's, ``NOBODY``, or None where the places have nothing in common
Way = tuple[Led, ...]  # beat by beat


@dataclass(frozen=True, slots=True)
class Stretch:
    """``bars`` bars in a row that sound the same from each bar (index) of ``places`` on."""

    places: tuple[int, ...]
    bars: int


def agreeing_path(
    score: Score, lines: Sequence[Line], grid: Grid, worth: Any, doubled: Any, costs: Costs, breathing: Breaths, moments: int
) -> tuple[NDArray[np.int64], dict[int, int]]:
    """The best path on which restated bars agree who leads (``melody.restated-bars``): as in the place whose leaders are worth most in
    all of them together.

    Args:
        score: for what sounds in each bar.
        lines: the outline of each stream.
        grid: the felt beats.
        worth: [beat, stream] what the path gains there.
        doubled: [beat, a, b] who shares a line with whom.
        costs: of the changes.
        breathing: where phrases of the lines begin and end, and which changes tear the tune out of its octave.
        moments: a stretch in which something is struck at fewer proves nothing.

    Returns:
        The leader of each beat, and for each beat that another place has drawn over the bar (index) from which.
    """
    found, lows = restated(score, moments)
    edges = _Edges(score, lines, grid, lows)
    search = _Search(edges, worth, doubled, costs, breathing)
    path = search.path(worth)
    bound = worth.copy()
    drawn: dict[int, int] = {}
    for stretch in found:
        places = [edges.beats(place, stretch.bars) for place in stretch.places]
        ways = _common([[edges.led(beat, int(path[beat])) for beat in place] for place in places], places, edges)
        best = 0
        if any(way != ways[0] for way in ways):
            values = {way: sum(search.value(way, place, path) for place in places) for way in set(ways)}
            best = max(range(len(ways)), key=lambda p: (values[ways[p]], -p))
        for place, own in zip(places, ways, strict=True):
            search.bind(bound, place, ways[best], [int(path[beat]) for beat in places[best]])
            for beat, edge, other, model in zip(place, ways[best], own, places[best], strict=True):
                if other != edge:
                    drawn[beat] = grid.bars[model]
    return (search.path(bound) if drawn else path), drawn


def _common(ways: list[list[Led]], places: Sequence[Sequence[int]], edges: _Edges) -> list[Way]:
    """The ways with only what every place has: where the players divide the notes otherwise, another way's are taken."""
    beats = list(zip(*places, strict=True))
    had = [[edge == NOBODY or all(edges.players(beat, edge) for beat in beats[at]) for at, edge in enumerate(way)] for way in ways]
    rest = [next((way[at] for way, has in zip(ways, had, strict=True) if has[at]), None) for at in range(len(beats))]
    return [tuple(edge if has else other for edge, has, other in zip(*row, rest, strict=True)) for row in zip(ways, had, strict=True)]


@dataclass(frozen=True, slots=True)
class _Search:
    """The search for the best path, to be tried with places bound to one way."""

    edges: _Edges
    worth: Any
    doubled: Any
    costs: Costs
    breathing: Breaths

    def path(self, worth: Any, first: int = 0) -> NDArray[np.int64]:
        """The best path through beats from ``first`` on that are worth this."""
        stop = first + len(worth)
        return best_path(worth, self.doubled[first:stop], 0.0, self.costs, self.breathing.during(first, stop))

    def bind(self, worth: Any, place: Sequence[int], way: Way, models: Sequence[int], first: int = 0) -> None:
        """Change the worth of beats from ``first`` on so that a place goes this way, with the players of its model where they have it."""
        for beat, edge, model in zip(place, way, models, strict=True):
            who = self.edges.players(beat, edge)
            worth[beat - first, [model] if model in who else who] += _BOUND
            worth[beat - first] -= _BOUND * (edge == NOBODY)

    def value(self, way: Way, place: Sequence[int], path: Any) -> float:
        """What the best path through a place and some beats around it is worth that goes this way and comes from and to the given path."""
        first, stop = max(0, place[0] - _AROUND), min(len(path), place[-1] + 1 + _AROUND)
        tried = self.worth[first:stop].copy()
        self.bind(tried, place, way, [NOBODY - 1] * len(place), first)
        for end in {first, stop - 1} - {*place}:
            tried[end - first, slice(None) if path[end] == NOBODY else int(path[end])] += -_BOUND if path[end] == NOBODY else _BOUND
        led = self.path(tried, first).tolist()
        gained = sum(float(self.worth[beat, stream]) for beat, stream in enumerate(led, first) if stream != NOBODY)
        return gained - sum(self._price(old, new, beat) for beat, (old, new) in enumerate(pairwise(led), first + 1) if old != new)

    def _price(self, old: int, new: int, beat: int) -> float:
        """What it costs to pass the tune from one stream to another at a beat, as on the best path."""
        air = self.breathing
        if NOBODY not in (old, new):
            links = self.doubled[beat - 1 : beat] | self.doubled[beat : beat + 1]
            return float(passing(links, self.costs, air.during(beat - 1, beat + 1))[0, old, new])
        breathes = (old != NOBODY and air.ends[beat, old]) or (new != NOBODY and air.begins[beat, new])
        return self.costs.silence * (1.0 if breathes else self.costs.inside)


class _Edges:
    """The top of each stream in each beat of the bars that are asked for, written from the lowest key of its bar."""

    def __init__(self, score: Score, lines: Sequence[Line], grid: Grid, lows: Sequence[int]) -> None:
        self._score, self._lines, self._grid, self._lows = score, lines, grid, lows
        self._onsets = [[note.onset for note in line.notes] for line in lines]
        self._known: dict[int, list[Edge]] = {}

    def beats(self, first: int, count: int) -> range:
        """The beats of ``count`` bars from ``first`` (index) on."""
        bars = self._grid.bars
        return range(bisect_left(bars, first), bisect_left(bars, first + count))

    def led(self, beat: int, stream: int) -> Led:
        """What the leader of a beat sounds there."""
        return NOBODY if stream == NOBODY else self._at(beat)[stream]

    def players(self, beat: int, edge: Led) -> list[int]:
        """The streams whose top is this."""
        return [stream for stream, other in enumerate(self._at(beat)) if other == edge]

    def _at(self, beat: int) -> list[Edge]:
        known = self._known.get(beat)
        if known is None:
            bar = self._score.bars[self._grid.bars[beat]]
            start, end, low = self._grid.starts[beat], self._grid.starts[beat + 1], self._lows[bar.index]
            known = self._known[beat] = [
                self._edge(line, onsets, start, end, bar.start, low) for line, onsets in zip(self._lines, self._onsets, strict=True)
            ]
        return known

    @staticmethod
    def _edge(line: Line, onsets: Sequence[int], start: int, end: int, zero: int, low: int) -> Edge:
        at = bisect_left(onsets, start)
        stop = bisect_left(onsets, end, lo=at)
        held = at - 1 if at and line.ends[at - 1] > start else at
        return tuple(
            (max(line.notes[i].onset - zero, _HELD), min(line.ends[i], end) - zero, line.notes[i].midi - low) for i in range(held, stop)
        )


def restated(score: Score, moments: int) -> tuple[tuple[Stretch, ...], list[int]]:
    """Bars in a row that come again note for note at one distance, and the lowest key of every bar (0 where it is silent).

    Compared is all that is struck, whoever plays it, and how long it sounds in the bar: what is held on over the bar line is cut.
    A stretch with strokes at fewer than ``moments`` moments is left out: so little comes again by chance.
    """
    struck: list[set[tuple[int, int, int]]] = [set() for _ in score.bars]
    for note in score.notes:
        if note.kind == "struck" and note.duration > 0:
            bar = score.bars[note.bar]
            struck[note.bar].add((note.onset - bar.start, min(note.end, bar.end) - bar.start, note.midi))
    lows = [min((key for _, _, key in row), default=0) for row in struck]
    alike: dict[object, list[int]] = {}
    for bar, row, low in zip(score.bars, struck, lows, strict=True):
        if row:
            content = frozenset((onset, end, key - low) for onset, end, key in row)
            alike.setdefault((bar.length, bar.meter, content), []).append(bar.index)
    places = {same[0]: tuple(same) for same in alike.values() if len(same) > 1}
    stretches: list[Stretch] = []
    for first in sorted(places):
        last = stretches[-1] if stretches else None
        if last is not None and places[first] == tuple(place + last.bars for place in last.places):
            stretches[-1] = Stretch(last.places, last.bars + 1)
        else:
            stretches.append(Stretch(places[first], 1))
    strokes = [len({onset for onset, _, _ in row}) for row in struck]
    enough = tuple(each for each in stretches if sum(strokes[each.places[0] : each.places[0] + each.bars]) >= moments)
    return enough, lows
