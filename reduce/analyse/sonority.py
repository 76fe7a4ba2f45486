"""Who sounds with whom, moment by moment."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any


def pairs(pitch: Any, hit: Any, edges: Any) -> tuple[Any, Any, Any]:
    """Per beat and pair of lines: onsets struck together; with one pitch class; a third or sixth apart."""
    import numpy as np

    rows, streams = hit.shape
    busy = hit.sum(axis=1) > 1
    beat_of = np.searchsorted(edges, np.arange(rows), "right") - 1
    where = np.flatnonzero(busy)
    a, p = hit[where], pitch[where] % 12
    both = a[:, :, None] & a[:, None, :]
    apart = (p[:, :, None] - p[:, None, :]) % 12
    out = []
    which = beat_of[where]
    bounds = np.searchsorted(which, np.arange(len(edges)))
    for table in (both, both & (apart == 0), both & ((apart == 3) | (apart == 4) | (apart == 8) | (apart == 9))):
        total = np.concatenate([np.zeros((1, streams, streams), dtype=np.int32), np.cumsum(table, axis=0, dtype=np.int32)])
        upper = np.append(bounds[1:], len(where))
        out.append((total[upper] - total[bounds]).astype(np.float32))
    return out[0], out[1], out[2]


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
