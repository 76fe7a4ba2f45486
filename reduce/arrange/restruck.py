"""Keys that come out of the fold again and again, sooner than a hand repeats them: struck once a beat."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby, pairwise

from reduce.arrange.desk import Desk
from reduce.arrange.fold import Inner
from reduce.arrange.line import bar_at
from reduce.model.record import replace


def restruck(inner: Sequence[Inner], desk: Desk) -> tuple[Inner, ...]:
    """The chords with every beat in which the left hand would strike nothing but the same keys again too soon fused into one.

    Two players in turn repeat for ever; where the fold leaves one key of both, one hand would have to hammer it.  Too soon is sooner than
    ``voicing.pace.repeat`` of the level.  A beat in which the keys change keeps its rhythm.
    """
    repeat = desk.rules.numbers("voicing.pace.repeat")[desk.rules.level.order - 1]

    def beat(chord: Inner) -> tuple[int, int]:
        bar = bar_at(desk.bars, chord.onset)
        return bar.index, (chord.onset - bar.start) // bar.meter.beat_ticks(desk.score.resolution)

    out = [chord for chord in inner if chord.hand != "left"]
    for _, row in groupby((chord for chord in inner if chord.hand == "left"), key=beat):
        cell = list(row)
        alike = all(chord.keys == cell[0].keys for chord in cell)
        quick = any(after.onset - chord.onset < repeat * desk.pace(chord.onset) for chord, after in pairwise(cell))
        gapless = all(after.onset <= chord.end for chord, after in pairwise(cell))
        out.extend([replace(cell[0], end=max(chord.end for chord in cell))] if alike and quick and gapless else cell)
    return tuple(sorted(out, key=lambda chord: (chord.hand == "right", chord.onset)))
