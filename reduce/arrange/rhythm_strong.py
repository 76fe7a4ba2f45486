"""The last resort for a bar of the tune that asks for too much at once: its notes on the strong beats alone."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping, Sequence

from reduce.arrange.line import Tone
from reduce.arrange.rhythm_values import stress
from reduce.model.record import replace
from reduce.model.score import Bar


def strong_beats(tones: tuple[Tone, ...], bars: Sequence[Bar], steps: Mapping[int, int], resolution: int) -> tuple[Tone, ...]:
    """The line with fewer notes in the bars (positions) that ``steps`` names.

    Step 2 keeps the first note and those on the bar line and the half bar, step 3 the first note alone; the others give their time to the
    note before.
    """
    if max(steps.values(), default=0) < 2:
        return tones
    starts = [bar.start for bar in bars]
    out: list[Tone] = []
    last = -1
    for tone in tones:
        place = max(0, bisect_right(starts, tone.onset) - 1)
        step = steps.get(place, 0)
        bar = bars[place]
        if step >= 2 and place == last and out[-1].end >= tone.onset:
            strong = stress(bar.meter, tone.onset - bar.start, resolution) >= 3
            if step >= 3 or not strong:
                out[-1] = replace(out[-1], end=max(out[-1].end, min(tone.end, bar.end)))
                continue
        out.append(tone)
        last = place
    return tuple(out)
