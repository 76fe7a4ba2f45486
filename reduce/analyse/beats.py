"""Beats, and the moments between them where the harmony may change."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Sequence

from reduce.analyse.tones import Tone
from reduce.model.score import Bar


def bar_at(bars: Sequence[Bar], tick: int) -> Bar:
    """The bar that sounds at a tick (the last one beyond the end)."""
    return bars[max(0, bisect_right(bars, tick, key=lambda bar: bar.start) - 1)]


def beats_of(bars: Iterable[Bar], resolution: int) -> list[tuple[int, int, int]]:
    """Every beat as (tick, strength, bar index); an upbeat bar counts from its end, a short bar as far as it goes."""
    beats: list[tuple[int, int, int]] = []
    for bar in bars:
        beat = bar.meter.beat_ticks(resolution)
        full = bar.meter.ticks(resolution)
        count = max(1, full // beat)
        groups: set[int] = set()
        if len(bar.meter.beats) > 1:
            at = 0
            for group in bar.meter.beats[:-1]:
                at += group
                groups.add(at)
        elif count % 2 == 0 and count > 2:
            groups.add(count // 2)
        skipped = full - bar.length if bar.pickup and bar.length < full else 0
        for index in range(-(-bar.length // beat) + 1 + count):
            tick = bar.start + index * beat - skipped
            if tick >= bar.end:
                break
            if tick < bar.start:
                continue
            beats.append((tick, 0 if index == 0 else 1 if index % count in groups else 2, bar.index))
        if not beats or beats[-1][2] != bar.index:
            beats.append((bar.start, 2, bar.index))
        elif skipped and (bar.length % beat):
            beats.append((bar.start, 3, bar.index))
    beats.sort()
    return beats


def points_of(tones: Sequence[Tone], bars: Sequence[Bar], resolution: int) -> dict[int, tuple[int, int]]:
    """Where the harmony may change, by tick: (strength, bar index).

    Strength 0 is a bar line, 1 the middle of a bar, 2 another beat; 3 is off the beat, at the half of a simple beat or the thirds of a
    dotted one, where two or more pitch classes are struck together and one of them is new.
    """
    points = {tick: (strength, bar) for tick, strength, bar in beats_of(bars, resolution)}
    struck: dict[int, int] = {}
    for tone in tones:
        struck[tone.onset] = struck.get(tone.onset, 0) | 1 << tone.midi % 12
    parts: dict[int, int] = {}
    for bar in bars:
        beat = bar.meter.beat_ticks(resolution)
        parts[bar.index] = beat // 3 if bar.meter.compound else beat // 2
    ticks = sorted(points)
    at = previous = 0
    for onset in sorted(struck):
        mask = struck[onset]
        if mask & (mask - 1) and mask & ~previous and onset not in points:
            while at + 1 < len(ticks) and ticks[at + 1] <= onset:
                at += 1
            bar_index = points[ticks[at]][1]
            part = parts[bar_index]
            if ticks[at] < onset and part and (onset - ticks[at]) % part == 0:
                points[onset] = (3, bar_index)
        previous = mask
    return points
