"""Bars that come again note for note, in any key and by whatever players, have the tune in the same notes."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Sequence
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from reduce.analyse.breaths import Breaths
from reduce.analyse.lines import Grid, Line
from reduce.analyse.path import NOBODY, Costs, best_path
from reduce.model.record import dataclass
from reduce.model.score import Score

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

_BOUND = 1e3  # worth that no other path makes good
_HELD = -1  # in place of the onset of what is held over from the bar before

Edge = tuple[tuple[int, int, int], ...]  # what the top of one stream sounds in one beat: onset, end, key above the lowest of the bar
Led = Edge | int | None  # the leader's, ``NOBODY``, or None where the places have nothing in common


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
        breathing: where phrases of the lines begin and end.
        moments: a stretch in which something is struck at fewer proves nothing.

    Returns:
        The leader of each beat, and for each beat that another place has drawn over the bar (index) from which.
    """
    path = best_path(worth, doubled, 0.0, costs, breathing)
    found, lows = restated(score, moments)
    edges = _Edges(score, lines, grid, lows)
    passing = _prices(doubled, costs, breathing)
    bound = worth.copy()
    drawn: dict[int, int] = {}
    for stretch in found:
        places = [edges.beats(place, stretch.bars) for place in stretch.places]
        ways = _common([[edges.led(beat, int(path[beat])) for beat in place] for place in places], places, edges)
        best = 0
        if any(way != ways[0] for way in ways):
            values = [sum(_value(_led(way, place, edges, path, worth), place, path, worth, passing) for place in places) for way in ways]
            best = max(range(len(ways)), key=lambda p: (values[p], -p))
        for place, own in zip(places, ways, strict=True):
            for at, (beat, edge) in enumerate(zip(place, ways[best], strict=True)):
                model = places[best][at]
                who, same = edges.players(beat, edge), int(path[model])
                bound[beat, [same] if same in who else who] += _BOUND
                bound[beat] -= _BOUND * (edge == NOBODY)
                if own[at] != edge:
                    drawn[beat] = grid.bars[model]
    return (best_path(bound, doubled, 0.0, costs, breathing) if drawn else path), drawn


def _common(ways: list[list[Led]], places: Sequence[Sequence[int]], edges: _Edges) -> list[list[Led]]:
    """The ways with only what every place has: where the players divide the notes otherwise, another way's are taken."""
    beats = list(zip(*places, strict=True))
    had = [[edge == NOBODY or all(edges.players(beat, edge) for beat in beats[at]) for at, edge in enumerate(way)] for way in ways]
    rest = [next((way[at] for way, has in zip(ways, had, strict=True) if has[at]), None) for at in range(len(beats))]
    return [[edge if has else other for edge, has, other in zip(*row, rest, strict=True)] for row in zip(ways, had, strict=True)]


def _led(way: Sequence[Led], place: Sequence[int], edges: _Edges, path: Any, worth: Any) -> list[int]:
    """Who would lead each beat of a place that goes this way: he that led just before if he can, else he that is worth most."""
    led: list[int] = []
    before = int(path[place[0] - 1]) if place[0] else NOBODY
    for beat, edge in zip(place, way, strict=True):
        who = edges.players(beat, edge)
        if who and before not in who:
            before = max(who, key=lambda stream: float(worth[beat, stream]))
        elif not who:
            before = NOBODY if edge == NOBODY else int(path[beat])
        led.append(before)
    return led


def _value(led: Sequence[int], place: Sequence[int], path: Any, worth: Any, passing: Callable[[int, int, int], float]) -> float:
    """What these leaders are worth in a place, the price of passing the tune from one to the next and at both ends deducted."""
    gained = sum(float(worth[beat, stream]) for beat, stream in zip(place, led, strict=True) if stream != NOBODY)
    first, after = place[0], place[-1] + 1
    around = [*path[max(0, first - 1) : first].tolist(), *led, *path[after : after + 1].tolist()]
    return gained - sum(passing(old, new, at) for at, (old, new) in enumerate(pairwise(around), max(1, first)))


def _prices(doubled: Any, costs: Costs, breathing: Breaths) -> Callable[[int, int, int], float]:
    """What it costs to pass the tune from one stream to another at a beat, as on the best path."""

    def passing(old: int, new: int, beat: int) -> float:
        if old == new:
            return 0.0
        breathes = (old != NOBODY and breathing.ends[beat, old]) or (new != NOBODY and breathing.begins[beat, new])
        if NOBODY in (old, new):
            return costs.silence * (1.0 if breathes else costs.inside)
        if doubled[beat, old, new] or doubled[beat - 1, old, new]:
            return costs.doubling
        return costs.change * (1.0 if breathes else costs.inside)

    return passing


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
