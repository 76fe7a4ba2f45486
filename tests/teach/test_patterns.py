"""What repeats in the notes."""

from __future__ import annotations

from pathlib import Path

import music21
import pytest

from reduce import packing, rulebook
from reduce.hands.hand import grip
from reduce.model.pitch import Pitch
from reduce.teach import Lesson, words
from reduce.teach.makings import makings
from reduce.teach.naming import interval, placed
from reduce.teach.patterns import Pattern, ends, pattern, places, strokes, told
from tests.hands.tiny import sheet
from tests.teach.material import FERRY, WALTZ, WISHES, sample

EVERY = [(score, level) for score in (WALTZ, FERRY) for level in ("first-year", "late-beginner", "intermediate", "advanced")]
KINDS = {"dominant": "dominant-seventh", "half-diminished-seventh": "half-diminished"}  # music21 10 -> our names


def taught(left: str, right: str = "G4:4 |", level: str = "intermediate") -> Lesson:
    return packing.lesson_of(sheet(right, left), rulebook.load(level), WISHES)


def found(left: str, right: str = "G4:4 |", level: str = "intermediate") -> Pattern | None:
    lesson = taught(left, right, level)
    return pattern(lesson, strokes(lesson, "left", 0, lesson.draft.end))


@pytest.mark.parametrize(
    ("kind", "left"),
    [
        ("octave-lower", "C4:1/2 E4:1/2 G4:1/2 C3:1/2 E3:1/2 G3:1/2 r:1 |"),
        ("octave-higher", "C2:1 D2:1/2 G2:1/2 C3:1 D3:1/2 G3:1/2 |"),
        ("run-up", "C3:1/2 D3:1/2 E3:1/2 F3:1/2 G3:1/2 A3:1/2 B3:1/2 C4:1/2 |"),
        ("five-down", "G3:1/2 F3:1/2 E3:1/2 D3:1/2 C3:2 |"),
        ("bass-and-chord", "C3:1 E3+G3:1 E3+G3:1 E3+G3:1 |"),
        ("bass-and-chord", "C2+C3:1 E3+G3:1 E3+G3:2 |"),
        ("stride", "C3:1 E3+G3:1 G2:1 E3+G3:1 |"),
        ("in-turn", "C3:1/2 G3:1/2 C3:1/2 G3:1/2 C3:1/2 G3:1/2 C3:1/2 G3:1/2 |"),
        ("broken-chord", "C3:1 E3:1 G3:1 E3:1 |"),
        ("wide-chord", "C2:1 G2:1 E3:1 C4:1 |"),
        ("again", "C3:1/2 F3:1/2 D3:1/2 A3:1/2 C3:1/2 F3:1/2 D3:1/2 A3:1/2 |"),
        ("moved", "D3:1/2 F3:1/2 E3:1/2 B3:1/2 C3:1/2 E3:1/2 D3:1/2 A3:1/2 |"),
        ("repeated", "C3+G3:1 C3+G3:1 C3+G3:1 C3+G3:1 |"),
    ],
)
def test_each_kind(kind: str, left: str) -> None:
    """One bar for each thing that can repeat."""
    pattern = found(left)
    assert pattern is not None
    assert kind == pattern.kind


@pytest.mark.parametrize("left", ["C3:4 |", "C3:1 A3:1 D3:2 |", "C3:1 G3:1 F3:1 B2:1 |", "C3+E3:2 B2+F3:2 |"])
def test_where_nothing_repeats_nothing_is_claimed(left: str) -> None:
    """Never a stock phrase that does not fit."""
    assert found(left) is None


def test_an_open_figure_is_no_chord() -> None:
    """Root, fifth and octave are neither major nor minor (common practice): no chord is claimed."""
    pattern = found("C3:1 G3:1 C4:1 G3:1 |", right="G4:4 |")
    assert pattern is None or pattern.chord is None


@pytest.mark.parametrize("pair", EVERY, ids=lambda pair: f"{pair[0].stem}-{pair[1]}")
def test_chords_as_music21_names_them(pair: tuple[Path, str]) -> None:
    """Of the notes of each broken chord, music21 (`Chord.root`, `harmony.chordSymbolFigureFromChord`) names root and kind as we do."""
    for making in makings(sample(*pair)):
        for one in (one for bar in making.each for one in bar if one.chord is not None):
            chord = music21.chord.Chord([_name(note.pitch) for stroke in one.strokes for note in stroke.notes])
            kind = music21.harmony.chordSymbolFigureFromChord(chord, True)[1]
            assert one.chord is not None
            assert (one.chord.root, one.chord.quality) == (chord.root().pitchClass, KINDS.get(kind, kind))


def test_the_samples_have_broken_chords() -> None:
    """The law above is not empty."""
    assert any(one.chord for making in makings(sample(FERRY, "intermediate")) for bar in making.each for one in bar)


@pytest.mark.parametrize("pair", EVERY, ids=lambda pair: f"{pair[0].stem}-{pair[1]}")
def test_what_is_told_is_in_the_notes(pair: tuple[Path, str]) -> None:
    """Law: each note that a pattern names is struck by that hand in that bar."""
    lesson = sample(*pair)
    for making in makings(lesson):
        for k, bar in enumerate(making.each, making.first):
            here = {
                note.midi for stroke in strokes(lesson, making.hand, lesson.draft.bars[k].start, lesson.draft.bars[k].end)
                for note in stroke.notes
            }  # fmt: skip
            assert {pitch.midi for one in bar for group in one.groups for pitch in group} <= here


def test_an_octave_lower_is_an_octave_lower() -> None:
    """'The same three notes an octave lower' is said of three notes that are twelve half-steps apart, one by one."""
    pattern = found("C4:1/2 E4:1/2 G4:1/2 C3:1/2 E3:1/2 G3:1/2 r:1 |")
    assert pattern is not None
    keys = [stroke.keys[0] for stroke in pattern.strokes]
    assert [-12, -12, -12] == [b - a for a, b in zip(keys[:3], keys[3:], strict=True)]
    assert "The same 3 notes come again an octave lower: C–E–G, then C–E–G." in told(taught("C3:4 |"), pattern)


def test_what_lies_under_the_hand() -> None:
    """'They lie under the hand' is said of a broken chord only where the hand can take its keys at once."""
    for left, kind in (("C3:1 E3:1 G3:1 E3:1 |", "broken-chord"), ("C2:1 G2:1 E3:1 C4:1 |", "wide-chord")):
        pattern = found(left)
        assert pattern is not None
        keys = tuple({key for stroke in pattern.strokes for key in stroke.keys})
        assert kind == pattern.kind
        assert (grip(keys, rulebook.load("intermediate").level.hand_span, "left") is not None) == (kind == "broken-chord")


def test_places_of_the_hand() -> None:
    """A wide arpeggio is as many places as the hand has to take: three for two octaves and a half, one for a fifth."""
    wide = taught("C2:1/2 G2:1/2 C3:1/2 E3:1/2 G3:1/2 C4:1/2 E4:1/2 G4:1/2 |")
    row = places(wide, strokes(wide, "left", 0, wide.draft.end))
    assert [("C2", "C3"), ("E3", "E4"), ("G4", "G4")] == [tuple(map(str, ends(place))) for place in row]
    close = taught("C3:1 E3:1 G3:1 E3:1 |")
    assert 1 == len(places(close, strokes(close, "left", 0, close.draft.end)))


def test_names_of_intervals_and_octaves() -> None:
    """Intervals are counted in staff steps, octaves written as the language does (common practice; ISO 16 says A4, German a′)."""
    assert ["a fifth", "a tenth", "2 octaves", "more than 3 octaves"] == [
        interval(Pitch("C", 0, 3), high, words("en")) for high in (Pitch("G", 0, 3), Pitch("E", 0, 4), Pitch("C", 0, 5), Pitch("D", 0, 6))
    ]
    assert [("A4", "a′"), ("F♯2", "Fis"), ("B♭3", "b")] == [
        (placed(pitch, words("en")), placed(pitch, words("de"))) for pitch in (Pitch("A", 0, 4), Pitch("F", 1, 2), Pitch("B", -1, 3))
    ]


def _name(pitch: Pitch) -> str:
    return f"{pitch.step}{ {-2: '--', -1: '-', 0: '', 1: '#', 2: '##'}[pitch.alter] }{pitch.octave}"


def test_one_way_through_changing_chords() -> None:
    """Of the bars of a row each has at least half its strokes in groups of that way, and the notes told are those of the groups."""
    found = [making for making in makings(sample(FERRY, "intermediate")) if making.kind == "shape"]
    assert found
    for making in found:
        for bar in making.each:
            for one in bar:
                keys = sorted({stroke.keys[0] for stroke in one.strokes})
                assert tuple(keys.index(stroke.keys[0]) for stroke in one.strokes) == making.each[0][0].facts["shape"]
                assert keys == [pitch.midi for pitch in one.groups[0]]


def test_a_thick_draft_shows_its_patterns() -> None:
    """The log says that the left hand breaks chords in bars 0-18, 27-33 and 58-72 of the sample: most of these bars are told."""
    piece = sample(FERRY, "intermediate")
    told = {k for making in makings(piece) if making.hand == "left" for k in range(making.first, making.last + 1)}
    broken = [k for k in range(len(piece.draft.bars)) if k in (*range(19), *range(27, 34), *range(58, 73))]
    assert 2 * len(told & set(broken)) > len(broken)
