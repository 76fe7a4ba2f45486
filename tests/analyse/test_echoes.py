"""Parallel places hear one another."""

from __future__ import annotations

import numpy as np

from reduce.analyse.echoes import echoed
from reduce.analyse.evidence import measure
from reduce.analyse.lines import grid, outline
from reduce.analyse.streams import desks_of, streams
from tests.analyse.hearing import rules, score

# The oboe's eight notes return in bar 9; the viola has its own figure under both.
TWICE = """
meter 4/4
tempo 90
Oboe  | OBOE REST OBOE
Viola | VIOLA REST VIOLA
"""
TWICE = TWICE.replace("OBOE", "g5:4 e5 c5 d5 | e5:4. f5:8 d5:4 c5 |").replace("REST", "r:1 | r:1 | r:1 | r:1 | r:1 | r:1 |")
TWICE = TWICE.replace("VIOLA", "c4:8 e4 g4 e4 c4 e4 g4 e4 | b3 d4 g4 d4 b3 d4 g4 d4 |")


def heard(first: float, again: float) -> np.ndarray:
    """The oboe's log-odds in bars 1 and 9 after a look at the parallel place, where they were ``first`` and ``again`` and the viola's 0."""
    music = score(TWICE)
    players, stream_of = streams(music)
    lines, beats = outline(music, players, stream_of), grid(music)
    evidence = measure(lines, beats, desks_of(music, players, stream_of), [s.part for s in players])
    odds = np.where(evidence.active, 0.0, -9.0)
    odds[:8, 0], odds[32:40, 0] = first, again
    apart = np.zeros((len(odds), 2, 2), dtype=bool)
    return echoed(evidence, beats, odds, apart, rules())[[1, 33], 0]


def test_a_doubtful_place_follows_a_plain_one() -> None:
    """The oboe leads plainly in bar 1: in bar 9, where nothing speaks for either, it is brought forward; held back where it lay under."""
    assert heard(3.0, 0.0)[1] > 0.3
    assert heard(-3.0, 0.0)[1] < -0.3


def test_places_that_agree_stay_as_they_are() -> None:
    """Where both places say the same, hardly anything changes, and nothing is turned round."""
    assert np.all(np.abs(heard(0.0, 0.0)) < 0.2)
    assert np.all(heard(2.0, 2.0) > 1.5)


def test_what_stands_alone_hears_nothing() -> None:
    """Music without a figure that returns keeps its log-odds to the last digit."""
    music = score("meter 4/4\ntempo 90\nOboe | g5:4 e5 c5 d5 | e5:4. f5:8 d5:4 c5 |\nViola | c4:1 | b3:2 c4 |")
    players, stream_of = streams(music)
    lines, beats = outline(music, players, stream_of), grid(music)
    evidence = measure(lines, beats, desks_of(music, players, stream_of), [s.part for s in players])
    odds = np.where(evidence.active, np.arange(16.0).reshape(8, 2) / 4, -9.0)
    assert np.array_equal(echoed(evidence, beats, odds, np.zeros((8, 2, 2), dtype=bool), rules()), odds)
