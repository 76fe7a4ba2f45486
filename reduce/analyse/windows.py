"""Sums over the beats around each beat."""

from __future__ import annotations

from typing import Any


def running(table: Any, kind: str = "float64") -> Any:
    """Sums of the rows before each row; one row more than the table."""
    import numpy as np

    total = np.zeros((len(table) + 1, *table.shape[1:]), dtype=kind)
    np.cumsum(table, axis=0, dtype=kind, out=total[1:])
    return total


def between(total: Any, before: int, after: int) -> Any:
    """From running sums: sums over ``before`` beats back to ``after`` beats ahead of each row (clipped at the ends of the piece)."""
    import numpy as np

    count = len(total) - 1
    out = np.empty((count, *total.shape[1:]), dtype=total.dtype)
    full = min(max(count - after, 0), count)  # rows whose end lies inside the piece
    out[:full] = total[after + 1 : after + 1 + full]
    out[full:] = total[count]
    if before < 0:
        out -= total[-before : count - before]
    else:
        out[before:] -= total[: max(count - before, 0)]
    return out.astype(np.float32, copy=False)


def window(table: Any, before: int, after: int) -> Any:
    """Sums over ``before`` beats back to ``after`` beats ahead of each row (clipped at the ends of the piece)."""
    return between(running(table), before, after)
