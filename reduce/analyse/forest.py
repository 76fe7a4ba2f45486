"""Boosted decision trees as plain data: read once, asked fast.

A tree asks yes/no questions of the measurements ('does it lie highest for more than 0.6 of the bar?'); the answers of all
trees add up to log-odds.  The trees are evaluated question by question over all rows at once: every question that is
answered with 'more' rules out the leaves on its other side (the bit-mask method of Lucchese et al., SIGIR 2015).
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import reduce
from reduce.model.record import dataclass

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Forest:
    """``trees``: for each tree the questions (feature, threshold, bits of the leaves that 'more' rules out) and the leaf values
    from left to right; at most 16 leaves a tree.  ``base`` is the log-odds before any question."""

    features: tuple[str, ...]
    base: float
    trees: tuple[tuple[tuple[tuple[int, float, int], ...], tuple[float, ...]], ...]


def parsed(data: Mapping[str, Any]) -> Forest:
    """A forest from its data: nested lists ``[feature, threshold, left, right]`` with numbers as leaves.

    Args:
        data: ``features`` (names), ``base`` and ``trees``.
    """
    trees = []
    for tree in data["trees"]:
        questions: list[tuple[int, float, int]] = []
        leaves: list[float] = []
        _walk(tree, questions, leaves)
        trees.append((tuple(questions), tuple(leaves)))
    return Forest(features=tuple(data["features"]), base=float(data["base"]), trees=tuple(trees))


def _walk(tree: Any, questions: list[tuple[int, float, int]], leaves: list[float]) -> None:
    """Number the leaves from left to right and give each question the bits of the leaves on its left side."""
    if not isinstance(tree, list):
        leaves.append(float(tree))
        return
    feature, threshold, left, right = tree
    low = len(leaves)
    _walk(left, questions, leaves)
    high = len(leaves)
    if high > 16:
        raise ValueError("a tree has more than 16 leaves")
    questions.append((int(feature), float(threshold), ((1 << high) - 1) ^ ((1 << low) - 1)))
    _walk(right, questions, leaves)


@cache
def shipped(name: str) -> dict[str, Any]:
    """The contents of ``rules/NAME.json``: inside the installed package, or beside it in a checkout.  Read once a run."""
    package = Path(reduce.__file__).resolve().parent
    for folder in (package / "rules", package.parent / "rules"):
        path = folder / f"{name}.json"
        if path.is_file():
            found: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
            return found
    raise FileNotFoundError(f"rules/{name}.json is missing from the installation")


def log_odds(forest: Forest, columns: Sequence[Any]) -> NDArray[np.float64]:
    """The sum of the leaves that each row falls into.

    Args:
        forest: the trees.
        columns: one array of float32 a feature, in the order of ``forest.features``, all of one length.
    """
    import numpy as np

    rows = len(columns[0]) if columns else 0
    total = np.full(rows, forest.base)
    sets = np.arange(1 << 16, dtype=np.int32)
    first_open = np.frexp(((sets + 1) & ~sets).astype(np.float32))[1] - 1  # adding 1 to the closed bits carries to the first open leaf
    leaf = np.empty(rows, dtype=first_open.dtype)
    arrays = [np.ascontiguousarray(column, dtype=np.float32) for column in columns]
    more = np.empty(rows, dtype=bool)
    bits = np.empty(rows, dtype=np.uint16)
    closed = np.empty(rows, dtype=np.uint16)
    for questions, leaves in forest.trees:
        closed.fill(0)
        for feature, threshold, left in questions:
            np.greater(arrays[feature], np.float32(threshold), out=more)
            np.multiply(more, np.uint16(left), out=bits)  # a masked operation would take twenty times as long
            np.bitwise_or(closed, bits, out=closed)
        np.take(first_open, closed, out=leaf, mode="clip")
        total += np.array(leaves).take(leaf, mode="clip")
    return total
