"""From one broken chord to the next: its last note leads over to the next bass, so that the hand need not leap from its top."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise

from reduce.arrange.strands import Key
from reduce.model.record import replace


def joined(keys: Sequence[Key], choices: Mapping[int, tuple[int, ...]], most: int) -> tuple[Key, ...]:
    """The left hand's keys with the last note of a broken chord nearer to what follows, where it lies more than ``most`` semitones off.

    Args:
        keys: in order; single ones and chords.
        choices: for the onset (ticks) of each note of a broken chord, the keys (MIDI) that the hand has there.
        most: the level's widest step in one hand, semitones; 0 = any.

    Returns:
        The same keys; a note is changed for the one of its chord that lies highest within reach of the next, unless that one has just been
        played.
    """
    if not most:
        return tuple(keys)
    out = list(keys)
    alone = {key.onset: 0 for key in keys}
    for key in keys:
        alone[key.onset] += 1
    for place, (last, following) in enumerate(pairwise(keys)):
        if alone[last.onset] > 1 or alone[following.onset] > 1 or last.end != following.onset or abs(last.midi - following.midi) <= most:
            continue
        before = out[place - 1].midi if place else -1
        near = [key for key in choices.get(last.onset, ()) if abs(key - following.midi) <= most and key not in (before, following.midi)]
        if near:
            out[place] = replace(last, midi=max(near))
    return tuple(out)
