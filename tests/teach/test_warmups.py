"""Warm-ups cut from the piece."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import music21
import pytest

from reduce import packing, rulebook
from reduce.model.booklet import Keyboards, Music, Rhythm
from reduce.notate.rhythm import rhythm_xml
from reduce.teach import Lesson
from reduce.teach.patterns import strokes
from reduce.teach.warmups import clapped, drills, positions, tune, warm_ups, ways
from tests.hands.tiny import sheet
from tests.teach.material import FERRY, WALTZ, WISHES, sample

EVERY = [(score, level) for score in (WALTZ, FERRY) for level in ("first-year", "late-beginner", "intermediate", "advanced")]


@pytest.fixture(params=EVERY, ids=lambda pair: f"{pair[0].stem}-{pair[1]}")
def piece(request: pytest.FixtureRequest) -> Lesson:
    return sample(*request.param)


def taught(right: str, left: str = "C3:4 |", level: str = "intermediate", quarters: float = 96.0) -> Lesson:
    return packing.lesson_of(sheet(right, left, quarters=quarters), rulebook.load(level), WISHES)


def test_the_rhythm_is_the_tunes(piece: Lesson) -> None:
    """Law: what is clapped is struck by the tune at these moments, and again in every place that is named."""
    cut = clapped(piece)
    assert cut is not None
    bars = piece.draft.bars
    onsets = {note.onset for note in tune(piece)}
    for first in (cut.first, *cut.again):
        moved = bars[first].start - bars[cut.first].start
        end = bars[first + cut.last - cut.first].end
        assert {note.onset + moved for note in cut.notes} == {onset for onset in onsets if bars[first].start <= onset < end}
    assert max(note.end for note in cut.notes) <= bars[cut.last].end


def test_the_rhythm_that_returns() -> None:
    """A dotted rhythm that comes three times is clapped rather than plain quarters."""
    dotted, plain = "C5:3/2 D5:1/2 E5:2 |", "C5:1 C5:1 C5:1 C5:1 |"
    cut = clapped(taught(plain + dotted * 3 + plain, "C3:4 |" * 5))
    assert cut is not None
    values = [Fraction(note.duration, 48) for note in cut.notes]
    assert [Fraction(3, 2), Fraction(1, 2), 2] == values[:3]


def test_read_by_music21(piece: Lesson, tmp_path: Path) -> None:
    """music21 reads the same moments in the same bars from the file: one staff of one line, without pitches."""
    cut = clapped(piece)
    assert cut is not None
    block = next(block for block in warm_ups(piece).blocks if isinstance(block, Music) and isinstance(block.sheet, Rhythm))
    assert isinstance(block.sheet, Rhythm)
    file = tmp_path / "rhythm.musicxml"
    file.write_bytes(rhythm_xml(block.sheet, piece.rules.level, piece.rules))
    read = music21.converter.parse(file)
    struck = [n for n in read.recurse().notes if n.tie is None or n.tie.type == "start"]
    start, unit = piece.draft.bars[cut.first].start, piece.draft.resolution
    assert [Fraction(note.onset - start, unit) for note in cut.notes] == [
        Fraction(n.getOffsetInHierarchy(read)).limit_denominator(96) for n in struck
    ]
    assert {"Unpitched"} == {type(n).__name__ for n in struck}
    assert [piece.number(k) for k in range(cut.first, cut.last + 1)] == [
        measure.measureNumberWithSuffix() for measure in read.parts[0].getElementsByClass("Measure")
    ]


def test_places_are_played(piece: Lesson) -> None:
    """Law: the keys of a place are struck by that hand, one after another, from the bar that is named on."""
    pictures = [keys for block in warm_ups(piece).blocks if isinstance(block, Keyboards) for keys in block.pictures]
    found = [(hand, place) for hand in ("right", "left") for place in positions(piece, hand)]
    assert len(found) == len(pictures)
    for (hand, place), keys in zip(found, pictures, strict=True):
        assert {midi for midi, _ in keys.pressed} == {key for stroke in place for key in stroke.keys}
        played = strokes(piece, hand, place[0].onset, place[-1].onset + 1)
        assert [stroke.keys for stroke in played] == [stroke.keys for stroke in place]


def test_drills_are_neighbours_in_the_piece(piece: Lesson) -> None:
    """Law: each drill takes two strokes that follow each other in one hand of the piece."""
    for way in ways(piece):
        row = strokes(piece, way.hand, 0, piece.draft.end)
        assert (way.origin, way.goal) in list(pairwise(row))
        assert way.far >= piece.rules.number("hands.leap.least")


def test_a_drill_goes_there_and_back() -> None:
    """Two octaves in a quarter at ♩ = 120: drilled twice in half-notes, on the keys of the piece."""
    lesson = taught("E5:4 |" * 2, "C2:1 C4:1 G3:2 | C3:4 |", quarters=120)
    found = ways(lesson)
    assert [("left", (36,), (60,), 0.5)] == [(way.hand, way.origin.keys, way.goal.keys, way.seconds) for way in found]
    made = drills(lesson, found)
    assert [36, 60, 36, 60] == [note.midi for note in made.notes]
    assert [0, 96, 192, 288] == [note.onset for note in made.notes]


def test_what_lies_under_the_hand_is_not_drilled() -> None:
    """Five fingers on five keys: no way to drill, and no heading for it."""
    lesson = taught("C4:1 D4:1 E4:1 G4:1 |", "C3:4 |")
    assert () == ways(lesson)
    assert "Quick ways" not in " ".join(getattr(block, "text", "") for block in warm_ups(lesson).blocks)
