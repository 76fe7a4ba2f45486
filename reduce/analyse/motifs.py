"""Short figures of the piece, and how each comes again."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from reduce.model.record import dataclass

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Grams:
    """Short figures of one kind: ``kind_of`` numbers equal figures alike (-1 = none starts here), ``length`` in notes."""

    name: str
    length: int
    kind_of: Ints


@dataclass(frozen=True, slots=True, kw_only=True)
class Events:
    """All notes of all lines, stream after stream, as flat arrays (``index`` = place in the stream's Line)."""

    stream: Ints
    beat: Ints
    onset: Ints
    end: Ints
    midi: Ints
    place: Ints  # diatonic
    size: Ints
    first: NDArray[np.bool_]  # first of its stream
    grams: tuple[Grams, ...]


def figures_of(stream: Any, place: Any, wait: Any) -> tuple[Grams, ...]:
    """Figures of a few notes: motif, theme and long (steps and rhythm), tune (steps only), rhythm (values only).

    Args:
        stream: of each note, stream after stream.
        place: staff place of each note.
        wait: ticks to the next onset of the stream.
    """
    import numpy as np

    n = len(stream)
    interval = np.append(place[1:] - place[:-1], 0).astype(np.int64)
    value = wait.astype(np.int64)
    out = []
    for name, length, parts in (("motif", 4, "ir"), ("theme", 6, "ir"), ("long", 10, "ir"), ("tune", 7, "i"), ("rhythm", 6, "r")):
        key = np.zeros(n, dtype=np.int64)
        dull = np.ones(n, dtype=bool)
        shape0 = interval
        for k in range(length - 1):
            shifted_i, shifted_v = np.roll(interval, -k), np.roll(value, -k)
            if "i" in parts:
                key = key * 1_000_003 + (shifted_i + 64)
            if "r" in parts:
                key = key * 998_244_353 + shifted_v
            dull &= shifted_i == shape0
        valid = np.zeros(n, dtype=bool)
        if n >= length:
            valid[: n - length + 1] = stream[: n - length + 1] == stream[length - 1 :]
        if name != "rhythm":
            valid &= ~dull  # repeated notes and plain scales are nobody's theme
        kinds = np.full(n, -1, dtype=np.int64)
        if valid.any():
            kinds[valid] = np.unique(key[valid], return_inverse=True)[1]
        out.append(Grams(name=name, length=length, kind_of=kinds))
    return tuple(out)


def recurrence(grams: Grams, stream: Any, beat: Any, count: int, bar: int) -> tuple[Any, Any, Any]:
    """For each note: how often its figure returns far away (log), how often near by in the same line (log), whether it is new."""
    import numpy as np

    n = len(stream)
    start = np.flatnonzero(grams.kind_of >= 0)
    far, near, new = np.zeros(n), np.zeros(n), np.zeros(n)
    if not len(start):
        return far, near, new
    kind, when, who = grams.kind_of[start], beat[start], stream[start]
    big = count + 64 * bar + 1000
    # doublings count once; everything is looked up in rising order, which is several times as quick
    unique, inverse = np.unique(kind * big + when, return_inverse=True)
    low = unique // big * big
    high = low + big - 1
    lowest = np.searchsorted(unique, low)
    total = np.searchsorted(unique, high) - lowest
    close = np.searchsorted(unique, np.minimum(unique + 4 * bar, high), "right") - np.searchsorted(
        unique, np.maximum(unique - 4 * bar, low)
    )
    earlier = np.searchsorted(unique, np.maximum(unique - bar, low)) - lowest
    streams = int(stream.max()) + 1
    mine = (kind * streams + who) * big + when
    order = np.argsort(mine, kind="stable")
    own = mine[order]
    low = own // big * big
    beside = np.empty(len(own), dtype=np.int64)
    beside[order] = (
        np.searchsorted(own, np.minimum(own + 2 * bar, low + big - 1), "right") - np.searchsorted(own, np.maximum(own - 2 * bar, low)) - 1
    )
    f, b, e = np.log1p(total - close)[inverse], np.log1p(beside), (earlier == 0).astype(float)[inverse]
    for k in range(grams.length):
        index = start + k
        far[index] = np.maximum(far[index], f)
        near[index] = np.maximum(near[index], b)
        new[index] = np.maximum(new[index], e)
    return far, near, new
