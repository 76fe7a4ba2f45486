"""Bars parted for who reads only simple time, or no short values: each bar of 6/8, or of 4/4, is written as two short ones.

The three eighths of a beat, or the half of a bar of four, become a bar of their own, which :mod:`reduce.arrange.rhythm_meter` then writes
in doubled values.  Ticks and sound stay; only bar lines are added.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence

from reduce.model.decision import Decision
from reduce.model.record import replace
from reduce.model.score import Bar, Meter, Score, parent_number

_AT_FIRST = ("segno", "coda")  # these stand at the beginning of a bar, all other jumps at its end


def parted(score: Score, heard: Sequence[Decision], meters: Sequence[str], *, halves: bool = False) -> tuple[Score, tuple[Decision, ...]]:
    """The score with its compound bars parted where only ``meters`` (() = all) are read; and what was heard by the new bars.

    A bar goes into the largest parts that are read, as they are or doubled: 12/8 into two of 6/8, or into four of 3/8; with ``halves`` a
    bar of four quarters also into two of two.  The first part keeps the number, the next are 5b, 5c, 5d.  Source: common practice of
    first-year books, which have no compound time.
    """
    bars: list[Bar] = []
    firsts: list[int] = []
    for bar in score.bars:
        firsts.append(len(bars))
        bars += _parts(bar, len(bars), (halves and _half(bar.meter)) or _part(bar.meter, meters), score.resolution)
    if len(bars) == len(score.bars):
        return score, tuple(heard)
    firsts.append(len(bars))
    starts = [bar.start for bar in bars]

    def place(onset: int) -> int:
        return max(0, bisect_right(starts, onset) - 1)

    changed = replace(
        score,
        bars=tuple(bars),
        notes=tuple(replace(note, bar=place(note.onset)) for note in score.notes),
        strokes=tuple(replace(stroke, bar=place(stroke.onset)) for stroke in score.strokes),
        marks=tuple(replace(mark, bar=place(mark.onset)) for mark in score.marks),
    )
    return changed, tuple(replace(told, bars=(firsts[told.bars[0]], firsts[told.bars[1] + 1] - 1)) for told in heard)


def _part(meter: Meter, meters: Sequence[str]) -> Meter | None:
    """The metre of the parts of a compound bar that is not read; None where it stays."""
    if not meters or not meter.compound or meter.unit != 8 or str(meter) in meters:
        return None
    for beats in (6, 3):
        read = f"{beats}/8" in meters or (beats == 3 and "3/4" in meters)
        if read and meter.beats[0] > beats and meter.beats[0] % beats == 0:
            return Meter((beats,), 8)
    return None


def _half(meter: Meter) -> Meter | None:
    """Half a bar of four quarters, or of alla breve; None for any other metre: three beats have no half."""
    return Meter((2,), 4) if (meter.beats, meter.unit) in (((4,), 4), ((2,), 2)) else None


def _parts(bar: Bar, index: int, meter: Meter | None, resolution: int) -> list[Bar]:
    """The parts of a bar from ``index`` on; a short first one where the bar is an upbeat, else a short last one."""
    size = meter.ticks(resolution) if meter is not None else 0
    if meter is None or bar.length <= size:
        return [replace(bar, index=index, meter=meter or bar.meter, whole=bar.meter if meter else None)]
    lengths = [size] * (bar.length // size)
    if bar.length % size:
        lengths.insert(0 if bar.pickup else len(lengths), bar.length % size)
    out: list[Bar] = []
    start, last = bar.start, len(lengths) - 1
    for place, length in enumerate(lengths):
        out.append(
            replace(
                bar,
                index=index + place,
                number=bar.number + ("" if not place else chr(ord("a") + place)),
                start=start,
                length=length,
                meter=meter,
                whole=bar.whole or bar.meter,
                pickup=bar.pickup and place == 0 and length < size,
                repeat_start=bar.repeat_start and place == 0,
                repeat_end=bar.repeat_end if place == last else 0,
                ending_start=bar.ending_start and place == 0,
                ending_stop=bar.ending_stop if place == last else "",
                barline=bar.barline if place == last else "",
                jumps=tuple(jump for jump in bar.jumps if (place == 0 if jump in _AT_FIRST else place == last)),
            )
        )
        start += length
    return out


def known_number(numbers: Sequence[str], number: str) -> str:
    """A printed number that these bars have: 5 where 5b is asked for and no bar is parted; "" where there is none."""
    return number if number in numbers else (parent if (parent := parent_number(number)) in numbers else "")


def last_part(numbers: Sequence[str], number: str) -> int:
    """The index of the last bar that is printed with a number, or with the number of one of its parts: 5d for 5."""
    last = len(numbers) - 1 - numbers[::-1].index(number)
    while last + 1 < len(numbers) and parent_number(numbers[last + 1]) == number:
        last += 1
    return last


def parts_of(bars: Sequence[Bar]) -> int:
    """How many parts the first whole bar has become; 1 where it is as in the score."""
    whole = next((place for place, bar in enumerate(bars) if not bar.pickup), 0)
    count = 1
    while whole + count < len(bars) and bars[whole + count].parent == bars[whole].number:
        count += 1
    return count
