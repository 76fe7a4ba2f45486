"""Kinds of texture, beat by beat, by where the annotated tune lies: for telling where the choice of the tune fails."""

from __future__ import annotations

from typing import Any

import numpy as np

from reduce.analyse.sonority import pairs
from reduce.analyse.windows import window
from tests.fitting.movements import Movement

KINDS = (
    "several lines at once",
    "full orchestra",
    "low line",
    "upper strings on top",
    "upper strings, covered",
    "winds, brass, voices on top",
    "winds, brass, voices, covered",
    "nobody plays it alone",
)
_LOW = {"cello", "double-bass", "bassoon", "trombone", "tuba"}
_STRINGS = {"violin", "viola"}


def struck_together(movement: Movement) -> Any:
    """[beat, a, b] how many moments of the bar around the beat both lines strike (percussion left out)."""
    events, starts = movement.evidence.events, np.array(movement.grid.starts[:-1])
    moments = np.unique(np.concatenate([events.onset, starts]))
    hit = np.zeros((len(moments), len(movement.desks)), dtype=bool)
    hit[np.searchsorted(moments, events.onset), events.stream] = True
    hit[:, np.array(movement.desks) == "percussion"] = False
    counted, _, _ = pairs(np.zeros(hit.shape, dtype=np.int16), hit, np.searchsorted(moments, starts))
    reach = movement.grid.per_bar // 2
    return window(counted, reach, reach)


def kinds_of(movement: Movement) -> Any:
    """The kind of each beat, as an index of ``KINDS``; the first that fits.

    Several lines at once: two or more lines that are not one with the leader strike at least 0.6 as many notes in the bar, most
    of them not together with it.  Full orchestra: three quarters of the lines sound.
    """
    evidence = movement.evidence
    rows = np.arange(len(evidence.active))
    agreeing = np.where(evidence.active, movement.right, -1)
    leader = agreeing.argmax(axis=1)
    number = evidence.features["onsets.bar"] * evidence.active
    together = struck_together(movement)
    total = np.diagonal(together, axis1=1, axis2=2)
    busy = (number >= 0.6 * number[rows, leader][:, None]) & (number > 0.5)
    apart = together[rows, leader] < 0.5 * np.maximum(total[rows, leader], 1)[:, None]
    rivals = (busy & apart & ~movement.doubled[rows, leader]).sum(axis=1)
    full = evidence.features["fullness"].max(axis=1) >= 0.75
    desk = np.array(movement.desks)[leader]
    top = evidence.features["top.beat"][rows, leader] >= 0.5
    strings, low = np.isin(desk, sorted(_STRINGS)), np.isin(desk, sorted(_LOW))
    nobody = agreeing[rows, leader] < 0.4
    return np.select([nobody, rivals >= 2, full, low, strings & top, strings, top], [7, 0, 1, 2, 3, 4, 5], 6)
