"""Where each line breathes: the moments at which the tune may change hands without breaking a phrase."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from reduce.analyse.lines import Grid
from reduce.analyse.motifs import Events
from reduce.model.record import dataclass
from reduce.model.rules import Rules

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Breaths:
    """Tables [beat, stream]: ``begins`` where a phrase of the line begins in the beat, ``ends`` where one has ended before it
    (the next note of the line begins a new phrase, or none follows)."""

    begins: NDArray[np.bool_]
    ends: NDArray[np.bool_]


def breaths(events: Events, grid: Grid, streams: int, rules: Rules) -> Breaths:
    """The breaths of every line: a rest, or a long note after shorter ones (the settings of ``melody.breath``).

    Args:
        events: the notes of all lines, stream after stream.
        grid: the felt beats.
        streams: how many lines there are.
        rules: for the lengths, in beats.
    """
    import numpy as np

    starts = np.array(grid.starts, dtype=np.int64)
    beat = np.maximum(np.diff(starts), 1)[events.beat]
    rest = np.append(0, events.onset[1:] - events.end[:-1]) / beat
    long = np.append(0, events.end[:-1] - events.onset[:-1]) / beat  # of the note before
    longer = long >= rules.number("melody.breath.longer") * np.append(0, long[:-1])
    fresh = events.first | (rest >= rules.number("melody.breath.rest")) | ((long >= rules.number("melody.breath.long")) & longer)
    begins = np.zeros((len(grid.bars), streams), dtype=bool)
    begins[events.beat[fresh], events.stream[fresh]] = True
    return Breaths(begins=begins, ends=_followed_by(fresh, events, starts[:-1], streams))


def _followed_by(fresh: Any, events: Events, starts: Any, streams: int) -> Any:
    """[beat, stream] whether the first note at or after the beat's start is fresh, or there is none."""
    import numpy as np

    span = int(max(events.onset.max(), starts[-1])) + 1
    keys = events.stream * span + events.onset
    place = np.searchsorted(keys, np.arange(streams) * span + starts[:, None])
    last = np.minimum(place, len(keys) - 1)
    none = (place == len(keys)) | (events.stream[last] != np.arange(streams))
    return none | fresh[last]
