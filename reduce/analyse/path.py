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

    ``inside`` is how many times as much it costs where neither the old leader nor the new one breathes; ``octave`` is the price
    between two players of one line in different octaves, unless the old one has ended a phrase and the new one begins one.
    """

    change: float
    doubling: float
    silence: float
    inside: float = 1.0
    octave: float = 0.0


def passing(links: Any, costs: Costs, breathing: Breaths) -> NDArray[np.float64]:
    """[beat, old, new] what it costs to pass the tune on, from the second beat on; ``links`` tells which streams are one line there."""
    import numpy as np

    prices = np.where(breathing.ends[1:, :, None] | breathing.begins[1:, None, :], costs.change, costs.change * costs.inside)
    prices[links] = costs.doubling
    torn = breathing.torn[1:]
    prices[torn] = np.maximum(prices[torn], costs.octave)
    return prices


def best_path(worth: Any, doubled: Any, nobody: float, costs: Costs, breathing: Breaths) -> NDArray[np.int64]:
    """The leader of each beat (a column of ``worth``, or -1 for nobody) on the path of the greatest worth.

    Args:
        worth: [beat, stream] log-odds that the stream leads.
        doubled: [beat, a, b] whether two streams are one line there; passing the lead between them costs little.
        nobody: worth of a beat in which nobody leads.
        costs: of the changes.
        breathing: where phrases of the lines begin and end, and which changes tear the tune out of its octave.
    """
    import numpy as np

    beats, streams = worth.shape
    if not beats or not streams:
        return np.full(beats, NOBODY, dtype=np.int64)
    entering = np.where(breathing.begins, 1.0, costs.inside)
    leaving = costs.silence * np.where(breathing.ends, 1.0, costs.inside)
    changing, beginning = costs.change * entering, costs.silence * entering
    closed = np.where(breathing.ends, 0.0, -np.inf)
    links = doubled[1:] | doubled[:-1]
    linked = (links | breathing.torn[1:]).any(axis=(1, 2)).tolist()
    prices = passing(links, costs, breathing)
    ways = np.empty((5, streams))  # into each line: from itself, the leader, one that has ended, nobody, any one where some play the same
    chosen = np.zeros((beats, streams), dtype=np.int64)
    givers = np.zeros((beats, streams), dtype=np.int64)
    before = [(0, 0, 0)]  # the leader, the one that has ended, who leads before nobody does
    players, silent = worth[0], nobody
    for t in range(1, beats):
        leader = ended = 0
        ways[0] = players
        np.subtract(silent, beginning[t], out=ways[3])
        if linked[t - 1]:
            passed = players[:, None] - prices[t - 1]
            passed.argmax(axis=0, out=givers[t])
            passed.max(axis=0, out=ways[4])
            ways[1:3] = -np.inf
        else:
            leader = int(players.argmax())
            done = players + closed[t]
            ended = int(done.argmax())
            np.subtract(players[leader], changing[t], out=ways[1])
            ways[2] = done[ended] - costs.change
            ways[4] = -np.inf
        stop = players - leaving[t]
        last = int(stop.argmax())
        if silent < stop[last]:
            silent = stop[last]
        else:
            last = streams
        before.append((leader, ended, last))
        ways.argmax(axis=0, out=chosen[t])
        players = ways.max(axis=0) + worth[t]
        silent = silent + nobody
    path = np.empty(beats, dtype=np.int64)
    state = streams if silent > players.max() else int(players.argmax())
    for t in range(beats - 1, -1, -1):
        path[t] = state
        leader, ended, last = before[t]
        state = last if state == streams else (state, leader, ended, streams, int(givers[t, state]))[chosen[t, state]]
    path[path == streams] = NOBODY
    return path
