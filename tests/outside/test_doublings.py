"""Who plays one line, against networkx (Hagberg, Schult and Swart, 2008): a line is a connected component of the doubling graph."""

from __future__ import annotations

import random

import numpy as np
import pytest

from reduce.analyse.distinct import distinct, ranked
from reduce.analyse.doublings import line_of

networkx = pytest.importorskip("networkx")


@pytest.mark.parametrize("seed", range(20))
def test_a_line_is_a_component_of_the_doubling_graph(seed: int) -> None:
    """On random graphs of doublings, sparse and dense, every player's line is the component that networkx finds."""
    chance, players = random.Random(seed), 1 + seed
    link = np.array([[chance.random() < 0.02 * (1 + seed % 5) for _ in range(players)] for _ in range(players)])
    graph = networkx.from_numpy_array(link | link.T)
    for player in range(players):
        assert networkx.node_connected_component(graph, player) == line_of(link, player)


@pytest.mark.parametrize("count", [0, 1, 2, 50])
def test_different_values(count: int) -> None:
    """As numpy's own functions for sorted arrays (Harris et al., 2020)."""
    chance = random.Random(count)
    values = np.array([chance.randrange(-9, 20) for _ in range(count)], dtype=np.int64)
    assert np.unique(values).tolist() == distinct(values).tolist()
    assert [part.tolist() for part in np.unique(values, return_inverse=True)] == [part.tolist() for part in ranked(values)]
