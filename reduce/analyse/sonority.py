"""Who sounds with whom, moment by moment."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Any

from reduce.analyse.windows import between


def pairs(pitch: Any, hit: Any, edges: Any) -> tuple[Any, Any, Any]:
    """Per beat and pair of lines: onsets struck together; with one pitch class; a third or sixth apart.

    Args:
        pitch: [moment, line] MIDI number of what sounds.
        hit: [moment, line] whether it is struck there.
        edges: the first moment of each beat.
    """
    import numpy as np

    streams = hit.shape[1]
    where = np.flatnonzero(hit.sum(axis=1) > 1)
    struck = hit[where].astype(np.float32)
    moment, line = struck.nonzero()
    classes = np.zeros((len(where), 12, streams), dtype=np.float32)  # what is struck, by pitch class
    classes[moment, pitch[where[moment], line] % 12, line] = 1
    apart: Any = sum(np.roll(classes, -interval, axis=1) for interval in (3, 4, 8, 9))
    found = np.zeros((3, len(edges), streams, streams), dtype=np.float32)
    bounds = np.searchsorted(where, np.append(edges, len(hit))).tolist()
    for beat, (first, stop) in enumerate(pairwise(bounds)):
        if first < stop:
            now, own, other = struck[first:stop], classes[first:stop].reshape(-1, streams), apart[first:stop].reshape(-1, streams)
            np.matmul(now.T, now, out=found[0, beat])
            np.matmul(own.T, own, out=found[1, beat])
            np.matmul(own.T, other, out=found[2, beat])
    return found[0], found[1], found[2]


def partners(sums: Sequence[Any], struck: Any, height: Any, sound: Any, windows: Mapping[str, tuple[int, int]]) -> dict[str, Any]:
    """How each line goes with the others in the windows around each beat: doubled, in thirds, under or over one of its rhythm.

    Args:
        sums: running sums of what `pairs` counts.
        struck, height, sound: running sums of onsets, of pitch by time, of time, by line.
        windows: beats back and ahead, by name.

    Returns:
        Measurements 'name.window'.  The tables by pairs of lines are the largest there are, so that few live at a time.
    """
    import numpy as np

    found: dict[str, Any] = {}
    diagonal = np.arange(struck.shape[1])
    ones = np.ones(len(diagonal), dtype=np.float32)

    def counted(table: Any) -> Any:  # over the other lines; a product is several times as quick as a sum of truths
        return table.astype(np.float32, copy=False) @ ones

    for name, (back, ahead) in windows.items():
        number = between(struck, back, ahead)
        some = np.maximum(number, 1)
        level = between(height, back, ahead) / np.maximum(between(sound, back, ahead), 0.01)
        everyone, same, thirds = (between(table, back, ahead) for table in sums)
        for table in (everyone, same, thirds):
            table[:, diagonal, diagonal] = 0
        doubled = counted(same > 0.7 * some[:, :, None])
        in_thirds = counted(thirds > 0.5 * some[:, :, None])
        del thirds
        others = np.maximum((number > 0).sum(axis=1, keepdims=True) - 1 - doubled, 1)
        struck_with = counted(everyone - same) / some / others
        most = some * np.float32(0.7)
        with_me = everyone >= np.maximum(most[:, :, None], most[:, None, :])
        everyone *= np.float32(0.5)
        with_me &= same < np.maximum(everyone, np.float32(0.5), out=everyone)
        del everyone, same
        higher = level[:, None, :] > level[:, :, None]
        under, over = counted(with_me & higher), counted(with_me & ~higher)
        tables = {"doubled": doubled, "in-thirds": in_thirds, "struck-with": struck_with, "under": under, "over": over}
        found.update({f"{key}.{name}": table.astype(np.float32) for key, table in tables.items()})
    return found


def against_harmony(pitch: Any, hit: Any) -> tuple[Any, Any]:
    """Per moment and stream: whether its new note has a pitch class that others hold; whether nobody else sounds that class."""
    import numpy as np

    rows = len(pitch)
    classes = pitch % 12 + 12 * np.arange(rows)[:, None]
    sounding = pitch > 0
    held = np.bincount(classes[sounding & ~hit], minlength=12 * rows)
    heard = np.bincount(classes[sounding], minlength=12 * rows)
    new = hit & sounding
    return (new & (held[classes] > 0)).astype(np.int16), (new & (heard[classes] == 1)).astype(np.int16)


def room_above(pitch: Any) -> Any:
    """Semitones to the next higher sounding note (24 at most, and for the highest)."""
    import numpy as np

    order = np.argsort(pitch, axis=1, kind="stable")
    ranked = np.take_along_axis(pitch, order, axis=1).astype(np.int32)
    above = np.full(ranked.shape, 999, dtype=np.int32)
    for k in range(ranked.shape[1] - 2, -1, -1):
        above[:, k] = np.where(ranked[:, k + 1] > ranked[:, k], ranked[:, k + 1], above[:, k + 1])
    gap = np.minimum(above - ranked, 24)
    out = np.empty_like(gap)
    np.put_along_axis(out, order, gap, axis=1)
    return out


def mates(playing: Any, desks: Sequence[str]) -> Any:
    """How many other players of the same kind play in the window."""
    import numpy as np

    kind = np.array([[a == b and i != j for j, b in enumerate(desks)] for i, a in enumerate(desks)], dtype=np.float32)
    return playing.astype(np.float32) @ kind.T
