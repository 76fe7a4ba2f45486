"""Where a bar asks for too much to strike anything in the left hand, it holds on what it has, if that belongs to the harmony."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence

from reduce.arrange.desk import Desk
from reduce.arrange.line import Tone
from reduce.arrange.outline import Outline
from reduce.arrange.strands import Key
from reduce.model.record import replace
from reduce.model.score import Bar
from reduce.model.texture import Chord

SILENT = 5
"""The step of relief at which nothing is struck."""


def held_on(left: Sequence[Key], chords: Sequence[Chord], desk: Desk, tune: Outline, given: Sequence[Tone]) -> tuple[Key, ...]:
    """The left hand's keys, the last ones before a silent eased bar held into it as long as every chord there has them.

    All keys of a stroke or none, as a hand with one voice lets go of them together; for half a bar at least, below the tune, and not where
    the orchestra leaves the tune alone or the left hand has notes of it (``given``).
    """
    out = list(left)
    for place, step in sorted(desk.ease.items()):
        bar = desk.bars[place]
        if step != SILENT or (desk.motions and desk.motions[place].silent):
            continue
        touch = [at for at, key in enumerate(out) if key.end == bar.start]
        if not touch or any(key.onset < bar.end and key.end > bar.start for key in out):
            continue
        latest = min([bar.end, *(tone.onset for tone in given if tone.end > bar.start)])
        ends = {at: min(latest, _belongs(out[at].midi % 12, bar, chords)) for at in touch}
        until = min(ends.values())
        above = tune.during(bar.start, until)
        long = 2 * (until - bar.start) >= bar.length
        if long and above and max(out[at].midi for at in touch) < min(tone.midi for tone in above):
            for at in touch:
                out[at] = replace(out[at], end=until)
    return tuple(out)


def _belongs(pc: int, bar: Bar, chords: Sequence[Chord]) -> int:
    """Until when (tick) each harmony of a bar has a pitch class, from its beginning."""
    until = bar.start
    for chord in chords[max(0, bisect_left(chords, bar.start + 1, key=lambda chord: chord.end)) :]:
        if chord.start > until or until >= bar.end or pc not in chord.tones:
            break
        until = min(chord.end, bar.end)
    return until


def held(left: Sequence[Key], desk: Desk) -> frozenset[int]:
    """The silent eased bars (positions) in which the left hand holds on."""
    silent = [place for place, step in desk.ease.items() if step == SILENT]
    return frozenset(p for p in silent if any(key.hand == "left" and key.onset < desk.bars[p].start < key.end for key in left))
