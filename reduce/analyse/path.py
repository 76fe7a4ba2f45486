"""The best way through the whole movement: which line leads in each beat."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from reduce.analyse.breaths import Breaths
from reduce.model.record import dataclass

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

NOBODY = -1


@dataclass(frozen=True, slots=True, kw_only=True)
class Costs:
    """What a change of leader costs, in log-odds: to another line, between two players of one line, to and from 'no tune'.

    ``inside`` is how many times as much it costs where neither the old leader nor the new one breathes.
    """

    change: float
    doubling: float
    silence: float
    inside: float = 1.0


def best_path(worth: Any, doubled: Any, nobody: float, costs: Costs, breathing: Breaths) -> NDArray[np.int64]:
    """The leader of each beat (a column of ``worth``, or -1 for nobody) on the path of the greatest worth.

    Args:
        worth: [beat, stream] log-odds that the stream leads.
        doubled: [beat, a, b] whether two streams are one line there; passing the lead between them costs little.
        nobody: worth of a beat in which nobody leads.
        costs: of the changes.
        breathing: where phrases of the lines begin and end.
    """
    import numpy as np

    beats, streams = worth.shape
    if not beats or not streams:
        return np.full(beats, NOBODY, dtype=np.int64)
    back = np.zeros((beats, streams + 1), dtype=np.int64)
    value = np.append(worth[0], nobody)
    own = np.arange(streams + 1)
    entering = np.where(breathing.begins, 1.0, costs.inside)
    leaving = np.where(breathing.ends, 1.0, costs.inside)
    links = doubled[1:] | doubled[:-1]
    linked = links.any(axis=(1, 2))
    for t in range(1, beats):
        new = value.copy()
        origin = own.copy()
        players = value[:streams]
        best = int(players.argmax())
        change = value[best] - costs.change * entering[t]
        better = new[:streams] < change
        new[:streams][better], origin[:streams][better] = change[better], best
        done = np.where(breathing.ends[t], players, -np.inf)
        best = int(done.argmax())
        handed = done[best] - costs.change
        better = new[:streams] < handed
        new[:streams][better], origin[:streams][better] = handed, best
        start = value[streams] - costs.silence * entering[t]
        better = new[:streams] < start
        new[:streams][better], origin[:streams][better] = start[better], streams
        stop = players - costs.silence * leaving[t]
        best = int(stop.argmax())
        if new[streams] < stop[best]:
            new[streams], origin[streams] = stop[best], best
        if linked[t - 1]:
            passed = np.where(links[t - 1], value[:streams, None] - costs.doubling, -np.inf)
            giver = passed.argmax(axis=0)
            gift = passed[giver, own[:streams]]
            better = new[:streams] < gift
            new[:streams][better], origin[:streams][better] = gift[better], giver[better]
        new[:streams] += worth[t]
        new[streams] += nobody
        value, back[t] = new, origin
    path = np.empty(beats, dtype=np.int64)
    state = int(value.argmax())
    for t in range(beats - 1, -1, -1):
        path[t] = state
        state = int(back[t, state])
    path[path == streams] = NOBODY
    return path
