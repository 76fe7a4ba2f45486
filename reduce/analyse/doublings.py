"""Which players share one line: doublings in unison or at the octave, beat by beat and over a stretch."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from reduce.analyse.evidence import Evidence, window
from reduce.analyse.lines import Grid

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


def shared(evidence: Evidence, grid: Grid, share: float) -> NDArray[np.bool_]:
    """[beat, a, b]: of the notes that the busier of two lines strikes in the bar around the beat, at least ``share`` are
    struck by both with one pitch class."""
    import numpy as np

    number = window(evidence.struck, grid.per_bar // 2, grid.per_bar // 2)
    busier = np.maximum(np.maximum(number[:, :, None], number[:, None, :]), 1)
    result: NDArray[np.bool_] = evidence.same >= share * busier
    return result


def groups(link: Any) -> list[frozenset[int]]:
    """The real lines of a stretch: connected components of the doubling graph.

    Args:
        link: [a, b] whether two streams double one another.
    """
    waiting = set(range(len(link)))
    found = []
    while waiting:
        edge = [waiting.pop()]
        group = set(edge)
        while edge:
            stream = edge.pop()
            near = {other for other in waiting if link[stream][other]}
            waiting -= near
            group |= near
            edge.extend(near)
        found.append(frozenset(group))
    return sorted(found, key=min)
