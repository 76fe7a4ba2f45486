"""A trained ear as plain data: measurements in, log-odds of leading out.

A small network (Rumelhart, Hinton and Williams, Nature 1986): every layer weighs what the one before heard, and what stays below
zero is not heard.  Each measurement is first held inside the range in which the ear was trained, so that an unusual score
cannot carry it away.
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
class Ear:
    """``low`` and ``high`` bound each measurement of ``features``; ``layers`` are pairs of weights [from, to] and offsets [to]."""

    features: tuple[str, ...]
    low: NDArray[np.float32]
    high: NDArray[np.float32]
    layers: tuple[tuple[NDArray[np.float32], NDArray[np.float32]], ...]


def trained(data: Mapping[str, Any]) -> Ear:
    """An ear from its data: ``features`` (names), ``low``, ``high``, and ``layers`` of ``weights`` and ``offsets``."""
    import numpy as np

    return Ear(
        features=tuple(data["features"]),
        low=np.array(data["low"], dtype=np.float32),
        high=np.array(data["high"], dtype=np.float32),
        layers=tuple(
            (np.array(layer["weights"], dtype=np.float32), np.array(layer["offsets"], dtype=np.float32)) for layer in data["layers"]
        ),
    )


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


def log_odds(ear: Ear, columns: Sequence[Any]) -> NDArray[np.float64]:
    """What the ear says of each row.

    Args:
        ear: the trained weights.
        columns: one array a feature, in the order of ``ear.features``, all of one length.
    """
    import numpy as np

    table = np.concatenate(columns, dtype=np.float32).reshape(len(columns), -1)
    heard = np.ascontiguousarray(np.clip(table, ear.low[:, None], ear.high[:, None], out=table).T)
    *inner, (weights, offsets) = ear.layers
    for inner_weights, inner_offsets in inner:
        heard = np.maximum(heard @ inner_weights + inner_offsets, 0)
    return (heard @ weights + offsets)[:, 0].astype(np.float64)
