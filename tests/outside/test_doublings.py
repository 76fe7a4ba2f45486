"""Who plays one line, and numbers told apart: against matrix powers and numpy's own functions (Harris et al., 2020, *Nature* 585)."""

from __future__ import annotations

import random

import numpy as np
import pytest

from reduce.analyse.distinct import distinct, ranked
from reduce.analyse.doublings import line_of


@pytest.mark.parametrize("seed", range(20))
def test_a_line_is_a_component_of_the_doubling_graph(seed: int) -> None:
    """On random graphs of doublings every player's line is whom some walk reaches: the powers of the matrix say it too."""
    chance, players = random.Random(seed), 1 + seed
    link = np.array([[chance.random() < 0.02 * (1 + seed % 5) for _ in range(players)] for _ in range(players)])
    steps = (link | link.T | np.eye(players, dtype=bool)).astype(float)
    reached = np.linalg.matrix_power(steps, players) > 0
    for player in range(players):
        assert frozenset(np.flatnonzero(reached[player]).tolist()) == line_of(link, player)


@pytest.mark.parametrize("count", [0, 1, 2, 50])
def test_different_values(count: int) -> None:
    """As numpy's own functions for sorted arrays (Harris et al., 2020)."""
    chance = random.Random(count)
    values = np.array([chance.randrange(-9, 20) for _ in range(count)], dtype=np.int64)
    assert np.unique(values).tolist() == distinct(values).tolist()
    assert [part.tolist() for part in np.unique(values, return_inverse=True)] == [part.tolist() for part in ranked(values)]
