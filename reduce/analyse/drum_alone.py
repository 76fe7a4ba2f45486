"""The drum that plays while everybody else is silent: for that long the tune is his."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from reduce.analyse.lines import Grid, Line

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


def alone(active: NDArray[np.bool_], lines: Sequence[Line], grid: Grid, desks: Sequence[str]) -> NDArray[np.bool_]:
    """[beat, stream] where a drum with a pitch sounds and nobody else does.

    A drum is evidence for the beat and no line of music (see `reduce.analyse.bass`), but what is heard by itself is listened to: the
    strokes between the chords of a scherzo, the roll before the horns come in.  ``active``: [beat, stream] where all others sound.
    """
    import numpy as np

    heard = np.zeros_like(active)
    for line, kind in zip(lines, desks, strict=True):
        if kind == "percussion":
            for note, end in zip(line.notes, line.ends, strict=True):
                heard[grid.at(note.onset) : grid.at(end - 1) + 1, line.stream] = True
    others = active.any(axis=1, keepdims=True)
    return np.logical_and(heard, ~others)
