"""Which note values, and where in the bar, a level reads.

Every test here answers with a reason in a musician's words, or with ``""`` where nothing stands against it.  Times are ticks; places
count from the start of a full bar.
"""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache

from reduce.model.level import Level
from reduce.model.record import dataclass
from reduce.model.score import Meter

_NAMES = {
    Fraction(8): "double whole",
    Fraction(6): "dotted whole",
    Fraction(4): "whole",
    Fraction(3): "dotted half",
    Fraction(2): "half",
    Fraction(3, 2): "dotted quarter",
    Fraction(1): "quarter",
    Fraction(3, 4): "dotted eighth",
    Fraction(1, 2): "eighth",
    Fraction(3, 8): "dotted sixteenth",
    Fraction(1, 4): "sixteenth",
    Fraction(1, 8): "thirty-second",
    Fraction(1, 16): "sixty-fourth",
    Fraction(4, 3): "triplet half",
    Fraction(2, 3): "triplet quarter",
    Fraction(1, 3): "triplet eighth",
    Fraction(1, 6): "triplet sixteenth",
}


@dataclass(frozen=True, slots=True)
class Vocabulary:
    """What a level reads at a tempo, in ticks: built once a run, asked often."""

    resolution: int
    values: frozenset[int]  # single note values
    shortest: int
    pairs: bool  # eighths only as a pair on one beat
    syncopation: str
    triplets: bool
    anything: bool  # no limit at all
    grid: int  # finest binary place


def vocabulary(level: Level, resolution: int, quarters: float, hook: bool = False, leeway: float = 1.3) -> Vocabulary:
    """The values of ``level`` at ``quarters`` a minute; ``hook`` lets the theme's own sixteenths in where the level has "hook".

    A value is left out where notes of it would pass the level's notes a second for one hand by more than ``leeway``.
    """
    shortest = Fraction(level.shortest)
    sixteenths = level.sixteenths == "free" or (level.sixteenths == "hook" and hook)
    if hook and level.sixteenths == "hook":
        shortest = min(shortest, Fraction(1, 4))
    lengths = [Fraction(8), Fraction(6), Fraction(4), Fraction(3), Fraction(2), Fraction(1)]
    if level.eighths != "never":
        lengths.append(Fraction(1, 2))
    if level.eighths == "free":
        lengths.append(Fraction(3, 2))
    if sixteenths or shortest < Fraction(1, 4):
        lengths.append(Fraction(1, 4))
    if (level.dotted_eighth or (hook and level.sixteenths == "hook")) and Fraction(1, 4) in lengths:
        lengths.append(Fraction(3, 4))
    if shortest <= Fraction(1, 8):
        lengths += [Fraction(1, 8), Fraction(3, 8)]
    if level.triplets:
        lengths += [Fraction(1, 3), Fraction(2, 3), Fraction(4, 3)]
        if Fraction(1, 4) in lengths and shortest < Fraction(1, 4):
            lengths.append(Fraction(1, 6))
    fastest = Fraction(quarters / 60 / (level.notes_per_second_one * leeway)).limit_denominator(1000) if quarters > 0 else Fraction(0)
    floor = min(fastest, Fraction(1))
    kept = [length for length in lengths if length >= floor or length >= 1]
    binary = [length for length in kept if length.denominator in (1, 2, 4, 8, 16) and length.numerator in (1, 2, 4, 8)]
    ticks = frozenset(int(length * resolution) for length in kept if (length * resolution).denominator == 1)
    return Vocabulary(
        resolution,
        ticks,
        min(ticks),
        level.eighths == "pairs",
        level.syncopation,
        level.triplets and Fraction(1, 3) in kept,
        shortest == 0,
        int(min(binary) * resolution) or 1,
    )


@lru_cache(maxsize=4096)
def stress(meter: Meter, place: int, resolution: int) -> int:
    """How strong a place of the bar is: 4 bar line, 3 half bar, 2 beat, 1 half or third of a beat, 0 between."""
    beat = meter.beat_ticks(resolution)
    if place == 0:
        return 4
    if place % beat:
        part = beat // 3 if meter.compound else beat // 2
        return 1 if part and place % part == 0 else 0
    beats = meter.ticks(resolution) // beat
    return 3 if beats % 2 == 0 and place // beat * 2 == beats else 2


@lru_cache(maxsize=65536)
def refused(words: Vocabulary, meter: Meter, start: int, end: int, rest: bool = False) -> str:
    """Why a note (or ``rest``) from ``start`` to ``end``, places of one bar, is not for this level, or ``""``.

    A rest is written beat by beat, so only its ragged edges count.
    """
    if words.anything:
        return ""
    if rest:
        beat = meter.beat_ticks(words.resolution)
        first, last = start + -start % beat, end - end % beat
        if first < end and last > start and (start % beat or end % beat):
            head = refused(words, meter, start, first) if first > start else ""
            return head or (refused(words, meter, last, end) if end > last else "")
        if first <= last:
            return ""
    length, beat, quarter = end - start, meter.beat_ticks(words.resolution), words.resolution
    small = quarter // 2 if meter.unit >= 8 and quarter % 2 == 0 else 0
    known = length in words.values or (small and length in (small, quarter, 3 * small, beat * 2))
    if not known:
        if length < words.grid:
            return f"the shortest value of this level is the {value_name(words.grid, quarter)}"
        filled = (start == 0 and end == meter.ticks(words.resolution)) or (meter.compound and start % beat == 0 and length % small == 0)
        if not filled and (words.syncopation == "never" or not _tied(words, start, end, beat)):
            return f"a {value_name(length, quarter)} is not yet read at this level"
    triplet = 32 * start % quarter != 0 or 32 * length % quarter != 0
    if not triplet and start % words.grid:
        return f"the shortest value of this level is the {value_name(words.grid, quarter)}"
    if triplet and not meter.compound:
        third = beat // 3
        if not words.triplets:
            return "triplets are not yet read at this level"
        if not third or start % third or (start // beat != (end - 1) // beat and length % beat):
            return "a triplet stays inside its beat"
        return ""
    if words.pairs and meter.unit < 8 and beat == quarter and (start % beat or end % beat) and start // beat != (end - 1) // beat:
        return "eighths come only as a pair on one beat"
    return _syncopated(words, meter, start, end, beat)


def _tied(words: Vocabulary, start: int, end: int, beat: int) -> bool:
    """Whether two values of the level, tied over a beat, make the length."""
    first = -start % beat or beat
    return any(cut - start in words.values and end - cut in words.values for cut in range(start + first, end, beat))


def _syncopated(words: Vocabulary, meter: Meter, start: int, end: int, beat: int) -> str:
    if words.syncopation == "free":
        return ""
    own = stress(meter, start, words.resolution)
    half = beat // 3 if meter.compound else beat // 2
    step = half or beat
    crossed = max((stress(meter, place, words.resolution) for place in range(start - start % step + step, end, step)), default=0)
    if crossed <= own:
        return ""
    if words.syncopation == "simple" and (start % beat == 0 or (start % step == 0 and end - start <= beat)):
        return ""
    return "syncopation is not for this level" if words.syncopation == "never" else "only simple syncopation is for this level"


@lru_cache(maxsize=1024)
def value_name(ticks: int, resolution: int) -> str:
    """The name of a note value: "dotted quarter"; odd lengths in quarters."""
    length = Fraction(ticks, resolution)
    if length in _NAMES:
        return _NAMES[length]
    whole, part = divmod(length, 1)
    fraction = _PARTS.get(part, f" and {part} ")
    return f"note of {whole if whole else ''}{fraction} quarters"


def spoken(lengths: tuple[int, ...], resolution: int) -> str:
    """A short rhythm in words: "dotted eighth and sixteenth", "four sixteenths"; negative lengths are rests."""
    runs: list[tuple[int, int]] = []
    for length in lengths:
        if runs and runs[-1][0] == length:
            runs[-1] = (length, runs[-1][1] + 1)
        else:
            runs.append((length, 1))
    words = []
    for length, count in runs:
        name = value_name(abs(length), resolution)
        if length < 0:
            name = name.replace("note of", "rest of") if name.startswith("note of") else f"{name} rest"
        words.append(name if count == 1 else f"{_COUNTS.get(count, str(count))} {name.replace('half', 'halve')}s")
    if len(words) > 4:
        return f"the run of {len(lengths)} notes"
    return words[0] if len(words) == 1 else ", ".join(words[:-1]) + " and " + words[-1]


_PARTS = {Fraction(0): "", Fraction(1, 2): "½", Fraction(1, 4): "¼", Fraction(3, 4): "¾", Fraction(1, 3): "⅓", Fraction(2, 3): "⅔"}
_COUNTS = {2: "two", 3: "three", 4: "four", 5: "five", 6: "six", 7: "seven", 8: "eight"}
