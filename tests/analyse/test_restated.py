"""Bars that come again note for note have the tune in the same notes."""

from __future__ import annotations

import numpy as np

from reduce.analyse.breaths import Breaths
from reduce.analyse.lines import grid, outline
from reduce.analyse.path import Costs
from reduce.analyse.restated import Stretch, agreeing_path, restated
from reduce.analyse.streams import streams
from tests.analyse.hearing import score

COSTS = Costs(change=1.0, doubling=0.0, silence=1.0)

# Bars 3 and 4 are bars 1 and 2 a fourth higher, the players exchanged.
EXCHANGED = """
meter 4/4
tempo 90
Oboe   | g5:4 e5 c5 d5 | e5:2 d5 | f4:1 | f4:2 g4 |
Violin | c4:1 | c4:2 d4 | c6:4 a5 f5 g5 | a5:2 g5 |
"""


def led(text: str, worth: list[list[float]], moments: int = 4) -> tuple[list[int], dict[int, int]]:
    """The leader of each beat where the lines are worth that much in each bar, nobody doubling another, and who was drawn."""
    music = score(text)
    players, stream_of = streams(music)
    beats = grid(music)
    each = np.array([worth[bar] for bar in beats.bars], dtype=np.float64)
    air = np.ones(each.shape, dtype=bool)
    apart = np.zeros((len(each), each.shape[1], each.shape[1]), dtype=bool)
    breathing = Breaths(begins=air, ends=air, torn=apart)
    path, drawn = agreeing_path(music, outline(music, players, stream_of), beats, each, apart, COSTS, breathing, moments)
    return path.tolist(), drawn


def test_bars_in_a_row_that_come_again_are_one_stretch() -> None:
    """In another key, by other players; the lowest keys tell the distance."""
    found, lows = restated(score(EXCHANGED), 4)
    assert found == (Stretch((0, 2), 2),)
    assert lows == [60, 60, 65, 65]


def test_a_bar_that_differs_in_one_length_is_not_the_same() -> None:
    """What is held shorter is another bar; what is held on over the bar line is cut there."""
    assert restated(score("meter 4/4\ntempo 90\nOboe | g5:4 e5 c5 d5 | g5:4 e5 c5 d5:8 r |"), 4)[0] == ()
    assert restated(score("meter 4/4\ntempo 90\nOboe | g5:4 e5 c5 d5~ | d5:1 | g5:4 e5 c5 d5 |"), 4)[0] == (Stretch((0, 2), 1),)


def test_what_is_struck_at_few_moments_comes_again_by_chance() -> None:
    """Two strokes a bar prove nothing, two such bars in a row do."""
    assert restated(score("meter 4/4\ntempo 90\nOboe | g5:2 e5 | g5:2 e5 |"), 4)[0] == ()
    assert len(restated(score("meter 4/4\ntempo 90\nOboe | g5:2 e5 | c5:2 d5 | a5:1 | g5:2 e5 | c5:2 d5 |"), 4)[0]) == 1


def test_both_places_follow_the_surer_one() -> None:
    """The oboe leads plainly in bars 1-2; in bars 3-4, where its own deep notes are worth a little more, the violin now has its part."""
    path, drawn = led(EXCHANGED, [[3, 0], [3, 0], [0.6, 0], [0.6, 0]])
    assert path == [0] * 8 + [1] * 8
    assert set(drawn) == set(range(8, 16)) and set(drawn.values()) == {0, 1}


def test_places_that_agree_are_left_alone() -> None:
    """Where both places have it in the same notes nothing is drawn."""
    path, drawn = led(EXCHANGED, [[3, 0], [3, 0], [0, 3], [0, 3]])
    assert path == [0] * 8 + [1] * 8
    assert drawn == {}


def test_what_differs_may_differ() -> None:
    """One note changed in each place, and each follows its own worth."""
    text = EXCHANGED.replace("a5:2 g5", "a5:2 g#5").replace("c6:4 a5", "c6:4 a#5")
    assert led(text, [[3, 0], [3, 0], [0.6, 0], [0.6, 0]]) == ([0] * 16, {})
