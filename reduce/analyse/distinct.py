"""The different values of a row of whole numbers.

The library's own function for this loads its masked arrays first, which takes longer than all our uses of it.
"""

from __future__ import annotations

from typing import Any


def distinct(values: Any) -> Any:
    """Each value once, in order."""
    import numpy as np

    ordered = np.sort(values)
    return ordered[_first(ordered)]


def ranked(values: Any) -> tuple[Any, Any]:
    """Each value once, in order, and for every value its place there."""
    import numpy as np

    order = np.argsort(values)
    ordered = values[order]
    first = _first(ordered)
    place = np.empty(len(values), dtype=np.int64)
    place[order] = np.cumsum(first) - 1
    return ordered[first], place


def _first(ordered: Any) -> Any:
    import numpy as np

    first = np.ones(len(ordered), dtype=bool)
    np.not_equal(ordered[1:], ordered[:-1], out=first[1:])
    return first
