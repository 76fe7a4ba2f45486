"""The metre as a level reads it: 3/8 in quarters, alla breve as common time, a slow piece in doubled values.

A rewritten piece keeps its ticks, its bars and its sound; only the length of a written quarter-note changes.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from reduce.arrange.explain import and_list
from reduce.arrange.line import Tone
from reduce.arrange.parted_bars import parts_of
from reduce.arrange.rhythm_hook import opening_end
from reduce.model.decision import Decision, Rejected
from reduce.model.record import dataclass, replace
from reduce.model.rules import Rules
from reduce.model.score import Bar, Meter, Score
from reduce.model.texture import Phrase

COMMON = Meter((4,), 4)


@dataclass(frozen=True, slots=True)
class Load:
    """What is read in the tune: notes with flags, notes below the level's shortest value, ties over beats inside a bar."""

    flags: int
    too_short: int
    ties: int


def choose_meter(
    score: Score,
    rules: Rules,
    bars: Sequence[Bar],
    tune: Sequence[Tone],
    quarters: float,
    broad: int = 0,
    phrases: Sequence[Phrase] = (),
) -> tuple[Fraction, tuple[Decision, ...]]:
    """How every written value is scaled (2 = doubled, 1/2 = halved, 1 = as written), and a decision where the page changes.

    A metre that the level does not read is rewritten where a scaled one is read; a slow piece is doubled only where this leaves fewer
    notes too short for the level, in the whole tune or in the first of its ``phrases`` (by which the piece is known), adds no ties, and
    the new tempo stays inside it.  Where the tune would lose much of itself the piece
    is rather played slower.  ``quarters`` is the source's tempo.  ``broad``: doubled as wished, because so many notes of the tune would be
    lost otherwise.  Compound time that is not read, and bars of four that are doubled, have been parted before
    (:mod:`reduce.arrange.parted_bars`).
    """
    if not bars:
        return Fraction(1), ()
    level = rules.level
    known = level.meters
    meters = {bar.meter for bar in bars}
    before = load(bars, tune, rules, score.resolution, Fraction(1))
    theme = [tone for tone in tune if tone.onset < opening_end(tune, bars, phrases, rules)]
    if broad:
        twice = Fraction(2)
        return twice, (_told(bars, twice, before, load(bars, tune, rules, score.resolution, twice), rules, broad),)
    options = []
    for factor in (Fraction(2), Fraction(1, 2)):
        if not all(_scaled(meter, factor) for meter in meters) or (score.resolution / factor).denominator != 1:
            continue
        after = load(bars, tune, rules, score.resolution, factor)
        unread_before = sum(str(meter) not in known for meter in meters) if known else 0
        unread_after = sum(str(_scaled(meter, factor)) not in known for meter in meters) if known else 0
        share = level.tempo_max / (quarters * float(factor))
        slow, calm = share * rules.number("rhythm.values.tempo-share") >= 1, share >= rules.number("rhythm.values.theme-tempo")
        gain = max(_saved(bars, tones, rules, score.resolution, factor) for tones in (tune, theme))
        worth = slow and gain >= rules.number("rhythm.values.gain-share")
        kept = calm and gain >= rules.number("rhythm.values.theme-share")  # slower, but with all its notes
        enough = (worth or kept) and after.ties <= before.ties
        if (unread_after < unread_before and after.too_short <= before.too_short) or (enough and unread_after <= unread_before):
            options.append((after.too_short, after.ties, after.flags, factor, after))
    if options:
        chosen = min(options, key=lambda option: option[:3])
        return chosen[3], (_told(bars, chosen[3], before, chosen[4], rules),)
    if known and any(meter.beats == (2,) and meter.unit == 2 and str(meter) not in known for meter in meters) and "4/4" in known:
        return Fraction(1), (_common_time(bars, rules),)
    return Fraction(1), ()


def _saved(bars: Sequence[Bar], tones: Sequence[Tone], rules: Rules, resolution: int, factor: Fraction) -> float:
    """The share of the tones that are too short for the level as written and are not with every value scaled by ``factor``."""
    before, after = (load(bars, tones, rules, resolution, scale).too_short for scale in (Fraction(1), factor))
    return (before - after) / max(1, len(tones))


def rewritten(score: Score, factor: Fraction, known: Sequence[str]) -> Score:
    """The same score with every written value scaled, and alla breve as common time where the ``known`` metres (() = all) lack it.

    Ticks stay.
    """
    bars = []
    for bar in score.bars:
        meter = _scaled(bar.meter, factor) or bar.meter
        if known and str(meter) == "2/2" and "2/2" not in known and "4/4" in known:
            meter = COMMON
        bars.append(bar if meter == bar.meter else replace(bar, meter=meter, whole=None))
    if factor == 1:
        return replace(score, bars=tuple(bars))
    tempos = tuple(
        replace(
            tempo,
            quarters=tempo.quarters * float(factor) if tempo.quarters else None,
            unit="quarter" if tempo.dots else _note(tempo.unit, factor),
            dots=0,
        )
        for tempo in score.tempos
    )
    return replace(score, resolution=int(score.resolution / factor), bars=tuple(bars), tempos=tempos)


def load(bars: Sequence[Bar], tune: Sequence[Tone], rules: Rules, resolution: int, factor: Fraction) -> Load:
    """What the tune gives to read with every value scaled by ``factor``."""
    level = rules.level
    shortest = (
        level.shortest if level.sixteenths == "free" else max(Fraction(1, 2), Fraction(level.shortest))
    )  # elsewhere a theme's exception
    flags = too_short = ties = place = 0
    for tone in tune:
        length = Fraction(tone.duration, resolution) * factor
        flags += length < 1
        too_short += length < shortest
        while place + 1 < len(bars) and bars[place].end <= tone.onset:
            place += 1
        ties += length.numerator not in (1, 2, 3, 4, 6) or length.denominator not in (1, 2, 4, 8, 16, 3)
    return Load(flags, too_short, ties)


def _note(unit: str, factor: Fraction) -> str:
    """The note that a metronome mark counts after scaling: an eighth doubled and a half note halved are quarters; pupils count quarters."""
    return "quarter" if (unit, factor) in (("eighth", Fraction(2)), ("half", Fraction(1, 2))) else unit


def _scaled(meter: Meter, factor: Fraction) -> Meter | None:
    """The metre with its values scaled: 3/8 doubled is 3/4, 3/2 halved is 3/4, 2/4 doubled is 4/4 (two half notes are four quarters)."""
    if factor == 1:
        return meter
    if meter.compound or len(meter.beats) > 1 or (factor < 1 and meter.beats == (2,)):  # alla breve reads as common time
        return None
    unit = Fraction(meter.unit) / factor
    if unit.denominator != 1 or unit not in (2, 4, 8):
        return None
    if unit == 2 and meter.beats in ((2,), (1,)):
        return Meter((2 * meter.beats[0],), 4)
    return Meter(meter.beats, int(unit)) if unit >= 4 else None


def _told(bars: Sequence[Bar], factor: Fraction, before: Load, after: Load, rules: Rules, broad: int = 0) -> Decision:
    new = _scaled(bars[0].meter, factor)
    old, parts = in_the_score(bars)
    known = rules.level.meters
    instead = "" if str(new) == old else f" instead of {old}"
    how = "doubled" if factor > 1 else "halved"
    fault = "of the tune lost" if broad else "too short for the level"
    unread = bool(known) and old not in known
    fewer = f"{before.too_short} notes were too short for this level, now {after.too_short}"
    because = f"this level does not read {old}" if unread and not broad else fewer
    if broad:
        notes = f"{broad} notes" if broad > 1 else "a note"
        because = f"in the source's values {notes} of the tune would be lost"
    return Decision(
        id="rhythm-metre",
        kind="rhythm",
        bars=(bars[0].index, bars[-1].index),
        sentence=f"Written in {new}{instead},{parts} every value {how}, because {because}; notes with flags {before.flags} before, "
        f"{after.flags} now; ties {before.ties} before, {after.ties} now.",
        onset=bars[0].start,
        weight="big",
        rule="rhythm.broad" if broad else "rhythm.values",
        setting="rhythm.broad.share" if broad else "level.meters" if unread else "rhythm.values.gain-share",
        measured=float(broad or before.too_short),
        limit=0.0 if broad else float(after.too_short),
        unit="notes of the tune lost" if broad else "notes too short for the level",
        rejected=(Rejected(f"{old} as in the source", f"{before.flags} notes with flags, {broad or before.too_short} {fault}"),),
    )


def in_the_score(bars: Sequence[Bar]) -> tuple[str, str]:
    """The metre as the score has it, and in words what became of a bar that was parted."""
    meter = next((bar.whole or bar.meter for bar in bars if not bar.pickup), bars[0].meter)
    count = parts_of(bars)
    words = {2: "two", 3: "three", 4: "four"}.get(count, str(count))
    whole = next((place for place, bar in enumerate(bars) if not bar.pickup and not bar.parent), 0)
    numbers = [bar.number for bar in bars[whole : whole + count]]
    return str(meter), f" each bar as {words} ({and_list(numbers)})," if count > 1 else ""


def _common_time(bars: Sequence[Bar], rules: Rules) -> Decision:
    first = next(bar for bar in bars if str(bar.meter) == "2/2")
    return Decision(
        id="rhythm-metre",
        kind="rhythm",
        bars=(first.index, bars[-1].index),
        sentence="Written in 4/4 instead of 2/2 with the same values, because this level does not read 2/2; the pulse is felt in quarters.",
        onset=first.start,
        weight="medium",
        rule="rhythm.values",
        setting="level.meters",
    )
