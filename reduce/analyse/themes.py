"""The second hearing: what was the tune elsewhere, and who has led so far, tell what is the tune here."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from reduce.analyse.doublings import apart, best_other
from reduce.analyse.evidence import Evidence
from reduce.analyse.lines import Grid
from reduce.analyse.motifs import Grams
from reduce.analyse.windows import window

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

_PRIOR = 0.25  # how likely unheard material is to lead, before anything is known
_DOUBT = 1.0  # how many hearings that prior is worth


def second_hearing(evidence: Evidence, grid: Grid, odds: Any, doubled: Any) -> dict[str, NDArray[np.float32]]:
    """Measurements that rest on a first judgement of every beat.

    Args:
        evidence: the measurements of the first hearing.
        grid: the felt beats.
        odds: [beat, stream] log-odds of leading after the first hearing (anything where the stream is silent).
        doubled: [beat, a, b] who shares a line with whom.

    Returns:
        Tables [beat, stream] by name: the judgement itself around the beat, themes by how often they led elsewhere,
        answers to what just led, distance from the register that led before.
    """
    import numpy as np

    active = evidence.active
    bar = grid.per_bar
    beats, streams = active.shape
    z = np.where(active, np.clip(odds, -9, 9), -9.0)
    strength = np.where(active, np.exp(z), 0.0)
    chance = strength / (1.0 + strength.sum(axis=1, keepdims=True))
    link = doubled.copy()
    link[:, np.arange(streams), np.arange(streams)] = True
    line = np.matmul(link.astype(np.float32), chance[:, :, None].astype(np.float32))[:, :, 0].astype(np.float64)
    others = apart(doubled)
    rival = best_other(z, others, -9.0)
    features: dict[str, NDArray[np.float32]] = {}

    def enter(name: str, table: Any) -> None:
        features[name] = np.asarray(table, dtype=np.float32)

    enter("first", z)
    enter("first-lead", z - rival)
    enter("first-chance", chance)
    enter("first-line", line)
    enter("first-nobody", np.repeat(1 - chance.sum(axis=1, keepdims=True), streams, axis=1))
    playing = active.astype(np.float32)
    for name, back, ahead in (
        ("bar", bar // 2, bar // 2),
        ("phrase", 2 * bar, 2 * bar),
        ("section", 8 * bar, 8 * bar),
        ("before", bar, -1),
        ("long-before", 4 * bar, -1),
        ("after", -1, bar),
        ("long-after", -1, 4 * bar),
    ):
        some = np.maximum(window(playing, back, ahead), 1)
        enter("first-line." + name, window(line, back, ahead) / np.maximum(_width(beats, back, ahead), 1))
        enter("first." + name, window(z * playing, back, ahead) / some)
        enter("first-lead." + name, window((z - rival) * playing, back, ahead) / some)
    enter(
        "first-line.piece",
        np.repeat((line * playing).sum(0, keepdims=True) / np.maximum(playing.sum(0, keepdims=True), 1), beats, axis=0),
    )
    level = evidence.features["height.beat"]
    height = (chance * level).sum(axis=1, keepdims=True)
    weight = chance.sum(axis=1, keepdims=True)
    for name, back, ahead in (("before", bar, -1), ("after", -1, bar)):
        led = window(height, back, ahead) / np.maximum(window(weight, back, ahead), 0.05)
        enter("register-" + name, np.where(active, np.abs(level - led), 20.0))
        enter("above-" + name, np.where(active, level - led, 0.0))
    number = np.maximum(evidence.struck, 0)
    for grams in evidence.events.grams:
        led_elsewhere, hearings, answered, foretold, origin = _led(grams, evidence, line, bar)
        for key, per_event in (
            ("led", led_elsewhere),
            ("hearings", hearings),
            ("answers", answered),
            ("foretells", foretold),
            ("led-first", origin),
        ):
            table = _spread(per_event, evidence, beats, streams)
            for name, reach in (("bar", bar // 2), ("phrase", 2 * bar)):
                value = window(table, reach, reach) / np.maximum(window(number, reach, reach), 1)
                enter(f"{key}-{grams.name}.{name}", value)
                if key in ("led", "led-first"):
                    enter(f"{key}-lead-{grams.name}.{name}", value - best_other(np.where(active, value, -1.0), others, -1.0))
    return features


def _width(beats: int, back: int, ahead: int) -> Any:
    import numpy as np

    rows = np.arange(beats)
    return (np.minimum(rows + ahead + 1, beats) - np.maximum(rows - back, 0))[:, None]


def _spread(per_event: Any, evidence: Evidence, beats: int, streams: int) -> Any:
    """Sum a value of each note into the note's beat and stream."""
    import numpy as np

    cell = evidence.events.beat * streams + evidence.events.stream
    return np.bincount(cell, per_event, beats * streams).reshape(beats, streams)


def _led(grams: Grams, evidence: Evidence, line: Any, bar: int) -> tuple[Any, Any, Any, Any, Any]:
    """For each note: how often its figure led elsewhere (smoothed share), how many such hearings there are (log),
    how much the same figure led in the four bars before, in the four bars after, and when it was first heard."""
    import numpy as np

    events = evidence.events
    n = len(events.stream)
    led, hearings, before, after, origin = np.full(n, _PRIOR), np.zeros(n), np.zeros(n), np.zeros(n), np.full(n, _PRIOR)
    start = np.flatnonzero(grams.kind_of >= 0)
    if not len(start):
        return led, hearings, before, after, origin
    at_event = line[events.beat, events.stream]
    total = np.concatenate([[0.0], np.cumsum(at_event)])
    weight = (total[start + grams.length] - total[start]) / grams.length
    kind, when = grams.kind_of[start], events.beat[start]
    big = int(when.max()) + 64 * bar + 100
    unique, inverse = np.unique(kind * big + when + 16 * bar, return_inverse=True)  # doublings are one hearing
    strongest = np.zeros(len(unique))
    np.maximum.at(strongest, inverse, weight)
    sums = np.concatenate([[0.0], np.cumsum(strongest)])
    group = unique // big * big
    low, high = np.searchsorted(unique, group), np.searchsorted(unique, group + big)
    near_low, near_high = np.searchsorted(unique, unique - 2 * bar), np.searchsorted(unique, unique + 2 * bar, "right")
    far_sum = sums[high] - sums[low] - (sums[near_high] - sums[near_low])
    far_count = (high - low) - (near_high - near_low)
    share = (far_sum + _PRIOR * _DOUBT) / (far_count + _DOUBT)
    past_low, past_high = np.searchsorted(unique, unique - 4 * bar), np.arange(len(unique))
    next_low, next_high = past_high + 1, np.searchsorted(unique, unique + 4 * bar, "right")
    past = np.minimum(sums[past_high] - sums[past_low], 3.0)[inverse]
    future = np.minimum(sums[next_high] - sums[next_low], 3.0)[inverse]
    early_high = np.minimum(low + 2, near_low)  # the first two hearings, if they lie behind
    early = np.maximum(early_high - low, 0)
    first = (sums[np.maximum(early_high, low)] - sums[low] + _PRIOR * 0.5) / (early + 0.5)
    spread_first = np.zeros(n)
    best_count = np.full(n, -1.0)
    counted = np.log1p(far_count)
    spread_led = np.zeros(n)
    spread_weight = np.zeros(n)
    weighed_led, weighed_first = (share * (0.1 + counted))[inverse], (first * (0.1 + counted))[inverse]
    weighed, counted = (0.1 + counted)[inverse], counted[inverse]
    for k in range(grams.length):
        index = start + k
        spread_led[index] += weighed_led
        spread_weight[index] += weighed
        spread_first[index] += weighed_first
        best_count[index] = np.maximum(best_count[index], counted)
        before[index] = np.maximum(before[index], past)
        after[index] = np.maximum(after[index], future)
    touched = spread_weight > 0
    led[touched] = spread_led[touched] / spread_weight[touched]
    origin[touched] = spread_first[touched] / spread_weight[touched]
    hearings[touched] = best_count[touched]
    return led, hearings, before, after, origin
