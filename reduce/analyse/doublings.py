"""Which players share one line: doublings in unison or at the octave, beat by beat and over a stretch."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from reduce.analyse.evidence import Evidence
from reduce.analyse.lines import Grid
from reduce.analyse.windows import window

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


_NEAR = 3  # rounds in which a line is gathered from the table: who plays with it, who with them, and a round that adds nobody


def shared(evidence: Evidence, grid: Grid, share: float) -> NDArray[np.bool_]:
    """[beat, a, b]: of the notes that the busier of two lines strikes in the bar around the beat, at least ``share`` are
    struck by both with one pitch class."""
    import numpy as np

    number = window(evidence.struck, grid.per_bar // 2, grid.per_bar // 2)
    busier = np.maximum(np.maximum(number[:, :, None], number[:, None, :]), 1)
    result: NDArray[np.bool_] = evidence.same >= share * busier
    return result


def apart(doubled: Any) -> NDArray[np.float32]:
    """[beat, a, b] 0 where two lines are apart, far below all values where they are one (doubled as in `shared`): for `best_other`."""
    import numpy as np

    found = np.where(doubled, np.float32(-100), np.float32(0))
    own = np.arange(doubled.shape[1])
    found[:, own, own] = -100
    return found


def best_other(value: Any, between: Any, least: float) -> NDArray[np.float32]:
    """[beat, stream] the greatest value among the lines that are not one with this.

    Args:
        value: [beat, stream], far above -100.
        between: by `apart`.
        least: where there is no other line, or none with more.
    """
    import numpy as np

    found: NDArray[np.float32] = np.full(value.shape, least, dtype=np.float32)
    for line, own in enumerate(value.T.astype(np.float32)):
        np.maximum(found, between[:, line] + own[:, None], out=found)
    return found


def line_of(link: Any, stream: int) -> frozenset[int]:
    """Everybody who shares a line with ``stream``: its component of the doubling graph (networkx, a fixed choice of the project).

    Args:
        link: [a, b] whether two streams double one another over the stretch.
        stream: where to start.
    """
    import numpy as np

    both = link | link.T
    line = both[stream] | (np.arange(len(both)) == stream)
    for _ in range(_NEAR):  # longer chains are rare, and networkx is slow to load
        wider = line | both[line].any(axis=0)
        if (wider == line).all():
            return frozenset(line.nonzero()[0].tolist())
        line = wider
    import networkx as nx

    graph: nx.Graph[int] = nx.Graph()
    graph.add_edges_from(zip(*(ends.tolist() for ends in both.nonzero()), strict=True))
    return frozenset(nx.node_connected_component(graph, stream))
