"""Annotated movements for fitting: what was measured, and where a person heard the main melody.

The corpus is a folder of ``NAME.mxl`` with ``NAME.melody.csv`` beside it (one row per moment at which the main melody moves to
another part: ``qstamp`` quarter-notes from the start, ``part_num`` 0-based).  It is not part of the project.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np

from reduce.analyse.doublings import shared
from reduce.analyse.evidence import Evidence, measure
from reduce.analyse.lines import Grid, grid, outline
from reduce.analyse.signs import signs
from reduce.analyse.streams import desks_of, streams
from reduce.model.record import replace
from reduce.model.rules import Rules
from reduce.read import load


@dataclass(frozen=True, kw_only=True)
class Movement:
    """One movement.  Tables have a row a beat and a column a stream.

    ``right`` is how far the stream agrees with the annotated melody in the beat (0..1, any doubling counts), ``hits`` the
    onsets it shares with it, ``wanted`` the melody's onsets a beat; ``truth`` pairs of (tick, pitch class).  ``otherwise`` are the
    measurements of the same music as if its bars were twice and half as long: more examples of what a window may hold.
    """

    name: str
    grid: Grid
    evidence: Evidence
    doubled: Any
    right: Any
    hits: Any
    wanted: Any
    annotated: Any  # beats inside an annotated stretch
    desks: tuple[str, ...]  # the instrument of each stream
    truth: frozenset[tuple[int, int]]
    first: int
    otherwise: tuple[dict[str, Any], ...] = ()


def movements(folder: Path, rules: Rules) -> Iterator[Movement]:
    """Every annotated movement of the folder, in order of name."""
    for path in sorted(folder.glob("*.mxl")):
        table = path.with_name(path.stem + ".melody.csv")
        if table.is_file():
            yield _movement(path, table, rules)


def _movement(path: Path, table: Path, rules: Rules) -> Movement:
    score = load(path, rules.instruments)
    players, stream_of = streams(score)
    lines, beats = outline(score, players, stream_of), grid(score)
    desks = desks_of(score, players, stream_of)

    def measured(bar: int) -> Evidence:
        as_if = replace(beats, per_bar=bar)
        found = measure(lines, as_if, desks, [s.part for s in players])
        found.features.update(signs(score, players, lines, as_if))
        return found

    evidence = measured(beats.per_bar)
    others = sorted({2 * beats.per_bar, max(beats.per_bar // 2, 1)} - {beats.per_bar})
    doubled = shared(evidence, beats, rules.number("melody.doublings.share"))
    with table.open(newline="") as file:
        rows = sorted((Fraction(r["qstamp"]).limit_denominator(96), int(r["part_num"])) for r in csv.DictReader(file))
    stretches = [(int(a * score.resolution), part) for a, part in rows]
    ends = [a for a, _ in stretches[1:]] + [score.end]
    top: dict[int, dict[int, int]] = {}
    for note in score.notes:
        if note.kind == "struck":
            line = top.setdefault(note.part, {})
            line[note.onset] = max(line.get(note.onset, -1), note.midi)
    truth = frozenset(
        (t, midi % 12) for (a, part), b in zip(stretches, ends, strict=True) for t, midi in top.get(part, {}).items() if a <= t < b
    )
    starts = np.array(beats.starts)
    count, number = evidence.active.shape
    wanted = np.bincount(np.clip(np.searchsorted(starts, [t for t, _ in truth], "right") - 1, 0, count - 1), minlength=count)
    events = evidence.events
    hits = np.zeros((count, number))
    for beat, stream, onset, midi in zip(events.beat, events.stream, events.onset, events.midi, strict=True):
        hits[beat, stream] += (int(onset), int(midi) % 12) in truth
    right = 2 * hits / np.maximum(1, wanted[:, None] + evidence.struck)
    which = np.searchsorted([a for a, _ in stretches], starts[:-1], "right") - 1
    leader = np.array([stretches[i][1] if i >= 0 else -1 for i in which])
    for beat in np.flatnonzero(wanted == 0):  # the melody holds or rests: its players are right
        own = [s.id for s in players if s.part == leader[beat]]
        right[beat] = doubled[beat][own].any(axis=0) if own else 0
        right[beat, own] = 1
    return Movement(
        name=path.stem,
        grid=beats,
        evidence=evidence,
        doubled=doubled,
        right=right,
        hits=hits,
        wanted=wanted,
        annotated=which >= 0,
        desks=tuple(desks),
        truth=truth,
        first=stretches[0][0],
        otherwise=tuple(measured(bar).features for bar in others),
    )


def agreement(movement: Movement, path: Any) -> tuple[float, float, float]:
    """Recall, precision and F1 of a path of leaders (a stream or -1 for each beat) as the top line of a draft.

    Onsets count as right when a note of the annotated melody with the same pitch class is struck at that moment.
    """
    events = movement.evidence.events
    chosen = path[events.beat] == events.stream
    found = list(zip(events.onset[chosen].tolist(), (events.midi[chosen] % 12).tolist(), strict=True))
    hits = sum(pair in movement.truth for pair in found)
    recall = hits / max(1, len(movement.truth))
    precision = hits / max(1, sum(onset >= movement.first for onset, _ in found))
    return recall, precision, 2 * recall * precision / (recall + precision) if hits else 0.0
