"""A left hand that may strike nothing holds on what it has."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace

import pytest

from reduce import pipeline
from reduce.arrange.held_on import held_on
from reduce.arrange.outline import Outline
from reduce.arrange.strands import Key
from reduce.hands.check import check
from reduce.model.texture import Chord
from tests import tiny
from tests.arrange import lines

SIGNED = """
meter 2/4
key C major
tempo 60
Violin 1 | e5:4 d5 | c5:2 | e5:8 f#5 g5 f#5 | e5:4 d5 | c5 d5 | e5:8 f#5 g5 f#5 | e5:4 d5 | c5:2 |
Viola    | g4:8 e4 g4 e4 | g4 e4 g4 e4 | {third} | g4 e4 g4 e4 | g4 e4 g4 e4 | {third} | g4 e4 g4 e4 | e4:2 |
Cello    | c3:4 g3 | c3:4 g3 | {low} | c3 g3 | c3 g3 | {low} | c3 g3 | c3:2 |
"""


def _drafted(folder: Path, third: str, low: str) -> pipeline.Result:
    path = folder / "signed.musicxml"
    path.write_bytes(tiny.musicxml(SIGNED.format(third=third, low=low)))
    return pipeline.draft(path, level="first-year", key="keep", length="full")


def test_the_left_hand_holds_on_where_it_may_not_strike(tmp_path: Path) -> None:
    """Law: where speed and a sign leave no stroke to the left hand, its last key sounds on through the bar, and the log says so."""
    made = _drafted(tmp_path, "g4:8 e4 g4 e4", "c3:4 g3")
    assert [] == [load.number for load in check(made.draft, made.rules.level, made.rules).load if load.over_budget]
    for bar in (made.draft.bars[2], made.draft.bars[5]):
        assert [] == [n for n in made.draft.notes if n.hand == "left" and bar.start <= n.onset < bar.end]
        assert 1 == sum(n.hand == "left" and n.onset < bar.start and n.end == bar.end for n in made.draft.notes)
    assert [d for d in made.decisions if "holds on what it has" in d.sentence]


def test_nothing_is_held_against_the_harmony(tmp_path: Path) -> None:
    """Law: a key that is no chord note of the bar is let go at its beginning."""
    made = _drafted(tmp_path, "f#4:8 a4 f#4 a4", "d3:4 a3")
    for bar in (made.draft.bars[2], made.draft.bars[5]):
        down = [n for n in made.draft.notes if n.hand == "left" and n.onset < bar.end and n.end > bar.start]
        assert all(n.midi % 12 in (2, 6, 9) for n in down)


@pytest.mark.parametrize(
    ("tones", "stays"),
    [
        ((0, 4, 7), [48, 55]),
        ((7, 11, 2), []),  # one key of two belongs: the hand lets go of both
        ((2, 5, 9), []),
    ],
)
def test_keys_that_belong_are_held(tones: tuple[int, ...], stays: list[int]) -> None:
    """Law: keys that are all chord notes of the silent bar sound on in it, for all of it; a hand with one voice holds all or none."""
    piece = lines.score("meter 2/4\nkey C major\nOboe | c5:2 | d5:2 |\n")
    first, second = piece.bars
    desk = SimpleNamespace(ease={1: 5}, bars=piece.bars, motions=())
    down = [Key(hand="left", strand=1, onset=first.start, end=first.end, midi=key, outer=False) for key in (48, 55)]
    chords = [
        Chord(start=first.start, end=first.end, root=0, quality="major", bass=0, tones=(0, 4, 7)),
        Chord(start=second.start, end=second.end, root=tones[0], quality="major", bass=tones[0], tones=tones),
    ]
    found = held_on(down, chords, desk, Outline(lines.line(piece)), ())  # type: ignore[arg-type]
    assert [key.midi for key in found if key.end == second.end] == stays
    assert [key.midi for key in found if key.end == first.end] == [key for key in (48, 55) if key not in stays]
