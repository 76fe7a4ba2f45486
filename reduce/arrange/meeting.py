"""Root and fifth in turn: the fifth comes with a note of the tune, so that the hands strike together or take turns."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from itertools import pairwise

from reduce.arrange.figures import Strike
from reduce.arrange.line import Tone, bar_at
from reduce.model.record import replace
from reduce.model.score import Bar


def met(strikes: Sequence[Strike], bars: Sequence[Bar], tune: Sequence[Tone], resolution: int) -> tuple[Strike, ...]:
    """The strikes, the fifth that follows a root moved to the nearest beat on which the tune strikes.

    It stays where the tune strikes with it or rests, and where the tune strikes on no beat after the root.  ``resolution``: ticks
    a quarter.
    """
    row = list(strikes)
    lefts = [place for place, strike in enumerate(row) if strike.hand == "left"]
    for before, after in pairwise(lefts):
        root, fifth = row[before], row[after]
        if (root.kind, fifth.kind) != ("bass", "fifth") or root.chord != fifth.chord or root.end != fifth.onset:
            continue
        bar = bar_at(bars, fifth.onset)
        beat = bar.meter.beat_ticks(resolution)
        low = max(0, bisect_left(tune, root.onset, key=lambda tone: tone.onset) - 1)
        sung = tune[low : bisect_left(tune, fifth.end, key=lambda tone: tone.onset)]
        held = any(tone.onset < fifth.onset < tone.end for tone in sung)
        beats = [tone.onset for tone in sung if tone.onset > root.onset and (tone.onset - bar.start) % beat == 0]
        if held and beats:
            at = min(beats, key=lambda tick: (abs(tick - fifth.onset), -tick))
            row[before], row[after] = replace(root, end=at), replace(fifth, onset=at)
    return tuple(sorted(row, key=lambda strike: (strike.onset, strike.hand)))
