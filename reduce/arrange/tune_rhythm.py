"""An accompaniment in the tune's own rhythm: where the whole orchestra moves together, so do the two hands."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Collection, Mapping, Sequence
from itertools import groupby, pairwise

from reduce.arrange.line import Tone
from reduce.arrange.own_motion import Motion
from reduce.model.rules import Rules
from reduce.model.score import Bar

FIGURE = "tune-rhythm"
KIND = "together"  # what the orchestra does there
_RULE = "accompaniment.tune-rhythm"

Stroke = tuple[int, int]  # from, to (ticks)


def in_its_rhythm(
    own: Sequence[Motion], bars: Sequence[Bar], tune: Sequence[Tone], rules: Rules, resolution: int, quarters: float
) -> dict[int, tuple[Stroke, ...]]:
    """The bars (position) that may be accompanied in the tune's rhythm, with the strokes of the left hand there.

    For so many ``bars`` in a row the orchestra's accompaniment strikes with the tune and never against it, in chords; at least half of
    those bars have a rhythm, not an even pulse.  The left hand strikes with the tune as the draft has it, but no note that is too quick
    or too short for the level; a bar in which it would have less than a ``share`` of the tune's rhythm ends the row.

    Args:
        own: what the orchestra's accompaniment does in each bar.
        bars: of the draft.
        tune: as the draft has it.
        rules: for the level and the settings.
        resolution: ticks a quarter-note.
        quarters: the tempo, quarters a minute.
    """
    share, least = rules.number(f"{_RULE}.share"), rules.whole(f"{_RULE}.bars")
    found: dict[int, tuple[Stroke, ...]] = {}
    for together, run in groupby(range(len(own)), key=lambda place: _together(own[place], share)):
        row = list(run)
        if together and len(row) >= least and 2 * sum(_uneven(own[place], bars[place]) for place in row) >= len(row):
            found |= {place: strokes(bars[place], tune, rules, resolution, quarters, own[place].moments) for place in row}
    able = {place for place, touches in found.items() if len(touches) >= share * len(_sung(bars[place], tune)) > 0}
    rows = [list(run) for can, run in groupby(range(len(own)), key=able.__contains__) if can]
    return {place: found[place] for row in rows if len(row) >= least for place in row}


def _together(own: Motion, share: float) -> bool:
    """Whether a bar's accompaniment, in two voices or more, strikes only with the tune and with most of it."""
    return own.voices > 1 and bool(own.moments) and own.moments <= own.sung and len(own.moments) >= share * len(own.sung)


def _uneven(own: Motion, bar: Bar) -> bool:
    """Whether the strokes of a bar are not all equally far apart, from bar line to bar line."""
    ticks = sorted({bar.start, *own.moments, bar.end})
    return len({after - before for before, after in pairwise(ticks)}) > 1


def _sung(bar: Bar, tune: Sequence[Tone]) -> Sequence[Tone]:
    low = bisect_left(tune, bar.start, key=lambda tone: tone.onset)
    return tune[low : bisect_left(tune, bar.end, key=lambda tone: tone.onset)]


def strokes(
    bar: Bar, tune: Sequence[Tone], rules: Rules, resolution: int, quarters: float, moments: Collection[int] | None = None
) -> tuple[Stroke, ...]:
    """The left hand's strokes in a bar: the tune's (at ``moments``, where they are given), those on beats before what lies between.

    A value shorter than an eighth is struck beside a longer one, as in a dotted figure, but not two in a row.
    """
    level = rules.level
    quickest = level.notes_per_second_one * rules.number("accompaniment.pace.one-hand-share")
    apart = quarters * resolution / 60 / quickest
    if level.eighths != "free":
        apart = max(apart, resolution)
    beat = bar.meter.beat_ticks(resolution)
    sung: Mapping[int, int] = {tone.onset: min(tone.end, bar.end) for tone in _sung(bar, tune) if moments is None or tone.onset in moments}
    kept: list[int] = []
    onsets = sorted(sung)
    quick = [after - onset < resolution // 2 for onset, after in zip(onsets, [*onsets[1:], bar.end], strict=True)]
    amid = {onset for onset, before, after in zip(onsets, [False, *quick], quick, strict=False) if before and after}
    for onset in sorted(sung.keys() - amid, key=lambda tick: ((tick - bar.start) % beat != 0, tick)):
        if all(abs(onset - other) >= apart for other in kept):
            kept.append(onset)
    kept.sort()
    return tuple((onset, min(sung[onset], after)) for onset, after in zip(kept, [*kept[1:], bar.end], strict=True))
