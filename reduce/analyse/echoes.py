"""Parallel places hear one another: a figure that led, or was led over, elsewhere in the movement does so here more likely."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from reduce.analyse.doublings import apart, best_other
from reduce.analyse.evidence import Evidence
from reduce.analyse.lines import Grid
from reduce.analyse.motifs import Grams
from reduce.analyse.windows import window
from reduce.model.rules import Rules

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

_FIGURES = ("theme", "tune")  # with their rhythm, and in any rhythm
_FARTHEST = 6.0  # log-odds that one place may tell another


def echoed(evidence: Evidence, grid: Grid, odds: Any, doubled: Any, rules: Rules) -> NDArray[np.float64]:
    """[beat, stream] log-odds of leading, each drawn towards how its figures fare elsewhere (``melody.parallel-places``).

    How a line fares is how far it is ahead of its best rival, or behind it: a pattern that elsewhere lies under another tune is
    held back here, one that led elsewhere is brought forward.

    Args:
        evidence: for the figures and who sounds.
        grid: the felt beats.
        odds: [beat, stream] log-odds of leading, -9 where the stream is silent.
        doubled: [beat, a, b] who shares a line with whom; lines that are one are no rivals, and one hearing.
        rules: for the share and the limit.
    """
    import numpy as np

    ahead = np.maximum(odds - best_other(odds, apart(doubled), -9.0), -_FARTHEST)
    near = rules.number("melody.parallel-places.near") * grid.per_bar
    told, heard = np.zeros(odds.shape), np.zeros(odds.shape)
    for grams in evidence.events.grams:
        if grams.name in _FIGURES:
            total, weight = _elsewhere(grams, evidence, np.minimum(ahead, _FARTHEST), int(near))
            told += window(total, grid.per_bar // 2, grid.per_bar // 2)
            heard += window(weight, grid.per_bar // 2, grid.per_bar // 2)
    most = rules.number("melody.parallel-places.most")
    towards = (told / np.maximum(heard, 1e-6) - ahead) * (1 - np.exp(-heard))
    drawn: NDArray[np.float64] = odds + rules.number("melody.parallel-places.share") * np.clip(towards, -most, most)
    return np.where(evidence.active, drawn, odds)


def _elsewhere(grams: Grams, evidence: Evidence, ahead: Any, near: int) -> tuple[Any, Any]:
    """Sums [beat, stream] over the figures that start there: weight times how each fares farther off than ``near`` beats, and the
    weight itself (the logarithm of how often that is, and one more)."""
    import numpy as np

    events = evidence.events
    shape = evidence.active.shape
    start = np.flatnonzero(grams.kind_of >= 0)
    if not len(start):
        return np.zeros(shape), np.zeros(shape)
    span = shape[0] + 2 * near + 1  # so that no reach leads from one kind of figure into the next
    place, hearing = np.unique(grams.kind_of[start] * span + events.beat[start] + near, return_inverse=True)
    fares = np.full(len(place), -_FARTHEST)
    np.maximum.at(fares, hearing, ahead[events.beat[start], events.stream[start]])
    sums = np.concatenate([[0.0], np.cumsum(fares)])
    kind = place // span * span
    low, high = np.searchsorted(place, kind), np.searchsorted(place, kind + span)
    from_here, to_here = np.searchsorted(place, place - near), np.searchsorted(place, place + near, "right")
    count = (high - low) - (to_here - from_here)
    mean = (sums[high] - sums[low] - sums[to_here] + sums[from_here]) / np.maximum(count, 1)
    weight = np.log1p(count)
    cell = events.beat[start] * shape[1] + events.stream[start]
    total, heard = (np.bincount(cell, value[hearing], shape[0] * shape[1]).reshape(shape) for value in (weight * mean, weight))
    return total, heard
