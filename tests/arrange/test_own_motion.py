"""A figure is never busier nor fuller than what the orchestra itself plays under its tune."""

from __future__ import annotations

from collections import Counter
from pathlib import Path
from statistics import median

import pytest

import reduce
from reduce.hands.check import check
from tests import tiny

LEVELS = ("first-year", "late-beginner", "early-intermediate", "intermediate")
LONELY = """
meter 4/4
key C major
tempo 84
Horn   | e4:2 g4 | c5:4 g4 e4:2 | f4:2 a4 | g4:1 | e4:2 g4 | c5:4 g4 e4:2 | d4:4 f4 e4 d4 | c4:1 |
Viola  | r:1     | r:1          | r:1     | r:1  | <e3 g3>:1 | <e3 g3>:1   | <f3 b3>:1     | <e3 g3>:1 |
Cello  | r:1     | r:1          | r:1     | r:1  | c3:1    | c3:1         | g2:1          | c3:1 |
"""
UNISON = """
meter 4/4
key A minor
tempo 84
Violin 1 | a4:2 c5 | b4:4 g#4 e4:2 | a4:2 e5 | d5:4 b4 a4:2 |
Viola    | a3:2 c4 | b3:4 g#3 e3:2 | a3:2 e4 | d4:4 b3 a3:2 |
Cello    | a2:2 c3 | b2:4 g#2 e2:2 | a2:2 e3 | d3:4 b2 a2:2 |
"""


def left_by_bar(text: str, level: str, tmp_path: Path, *, tune: bool = False) -> Counter[int]:
    """Left-hand notes in each bar of the draft (index), with those of the tune that it has or without."""
    source = tmp_path / "tiny.musicxml"
    source.write_bytes(tiny.musicxml(text, "Tiny"))
    draft = reduce.draft(source, level=level, length="full").draft
    starts = [bar.start for bar in draft.bars]
    left = [note for note in draft.notes if note.hand == "left" and (tune or note.role != "melody")]
    return Counter(max(i for i, start in enumerate(starts) if start <= note.onset) for note in left)


@pytest.mark.parametrize("level", LEVELS)
def test_a_tune_that_is_alone_stays_alone(level: str, tmp_path: Path) -> None:
    """Law: where the orchestra has one line only, the left hand rests; where it accompanies, the hand plays."""
    found = left_by_bar(LONELY, level, tmp_path)
    assert [found[i] for i in range(4)] == [0, 0, 0, 0]
    assert all(left_by_bar(LONELY, level, tmp_path, tune=True)[i] for i in range(4, 8))


@pytest.mark.parametrize("level", LEVELS)
def test_a_unison_is_not_harmonised(level: str, tmp_path: Path) -> None:
    """Law: where everybody plays the tune, the left hand doubles it, or its weighty notes, or rests, and adds no chord."""
    found = left_by_bar(UNISON, level, tmp_path)
    assert [count for i, count in sorted(found.items()) if count > (2, 3, 2, 3)[i]] == []


@pytest.mark.parametrize("name", ["ferry-landing-waltz", "the-last-ferry"])
def test_notes_and_load_rise_with_the_level(name: str) -> None:
    """Law: difficulty never falls as the level rises; on the same bars each level has as many notes as the one below, or more, and
    its middle bar weighs as much, or more, for one and the same hand."""
    path = Path(__file__).parents[2] / "samples" / f"{name}.musicxml"
    made = [reduce.draft(path, level=level, length="full") for level in (*LEVELS, "late-intermediate", "advanced")]
    counts = [len(one.draft.notes) for one in made]
    assert counts == sorted(counts)
    reports = [check(one.draft, one.rules.level, one.rules) for one in made]
    middles = [median(bar.weight for bar in report.load if bar.weight) for report in reports]
    assert middles == sorted(middles)
