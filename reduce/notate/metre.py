"""Metre as an engraver sees it: the tree of a bar, and note values that let the beat show through.

Lengths are counted in 1024ths of a whole-note (``WHOLE`` of them), the shortest value that MusicXML can name.
"""

from __future__ import annotations

import itertools
from functools import lru_cache

from reduce.model.record import dataclass
from reduce.model.score import Meter

WHOLE = 1024
TYPES = {
    4 * WHOLE: "long", 2 * WHOLE: "breve", 1024: "whole", 512: "half", 256: "quarter", 128: "eighth", 64: "16th",
    32: "32nd", 16: "64th", 8: "128th", 4: "256th", 2: "512th", 1: "1024th",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Value:
    """A printable note value: its length in 1024ths, its name and its dots."""

    length: int
    type: str
    dots: int


@lru_cache(maxsize=4096)
def value(length: int, dots: int = 1) -> Value | None:
    """The single note value of ``length`` 1024ths with at most ``dots`` dots, or None where it takes a tie."""
    for count in range(dots + 1):
        whole_part, rest = divmod(length << count, (2 << count) - 1)
        if not rest and whole_part in TYPES:
            return Value(length, TYPES[whole_part], count)
    return None


@dataclass(frozen=True, slots=True)
class Node:
    """A stretch of a bar and the stretches that it falls into (``cuts`` are the inner boundaries)."""

    start: int
    end: int
    cuts: tuple[int, ...]

    @property
    def parts(self) -> tuple[tuple[int, int], ...]:
        edges = (self.start, *self.cuts, self.end)
        return tuple(itertools.pairwise(edges))


def beat_groups(meter: Meter) -> tuple[tuple[int, ...], int]:
    """How the beats of a bar are grouped, and the length of one unit in 1024ths.

    (4, 4) falls into 2+2, 6/8 into 3+3, 5/4 into 3+2, 7/8 into 2+2+3 (common practice); a printed sum such as 2+3/8 is obeyed.
    """
    unit = WHOLE // meter.unit
    beats = sum(meter.beats)
    if len(meter.beats) > 1:
        return tuple(meter.beats), unit
    if beats > 3 and beats % 3 == 0:
        return (3,) * (beats // 3), unit
    if beats == 5:
        return (3, 2), unit
    if beats > 3 and beats % 2:
        return (2,) * ((beats - 3) // 2) + (3,), unit
    if beats > 3:
        return (2,) * (beats // 2), unit
    return (1,) * beats, unit


@lru_cache(maxsize=512)
def beats_of(meter: Meter) -> tuple[int, ...]:
    """The starts of the felt beats inside a full bar, in 1024ths (dotted beats in compound time), the bar's end included."""
    groups, unit = beat_groups(meter)
    compound = len(meter.beats) == 1 and meter.beats[0] > 3 and meter.beats[0] % 3 == 0
    uneven = meter.unit >= 8 and len(set(groups)) > 1
    steps = groups if compound or uneven else (1,) * sum(groups)
    edges = [0]
    for step in steps:
        edges.append(edges[-1] + step * unit)
    return tuple(edges)


@lru_cache(maxsize=4096)
def node(meter: Meter, start: int, end: int) -> Node:
    """The stretch ``start``..``end`` of a bar in ``meter`` (or of a bar that runs past it) with its natural cuts."""
    groups, unit = beat_groups(meter)
    full = sum(groups) * unit
    if end - start > full or start % full + (end - start) > full:  # a bar longer than its time signature
        return Node(start, end, tuple(range(start - start % full + full, end, full)))
    base = start - start % full
    edges = [base]
    for count in groups:
        edges.append(edges[-1] + count * unit)
    inside = tuple(edge for edge in edges if start < edge < end)
    if len(inside) == 1 or (len(inside) == 2 and end - start == full):
        return Node(start, end, inside)
    if inside:  # four groups and more: by halves where they are even
        middle = (start + end) // 2
        return Node(start, end, (middle,) if middle in inside else inside)
    beats = tuple(beat for beat in range(base, end, unit) if start < beat < end)
    if beats:
        return Node(start, end, beats)
    if (end - start) % 2 == 0:
        return Node(start, end, ((start + end) // 2,))
    return Node(start, end, ())


def _fits(here: Node, start: int, end: int, double_dots: bool) -> Value | None:
    """One value for a note that crosses a cut of ``here``, if the eye can still find the beat."""
    length = end - start
    parts = here.parts
    sizes = {b - a for a, b in parts}
    if start == here.start and end == here.end:
        return value(length)
    edges = {here.start, *here.cuts, here.end}
    if start in edges and end in edges:
        return value(length)
    if len(sizes) != 1:
        return None
    size = sizes.pop()
    if size & (size - 1):  # dotted beats: only whole ones may be joined
        return None
    half = size // 2
    on_half = not ((start - here.start) % half if half else 1) and not ((end - here.start) % half if half else 1)
    if len(parts) == 2:
        if on_half:
            return value(length)
        if double_dots and start == here.start and 8 * length == 7 * (here.end - here.start) and length < WHOLE:
            return value(length, 2)
        return None
    if on_half and (start in edges or length == size):
        return value(length)
    return None


@lru_cache(maxsize=16384)
def note_values(meter: Meter, bar: int, start: int, end: int, double_dots: bool) -> tuple[Value, ...]:
    """Split a note of a bar into values to be tied, so that the beat shows (Gould, *Behind Bars*, 2011, ch. 'Rhythm'; from memory).

    ``bar``: end of the bar, ``start`` and ``end`` of the note, all in 1024ths from where a full bar would begin.
    A note may cross the middle of a bar or beat only as a plain syncopation (short-long-short), from its beginning or up to its end.
    """
    return tuple(_notes(node(meter, 0, bar), meter, start, end, double_dots))


def _notes(here: Node, meter: Meter, start: int, end: int, double_dots: bool) -> list[Value]:
    found: list[Value] = []
    waiting = [(here, start, end)]  # the next one last; a stack of our own, as a bar may have a thousand beats
    while waiting:
        here, start, end = waiting.pop()
        inside = next(((a, b) for a, b in here.parts if a <= start and end <= b and (a, b) != (here.start, here.end)), None)
        if inside is not None:
            waiting.append((node(meter, *inside), start, end))
        elif (single := _fits(here, start, end, double_dots)) is not None:
            found.append(single)
        elif not here.cuts:
            found += _plain(end - start)
        else:
            crossed = [cut for cut in here.cuts if start < cut < end]
            edges = {here.start, here.end, *here.cuts}
            cut = here.cuts[0] if len(here.cuts) == 1 else crossed[0] if start not in edges else crossed[-1]
            waiting += [(here, cut, end), (here, start, cut)]
    return found


@lru_cache(maxsize=16384)
def rest_values(meter: Meter, bar: int, start: int, end: int) -> tuple[Value, ...]:
    """Split a silence into rests: each fills a beat or a group of beats, none is syncopated (common practice)."""
    return tuple(_rests(node(meter, 0, bar), meter, start, end))


def _rests(here: Node, meter: Meter, start: int, end: int) -> list[Value]:
    length = end - start
    whole_node = start == here.start and end == here.end
    dotted = meter.unit >= 8 or (sum(meter.beats) > 3 and sum(meter.beats) % 3 == 0)
    beat = len(here.cuts) == 2 and dotted and here.end - here.start == 3 * WHOLE // meter.unit
    if whole_node and (length & (length - 1) == 0 or beat or not here.cuts or len(here.cuts) == 1):
        single = value(length)
        if single is not None:
            return [single]
    if beat and start == here.start and end == here.cuts[1]:  # quarter rest on the first two eighths of a dotted beat
        return [Value(length, TYPES[length], 0)] if length in TYPES else _plain(length)
    if not here.cuts:
        return _plain(length)
    found: list[Value] = []
    for a, b in here.parts:
        low, high = max(a, start), min(b, end)
        if low < high:
            found += _rests(node(meter, a, b), meter, low, high)
    return found


def _plain(length: int) -> list[Value]:
    """Any length as a chain of undotted values, longest first."""
    found = []
    for size, name in TYPES.items():
        while length >= size:
            found.append(Value(size, name, 0))
            length -= size
    return found
