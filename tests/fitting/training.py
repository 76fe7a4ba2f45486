"""Train a small network for ``reduce.analyse.ear`` on annotated beats: the lines of a beat compete by softmax with 'nobody'."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np

SETTINGS: dict[str, Any] = {
    "layers": (64, 32),
    "epochs": 15,  # each annotated beat is heard as many times
    "epochs of the first": 9,
    "beats a step": 64,
    "learning rate": 2e-3,  # falls to zero along a cosine
    "decay": 3e-4,
    "measurements left out": 0.3,  # at random at each step, so that the ear leans on no single one
    "units left out": 0.3,
    "seed": 2,
}
_FAR = 12.0


class Network:
    """Layers of weighted sums with rectifiers between them, trained by Adam (Kingma and Ba, 2015) with dropout.

    Args:
        x: measurements, a row for each line of each beat.
        good: 0..1 how right each row is.
        group: the beat of each row, rising from 0.
        weight: of each beat.
        epochs: how often each beat is heard.
    """

    def __init__(self, x: Any, good: Any, group: Any, weight: Any, epochs: int) -> None:
        self.random = np.random.default_rng(SETTINGS["seed"])
        self.low, self.high = np.percentile(x[::3], [1, 99], axis=0).astype(np.float32)
        x = np.clip(x, self.low, self.high)
        self.mean, self.spread = x.mean(axis=0), x.std(axis=0) + 1e-4
        x = ((x - self.mean) / self.spread).astype(np.float32)
        sizes = (x.shape[1], *SETTINGS["layers"], 1)
        self.weights = [self._begin(a, b) for a, b in pairwise(sizes)]
        self.offsets = [np.zeros(b, np.float32) for b in sizes[1:]]
        self.offsets[-1][:] = -1
        beats, step = len(weight), SETTINGS["beats a step"]
        first = np.searchsorted(group, np.arange(beats + 1))
        weight = weight / weight.mean()
        self._settings = self.weights + self.offsets
        self._drift = [np.zeros_like(p) for p in self._settings]
        self._swing = [np.zeros_like(p) for p in self._settings]
        steps = epochs * (beats // step)
        done = 0
        for _ in range(epochs):
            order = self.random.permutation(beats)
            for at in range(0, beats - step + 1, step):
                some = np.sort(order[at : at + step])
                rows = np.concatenate([np.arange(first[b], first[b + 1]) for b in some])
                place = np.repeat(np.arange(step), first[some + 1] - first[some])
                done += 1
                rate = SETTINGS["learning rate"] * min(1, done / 100) * (1 + np.cos(np.pi * done / steps)) / 2
                self._learn(x[rows], good[rows], place, weight[some], rate, done)

    def predict(self, x: Any, raw_score: bool = True) -> Any:
        """Log-odds of each row."""
        heard = ((np.clip(x, self.low, self.high) - self.mean) / self.spread).astype(np.float32)
        for w, b in zip(self.weights[:-1], self.offsets[:-1], strict=True):
            heard = np.maximum(heard @ w + b, 0)
        return (heard @ self.weights[-1] + self.offsets[-1])[:, 0]

    def _begin(self, a: int, b: int) -> Any:
        return (self.random.normal(size=(a, b)) * np.sqrt(2 / a) * (1 if b > 1 else 0.3)).astype(np.float32)

    def _kept(self, size: int, left_out: float) -> Any:
        return ((self.random.random(size) > left_out) / (1 - left_out)).astype(np.float32)

    def _learn(self, x: Any, good: Any, place: Any, weight: Any, rate: float, done: int) -> None:
        """One step down the slope of minus the log-chance of the right lines."""
        beats = len(weight)
        heard = x * self._kept(x.shape[1], SETTINGS["measurements left out"])
        inputs, masks = [heard], []
        for w, b in zip(self.weights[:-1], self.offsets[:-1], strict=True):
            heard = heard @ w + b
            mask = (heard > 0) * self._kept(heard.shape[1], SETTINGS["units left out"])
            heard = heard * mask
            inputs.append(heard)
            masks.append(mask)
        strength = np.exp(np.clip((heard @ self.weights[-1] + self.offsets[-1])[:, 0], -_FAR, _FAR))
        chance = strength / (1 + np.bincount(place, strength, beats))[place]
        answered = (np.bincount(place, good, beats) > 0)[place]
        share = chance * good
        share = share / np.maximum(np.bincount(place, share, beats)[place], 1e-9)
        slope = ((chance - np.where(answered, share, 0)) * weight[place] / beats).astype(np.float32)[:, None]
        layers = len(self.weights)
        slopes: list[Any] = [None] * (2 * layers)
        for layer in range(layers - 1, -1, -1):
            slopes[layer] = inputs[layer].T @ slope + SETTINGS["decay"] * self.weights[layer]
            slopes[layers + layer] = slope.sum(axis=0)
            if layer:
                slope = (slope @ self.weights[layer].T) * masks[layer - 1]
        for value, s, drift, swing in zip(self._settings, slopes, self._drift, self._swing, strict=True):
            drift += 0.1 * (s - drift)
            swing += 0.001 * (s * s - swing)
            value -= (rate * (drift / (1 - 0.9**done)) / (np.sqrt(swing / (1 - 0.999**done)) + 1e-8)).astype(np.float32)

    def exported(self, names: list[str]) -> dict[str, Any]:
        """Plain data for ``reduce.analyse.ear``: the scale of the measurements goes into the first layer, numbers are rounded."""
        layers = []
        for place, (w, b) in enumerate(zip(self.weights, self.offsets, strict=True)):
            weights, offsets = w.astype(float), b.astype(float)
            if not place:
                weights = _short(weights / self.spread[:, None])
                offsets = offsets - self.mean @ weights
            layers.append({"weights": _short(weights).tolist(), "offsets": _short(offsets, 6).tolist()})
        return {"features": names, "low": _short(self.low, 6).tolist(), "high": _short(self.high, 6).tolist(), "layers": layers}


def _short(values: Any, digits: int = 3) -> Any:
    """The values with so many significant digits."""
    return np.array([float(f"{v:.{digits}g}") for v in np.ravel(values)]).reshape(np.shape(values))
