"""Fit the judgement of who has the tune, compare designs, and write ``rules/melody-ear.json``.

    python -m tests.fitting.fit_melody CORPUS [--composers] [--trees] [--write]

Designs, all followed by the same best path:

linear   a weighted sum of all measurements, chances by softmax over the lines that sound and 'nobody'
trees    boosted trees with the same softmax (needs LightGBM, which nothing else in the project does)
first    a small network with the same softmax
second   a second network that hears what the first one found: themes that led elsewhere, what leads around
both     the mean of first and second
whole    that, after what a musician takes for granted and a look at the parallel places: what ships

Every figure is cross-validated: no movement is judged by a model that has seen it.  The second network learns from what the
first said about movements it had not seen.  The first also learns from each movement as if its bars were twice and half as long.
Folds go by name order; with ``--composers`` each composer is left out whole.  A fit differs from the next by about 0.003 with the
seed alone.
"""

from __future__ import annotations

import argparse
import json
import time
from pathlib import Path
from typing import Any

import numpy as np

from reduce import rulebook
from reduce.analyse.breaths import breaths
from reduce.analyse.melody import path_costs, settled, worth_of
from reduce.analyse.path import best_path
from reduce.analyse.themes import second_hearing
from reduce.model.rules import Rules
from tests.fitting.kinds import KINDS, kinds_of
from tests.fitting.movements import Movement, agreement, movements
from tests.fitting.training import SETTINGS, Network

TREES: dict[str, Any] = {
    "learning_rate": 0.05,
    "num_leaves": 16,
    "min_data_in_leaf": 150,
    "lambda_l2": 20,
    "feature_fraction": 0.15,
    "bagging_fraction": 0.7,
    "bagging_freq": 1,
    "max_bin": 127,
    "min_sum_hessian_in_leaf": 1.0,
    "seed": 3,
    "num_threads": 2,
    "verbose": -1,
}
ROUNDS = 200
EVERY = 2  # of the beats, which hardly differ from their neighbours


class Rows:
    """The cells of a movement in which a line sounds."""

    def __init__(self, movement: Movement, tables: dict[str, Any], names: list[str]) -> None:
        active = movement.evidence.active
        self.beat = np.nonzero(active)[0]
        self.x = np.stack([tables[name][active] for name in names], axis=1).astype(np.float32)
        self.right = movement.right[active]
        busiest = np.where(active, movement.evidence.struck, 0).max(axis=1)
        weight = (0.3 + np.minimum((movement.wanted + busiest) / 2, 6)) * movement.annotated
        self.weight = 1000 * weight / weight.sum()


def gathered(rows: list[Rows]) -> tuple[Any, Any, Any, Any]:
    """Measurements, agreement, number of the beat and weight of each beat, of several movements."""
    x, right, group, weight = [], [], [], []
    base = 0
    for r in rows:
        some = r.beat % EVERY == 0
        beats, place = np.unique(r.beat[some], return_inverse=True)
        x.append(r.x[some])
        right.append(r.right[some])
        group.append(place + base)
        weight.append(r.weight[beats])
        base += len(beats)
    return np.concatenate(x), np.concatenate(right), np.concatenate(group), np.concatenate(weight)


def rightness(right: Any) -> Any:
    """How far a row counts as the tune: fully from three quarters of the notes on, a little from two fifths on."""
    return np.where(right >= 0.75, 1.0, np.where(right >= 0.4, 0.4, 0.0)).astype(np.float32)


def network(rows: list[Rows], epochs: int = SETTINGS["epochs"]) -> Network:
    x, right, group, weight = gathered(rows)
    return Network(x, rightness(right), group, weight, epochs)


def first_network(rows: list[Rows]) -> Network:
    """From three times as many examples, each heard less often."""
    return network(rows, SETTINGS["epochs of the first"])


def slope(right: Any, group: Any, weight: Any) -> Any:
    """Gradient and curvature of minus the log-chance of the right lines; 'nobody' has log-odds 0."""
    good = rightness(right)
    count = len(weight)
    answered = (np.bincount(group, good, count) > 0)[group]

    def at(z: Any) -> tuple[Any, Any]:
        strength = np.exp(np.clip(z, -12, 12))
        chance = strength / (1 + np.bincount(group, strength, count))[group]
        share = chance * good / np.maximum(np.bincount(group, chance * good, count)[group], 1e-9)
        w = weight[group]
        return (chance - np.where(answered, share, 0)) * w, np.maximum(chance * (1 - chance), 1e-3) * w

    return at


def trees(rows: list[Rows]) -> Any:
    """Boosted trees with the softmax slope."""
    import lightgbm

    x, right, group, weight = gathered(rows)
    at = slope(right, group, weight)
    return lightgbm.train(
        {**TREES, "objective": lambda z, _: at(z)}, lightgbm.Dataset(x, label=(right >= 0.75).astype(float)), num_boost_round=ROUNDS
    )


class Linear:
    """A weighted sum of standardised measurements, fitted by gradient steps with momentum."""

    def __init__(self, rows: list[Rows]) -> None:
        x, right, group, weight = gathered(rows)
        self.mean, self.spread = x.mean(axis=0), x.std(axis=0) + 1e-6
        x = np.clip((x - self.mean) / self.spread, -4, 4)
        at = slope(right, group, weight / weight.sum())
        self.weights, self.base = np.zeros(x.shape[1]), -1.0
        speed = np.zeros(x.shape[1])
        for _ in range(400):
            gradient, _curve = at(x @ self.weights + self.base)
            speed = 0.9 * speed - 0.5 * (x.T @ gradient + 1e-4 * self.weights)
            self.weights = self.weights + speed
            self.base -= 0.5 * gradient.sum()

    def predict(self, x: Any, raw_score: bool = True) -> Any:
        return np.clip((x - self.mean) / self.spread, -4, 4) @ self.weights + self.base


def crossed(rows: list[Rows], folds: list[list[int]], fit: Any, more: list[list[Rows]] | None = None) -> list[Any]:
    """Log-odds for every movement from a model that has not seen it; ``more`` are further examples from each movement."""
    found: list[Any] = [None] * len(rows)
    for fold in folds:
        model = fit(seen([i for i in range(len(rows)) if i not in fold], rows, more))
        for i in fold:
            found[i] = model.predict(rows[i].x, raw_score=True)
    return found


def seen(which: list[int], rows: list[Rows], more: list[list[Rows]] | None) -> list[Rows]:
    """The rows of some movements, and their further examples."""
    return [r for i in which for r in (rows[i], *(more[i] if more else ()))]


def settled_odds(movement: Movement, odds: Any, rules: Rules) -> Any:
    """The log-odds as the path hears them, of the cells in which a line sounds."""
    m = movement
    return settled(m.evidence, m.grid, table_of(m, odds), m.desks, m.doubled, rules)[m.evidence.active]


def table_of(movement: Movement, odds: Any) -> Any:
    table = np.full(movement.evidence.active.shape, -9.0)
    table[movement.evidence.active] = np.clip(odds, -9, 9)
    return table


def path_of(movement: Movement, odds: Any, rules: Rules) -> Any:
    worth, _ = worth_of(movement.evidence, table_of(movement, odds), movement.doubled, rules)
    air = breaths(movement.evidence, movement.grid, rules)
    return best_path(worth, movement.doubled, 0.0, path_costs(rules), air)


def told(name: str, all_of: list[Movement], odds: list[Any], rules: Rules, each: bool = False) -> float:
    """Print the figures of one design; the mean F1 of all movements."""
    figures, by_composer = [], {}
    for movement, z in zip(all_of, odds, strict=True):
        figures.append(agreement(movement, path_of(movement, z, rules)))
        by_composer.setdefault(movement.name.split("_")[0], []).append(figures[-1][2])
        if each:
            print(f"  {movement.name:28s} recall {figures[-1][0]:.3f} precision {figures[-1][1]:.3f} F1 {figures[-1][2]:.3f}")
    r, p, f = np.mean(figures, axis=0)
    composers = " ".join(f"{c} {np.mean(v):.3f}" for c, v in by_composer.items())
    print(f"{name:8s} recall {r:.3f} precision {p:.3f} F1 {f:.3f} | {composers}", flush=True)
    return float(f)


def told_by_kind(all_of: list[Movement], odds: list[Any], rules: Rules) -> None:
    """Print F1 over all notes of each kind of texture, how much of the annotated tune it holds, and how often the first two
    lines by chance hold the right one."""
    hits, played, wanted = (np.zeros(len(KINDS)) for _ in range(3))
    for movement, z in zip(all_of, odds, strict=True):
        kinds, path = kinds_of(movement), path_of(movement, z, rules)
        rows, some = np.arange(len(path)), (path >= 0) & movement.annotated
        hits += np.bincount(kinds, np.where(some, movement.hits[rows, path], 0), len(KINDS))
        played += np.bincount(kinds, np.where(some, movement.evidence.struck[rows, path], 0), len(KINDS))
        wanted += np.bincount(kinds, movement.wanted * movement.annotated, len(KINDS))
    for kind, h, p, w in zip(KINDS, hits, played, wanted, strict=True):
        print(f"  {kind:32s} {w / wanted.sum():5.1%} of the notes, recall {h / w:.3f} precision {h / p:.3f} F1 {2 * h / (p + w):.3f}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("corpus", type=Path)
    parser.add_argument("--write", action="store_true", help="fit on everything and write rules/melody-ear.json")
    parser.add_argument("--composers", action="store_true", help="leave whole composers out")
    parser.add_argument("--trees", action="store_true", help="also the linear design and the boosted trees")
    arguments = parser.parse_args()
    rules = rulebook.load("advanced")
    all_of = list(movements(arguments.corpus, rules))
    if arguments.composers:
        composers = sorted({m.name.split("_")[0] for m in all_of})
        folds = [[i for i, m in enumerate(all_of) if m.name.split("_")[0] == c] for c in composers]
    else:
        folds = [list(range(k, len(all_of), 5)) for k in range(5)]
    names = sorted(all_of[0].evidence.features)
    rows = [Rows(m, m.evidence.features, names) for m in all_of]
    if arguments.trees:
        told("linear", all_of, crossed(rows, folds, Linear), rules)
        told("trees", all_of, crossed(rows, folds, trees), rules)
    more = [[Rows(m, tables, names) for tables in m.otherwise] for m in all_of]
    first = crossed(rows, folds, first_network, more)
    told("first", all_of, first, rules)
    heard = [second_hearing(m.evidence, m.grid, table_of(m, z), m.doubled) for m, z in zip(all_of, first, strict=True)]
    second_names = sorted(heard[0])
    second_rows = [Rows(m, h, second_names) for m, h in zip(all_of, heard, strict=True)]
    second = crossed(second_rows, folds, network)
    told("second", all_of, second, rules)
    share = rules.number("melody.best-path.second-hearing")
    both = [(1 - share) * a + share * b for a, b in zip(first, second, strict=True)]
    told("both", all_of, both, rules)
    whole = [settled_odds(m, z, rules) for m, z in zip(all_of, both, strict=True)]
    figure = told("whole", all_of, whole, rules, each=True)
    told_by_kind(all_of, whole, rules)
    if arguments.write:
        about = {
            "what": "log-odds that a line leads in a beat: first by its own measurements, then by what the first hearing found",
            "trained on": f"{len(all_of)} movements of the OpenScore Orchestra corpus with its annotations of the main melody",
            "licence of the annotations": "CC BY-SA",
            "how": "tests/fitting/fit_melody.py: softmax over the lines of a beat and 'nobody'",
            "settings": {**SETTINGS, "every": EVERY},
            "cross-validated F1": round(figure, 4),
            "date": time.strftime("%Y-%m-%d"),
        }
        first_ear = first_network(seen(list(range(len(rows))), rows, more))
        data = {"about": about, "first": first_ear.exported(names), "second": network(second_rows).exported(second_names)}
        target = Path(__file__).parents[2] / "rules" / "melody-ear.json"
        target.write_text(json.dumps(data, separators=(",", ":"), ensure_ascii=False) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
