"""Spans become written notes: values tied at the beat, rests by the beat, tuplets from the ticks."""

from __future__ import annotations

from math import gcd

from reduce.model.score import Bar
from reduce.notate.metre import TYPES, WHOLE, beats_of, note_values, rest_values, value
from reduce.notate.style import Style
from reduce.notate.written import Span, Voice, Written


class Ruler:
    """Ticks of one resolution against 1024ths of a whole-note, for one bar.

    A short bar that begins the piece or ends a divided bar counts from the right, as a pick-up does.
    """

    def __init__(self, bar: Bar, resolution: int, from_right: bool) -> None:
        self.whole = 4 * resolution
        self.bar = bar
        full = bar.meter.ticks(resolution)
        self.offset = full - bar.length if from_right and bar.length < full else 0
        if (self.offset * WHOLE) % self.whole:
            self.offset = 0
        self.end = -(-(self.offset + bar.length) * WHOLE // self.whole)
        if self.end % (WHOLE // bar.meter.unit):  # a bar that ends beside the beats is read as the full bars that hold it
            self.end = -(-self.end // (full * WHOLE // self.whole)) * (full * WHOLE // self.whole)

    def plain(self, tick: int) -> bool:
        """Whether a moment lies on the grid of halves, quarters, eighths ..."""
        return (tick - self.bar.start) * WHOLE % self.whole == 0

    def place(self, tick: int) -> int:
        """The moment in 1024ths from where the full bar would begin."""
        return (tick - self.bar.start + self.offset) * WHOLE // self.whole

    def tick(self, place: int) -> int:
        """The tick of a place that lies on the grid of ticks."""
        return place * self.whole // WHOLE - self.offset + self.bar.start


def write_voice(voice: Voice, ruler: Ruler, style: Style) -> None:
    """Fill ``voice.written`` from its spans."""
    spans = voice.spans
    bar = ruler.bar
    if len(spans) == 1 and not spans[0].notes and not spans[0].graces and not ruler.offset:
        span = spans[0]
        voice.written = [Written(bar.start, bar.length, "", 0, hidden=span.hidden, whole_bar=True)]
        return
    voice.written = _values(spans, ruler, style)


def _values(spans: list[Span], ruler: Ruler, style: Style) -> list[Written]:
    """The spans as printed values, those that leave the grid in tuplets.

    What is left of a stretch that was cut at a beat waits its turn: a bar may hold thousands of them.
    """
    out: list[Written] = []
    waiting = [(spans, 0)]
    while waiting:
        here, at = waiting.pop()
        while at < len(here):
            if ruler.plain(here[at].start) and ruler.plain(here[at].end):
                out += _plain(here[at], ruler, style)
                at += 1
                continue
            stop = _close(here, at, ruler)
            head, tail = _cut(here[at:stop], ruler)
            if tail:
                out += _values(head, ruler, style)
                waiting += [(here, stop), (tail, 0)]
                break
            out += _tuplet(head, ruler)
            at = stop
    return out


def _plain(span: Span, ruler: Ruler, style: Style) -> list[Written]:
    """A span between two moments of the grid."""
    meter = ruler.bar.meter
    start, end = ruler.place(span.start), ruler.place(span.end)
    parts = note_values(meter, ruler.end, start, end, style.double_dots) if span.notes else rest_values(meter, ruler.end, start, end)
    found = []
    at = span.start
    for part in parts:
        ticks = part.length * ruler.whole // WHOLE
        found.append(Written(at, ticks, part.type, part.dots, span.notes, hidden=span.hidden))
        at += ticks
    found[0].graces = span.graces
    return found


def _beat_after(tick: int, ruler: Ruler) -> int:
    """The end of the felt beat in which ``tick`` lies; the bar's end where the beat falls between the ticks."""
    beats = beats_of(ruler.bar.meter)
    full = beats[-1]
    place = ruler.place(tick)
    inside = place % full
    end = place - inside + next(beat for beat in beats if beat > inside)
    return ruler.bar.end if end * ruler.whole % WHOLE else ruler.tick(end)


def _close(spans: list[Span], at: int, ruler: Ruler) -> int:
    """Index behind the last span of the tuplet that begins with ``spans[at]``.

    It ends at the first moment on the grid, or at the end of its beat where the same beat goes on off the grid.
    """
    start = spans[at].start
    stop = at + 1
    while stop < len(spans) and not ruler.plain(spans[stop - 1].end):
        stop += 1
    beat = _beat_after(start, ruler)
    end = spans[stop - 1].end
    if end < beat:
        further = stop
        while further < len(spans) and spans[further - 1].end < beat:
            further += 1
        off = any(not ruler.plain(span.end) for span in spans[stop:further])
        if spans[further - 1].end == beat and off:
            return further
    return stop


def _ratio(unit: int, whole: int) -> tuple[int, int, int]:
    """Tuplet for notes of ``unit`` ticks: (actual, normal, written length in 1024ths of the unit)."""
    shared = gcd(unit, whole)
    top, bottom = unit // shared, whole // shared
    odd = bottom
    while odd % 2 == 0:
        odd //= 2
    odd_top = top
    while odd_top % 2 == 0:
        odd_top //= 2
    normal = odd_top
    while normal * 2 < odd:
        normal *= 2
    actual = odd
    length, rest = divmod(unit * actual * WHOLE, normal * whole)
    while rest or length not in TYPES:  # shorter than a 1024th, or longer than a long: stretch the ratio
        if length < 1 or rest:
            actual *= 2
        else:
            normal *= 2
        length, rest = divmod(unit * actual * WHOLE, normal * whole)
    return actual, normal, length


def _unit(spans: list[Span]) -> tuple[int, int]:
    """The longest share, in ticks, that all spans are made of, and how many there are."""
    unit = 0
    for span in spans:
        unit = gcd(unit, span.end - span.start)
    return unit, (spans[-1].end - spans[0].start) // unit


def _cut(spans: list[Span], ruler: Ruler) -> tuple[list[Span], list[Span]]:
    """A stretch that leaves the grid, in two at the end of its first beat where no single tuplet explains it; else whole."""
    start, end = spans[0].start, spans[-1].end
    beat = _beat_after(start, ruler)
    if not start < beat < end or _one_tuplet(spans, *_unit(spans), ruler.whole):
        return spans, []
    left = [span for span in spans if span.start < beat]
    right = [span for span in spans if span.end > beat]
    if left[-1].end > beat:
        crossing = left[-1]
        left[-1] = Span(crossing.start, beat, crossing.notes, crossing.hidden, crossing.graces)
        right[0] = Span(beat, crossing.end, crossing.notes, crossing.hidden)
    return left, right


def _tuplet(spans: list[Span], ruler: Ruler) -> list[Written]:
    """Write a stretch that leaves the grid as one tuplet."""
    unit, count = _unit(spans)
    actual, normal, length = _ratio(unit, ruler.whole)
    if count == 2 * actual and all(span.end - span.start == unit for span in spans):
        actual, normal = 2 * actual, 2 * normal  # six in the time of four
    found = []
    for span in spans:
        at = span.start
        graces = span.graces
        for size in _pieces((span.end - span.start) // unit, length, bool(span.notes)):
            sign = value(size * length)
            assert sign is not None
            found.append(Written(at, size * unit, sign.type, sign.dots, span.notes, hidden=span.hidden, graces=graces))
            found[-1].ratio = (actual, normal, TYPES[length])
            graces = ()
            at += size * unit
    shown = any(not written.hidden for written in found)
    if shown and len(found) > 1:
        found[0].opens = found[-1].closes = True
    return found


def _one_tuplet(spans: list[Span], unit: int, count: int, whole: int) -> bool:
    """Whether notes that reach over a beat are a tuplet of their own: three, five or seven equal shares, one third perhaps divided."""
    odd = whole // gcd(unit, whole)
    while odd % 2 == 0:
        odd //= 2
    if count in (odd, 2 * odd) and odd > 3:
        return count <= 14
    edges = {span.start for span in spans}
    third, rest = divmod(spans[-1].end - spans[0].start, 3)
    thirds = {spans[0].start + third * k for k in range(3)}
    return odd == 3 and not rest and thirds <= edges and len(edges) <= 4


def _pieces(units: int, length: int, dotted: bool) -> list[int]:
    """Units of a tuplet as printable values, longest first."""
    found = []
    while units:
        size = next(n for n in range(units, 0, -1) if value(n * length, 1 if dotted else 0) is not None)
        found.append(size)
        units -= size
    return found
