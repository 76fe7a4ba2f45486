"""A drum between the calls of the orchestra: whose hand plays it, how low, and why."""

from __future__ import annotations

from pathlib import Path

import pytest

import reduce
from tests import tiny

CALLS = """
meter 3/4
tempo 120
Violin       | d6:4. d5:8 d5:4 | r:2. | a5:4. a4:8 a4:4 | r:2. | d6:4. d5:8 d5:4 | a5:4 g5 f5 | e5:4 f5 g5 | a5:4 b5 c#6 | d6:2. |
Cello        | d3:4. d2:8 d2:4 | r:2. | a3:4. a2:8 a2:4 | r:2. | d3:4. d2:8 d2:4 | d3:2.     | a2:2.     | a2:2.      | d3:2. |
Timpani      | r:2.            | r:2. | r:2.            | f3:4. (ff) f2:8 f2:4 | r:2. | d3:4 r r | r:2. | a2:4 r r | d3:2. |
"""


@pytest.mark.parametrize("level", ("first-year", "late-beginner", "early-intermediate", "intermediate", "late-intermediate", "advanced"))
def test_the_left_hand_plays_it_alone(tmp_path: Path, level: str) -> None:
    """Bar 4 is the drum's: the left hand has its first stroke and rests nowhere in it, the right hand rests, all keys are the level's;
    where the level has them, the octave of the two drums is kept.  In the bars in which others play no stroke is a note of its own."""
    path = tmp_path / "calls.musicxml"
    path.write_bytes(tiny.musicxml(CALLS))
    result = reduce.draft(path, level=level, length="full")
    bar = result.draft.bars[3]
    inside = [note for note in result.draft.notes if bar.start <= note.onset < bar.end]
    assert inside and {note.hand for note in inside} == {"left"}
    assert {note.midi % 12 for note in inside} == {5}
    lowest = result.rules.level.lowest
    assert min(note.midi for note in inside) == (41 if lowest <= 41 else 53)
    told = [decision for decision in result.decisions if decision.rule == "placement.drum-alone"]
    assert [decision.bars for decision in told] == [(3, 3)]
    strokes = {note.id for note in result.score.notes if note.part == 2 and note.bar != 3}
    assert not [note.id for note in result.draft.notes if note.sources and set(note.sources) <= strokes]
