"""A bar of the tune that asks for too much at once, without the ornamental notes that need a sign."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Collection, Sequence

from reduce.arrange.explain import and_list, bars_named
from reduce.arrange.line import Tone
from reduce.model.decision import Decision
from reduce.model.record import replace
from reduce.model.score import Bar

_SCALE = frozenset({0, 2, 4, 5, 7, 9, 11})  # of a major key, in semitones over its tonic
_STEP = 2  # semitones


def without_signed(
    tones: tuple[Tone, ...], bars: Sequence[Bar], places: Collection[int], resolution: int
) -> tuple[tuple[Tone, ...], tuple[Decision, ...]]:
    """The line without the passing and neighbour notes that the key signature does not give, in the bars (positions) of ``places``.

    Such a note is shorter than a beat and stands between two notes a step away.  The time of a neighbour goes to the note after it, that
    of a passing note to the one before.  Also one decision for each bar that loses any.
    """
    if not places:
        return tones, ()
    starts = [bar.start for bar in bars]
    kept: list[Tone] = []
    gone: dict[int, list[Tone]] = {}
    early: int | None = None
    for index, tone in enumerate(tones):
        if early is not None:
            tone, early = replace(tone, onset=early), None
        before = kept[-1] if kept else None
        after = tones[index + 1] if index + 1 < len(tones) else None
        place = max(0, bisect_right(starts, tone.onset) - 1)
        if place in places and before is not None and after is not None and _ornamental(before, tone, after, bars[place], resolution):
            gone.setdefault(place, []).append(tone)
            if before.midi == after.midi:
                early = tone.onset
            else:
                kept[-1] = replace(before, end=tone.end)
        else:
            kept.append(tone)
    return tuple(kept), tuple(_told(bars[place], lost) for place, lost in gone.items())


def _ornamental(before: Tone, tone: Tone, after: Tone, bar: Bar, resolution: int) -> bool:
    signed = (tone.midi - 7 * bar.key.fifths) % 12 not in _SCALE
    joined = before.end == tone.onset and tone.end == after.onset
    near = 0 < abs(tone.midi - before.midi) <= _STEP and 0 < abs(after.midi - tone.midi) <= _STEP
    return signed and joined and near and tone.duration < bar.meter.beat_ticks(resolution)


def _told(bar: Bar, lost: Sequence[Tone]) -> Decision:
    names = and_list(list(dict.fromkeys(tone.pitch.name for tone in lost)))
    which = f"{names}, a note beside the tune's own that needs a sign" if len(lost) == 1 else f"{names}, ornamental notes that need signs"
    return Decision(
        id=f"plain-{bar.index}",
        kind="rhythm",
        bars=(bar.index, bar.index),
        onset=lost[0].onset,
        hand="right",
        weight="medium",
        certainty=0.6,
        sentence=f"{bars_named(bar, bar)}: the tune goes without {which}, because the bar would have two things at the limit at once.",
        rule="easing.bar",
        setting="level.at-limit-per-bar",
        measured=float(len(lost)),
        unit="notes",
        source_notes=tuple(source for tone in lost for source in tone.sources),
    )
