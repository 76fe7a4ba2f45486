"""Practice steps to the printed left hand."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from pathlib import Path

import pytest

from reduce import packing, rulebook
from reduce.hands.check import check
from reduce.notate import musicxml
from reduce.read import as_draft, load
from reduce.teach import Lesson
from reduce.teach.practice import printed_bars
from reduce.teach.steps import steps
from reduce.teach.tempi import MARKS, at_tempo, ladder, metronome
from tests.hands.tiny import sheet
from tests.teach.material import FERRY, WALTZ, WISHES, lesson, sample

LEVELS = ("first-year", "late-beginner", "early-intermediate", "intermediate", "advanced")
EVERY = [
    (score, level)
    for score in (WALTZ, FERRY)
    for level in ("first-year", "late-beginner", "early-intermediate", "intermediate", "advanced")
]
WALTZ_BASS = """
meter 3/4
tempo 120
Violin 1 | e5:2 g5:4 | d5:2 b4:4 | c5:2. | c5:2. |
Violin 2 | c5:2.     | b4:2 g4:4 | g4:2. | g4:2. |
Viola    | r:4 <e4 g4> <e4 g4> | r:4 <d4 g4> <d4 g4> | r:4 <e4 g4> <e4 g4> | <e4 g4>:2. |
Cello    | c3:2. | g2:2. | c3:2. | c3:2. |
"""


@pytest.fixture(params=EVERY, ids=lambda pair: f"{pair[0].stem}-{pair[1]}")
def piece(request: pytest.FixtureRequest) -> Lesson:
    return sample(*request.param)


def test_same_bars_same_numbers(piece: Lesson) -> None:
    """Law: a step stands on the bars of the piece, with their printed numbers."""
    for step in steps(piece):
        assert piece.draft.bars == step.draft.bars


def test_each_note_sounds_in_the_final_chord(piece: Lesson) -> None:
    """Law: each left-hand note of a step is a key that the printed left hand plays in that chord, and a tone of the chord.

    Where the printed left hand was simple enough it stays as it is.
    """
    printed = piece.hand("left")
    same = {(note.onset, note.midi) for note in printed}
    for step in steps(piece):
        for note in step.draft.notes:
            if note.hand == "left" and (note.onset, note.midi) not in same:
                chord, start, end = next((c, s, e) for c, _, s, e in piece.pieces if s <= note.onset < e)
                assert note.midi % 12 in chord.tones
                assert note.midi in {other.midi for other in printed if start <= other.onset < end}
                assert note.end <= end


def test_playable_at_the_easier_level(piece: Lesson) -> None:
    """Law: the check finds each step playable at the level below, and lighter than the piece at the same slow tempo."""
    whole = check(at_tempo(piece, piece.draft, ladder(piece)[0]), piece.rules.level, piece.rules).weight
    for step in steps(piece):
        report = check(step.draft, piece.easier.level, piece.easier)
        assert report.playable
        assert report.weight < whole
        assert not [breach for breach in report.hard if breach.what == "bars"]


def test_each_step_is_nearer_to_the_print(piece: Lesson) -> None:
    """The left hand strikes no less often from step to step, and least in the first."""
    strokes = [len({note.onset for note in step.draft.notes if note.hand == "left"}) for step in steps(piece)]
    keys = [sum(note.hand == "left" for note in step.draft.notes) for step in steps(piece)]
    assert sorted(strokes) == strokes
    assert sorted(keys) == keys


def test_a_step_reads_back(piece: Lesson, tmp_path: Path) -> None:
    """Written as MusicXML and read by our own reader, a step has the same notes."""
    for step in steps(piece):
        file = tmp_path / "step.musicxml"
        file.write_bytes(musicxml(step.draft, piece.rules.level, piece.rules))
        again = as_draft(load(file, piece.rules.instruments))
        assert again is not None
        wanted = sorted((n.hand, n.onset * again.resolution // step.draft.resolution, n.midi) for n in step.draft.notes)
        assert wanted == sorted((n.hand, n.onset, n.midi) for n in again.notes)


def test_a_waltz_bass(tmp_path: Path) -> None:
    """First the bass in dotted halves, then chords in one grip: both with the tune as it is."""
    found = steps(lesson(WALTZ_BASS, tmp_path))
    left = [sorted((n.onset // n.duration if n.duration else 0, n.midi) for n in step.draft.notes if n.hand == "left") for step in found]
    assert ["bass", "blocks"] == [step.kind for step in found]
    assert [48, 43, 48, 48] == [midi for _, midi in left[0]]
    assert len(left[1]) > len(left[0])


def test_a_simple_left_hand_needs_no_steps(tmp_path: Path) -> None:
    """Whole notes are the printed left hand already."""
    assert () == steps(lesson("meter 4/4\nViolin 1 | e5:2 g5 | c5:1 |\nCello | c3:1 | c3:1 |\n", tmp_path, "advanced"))


def test_the_tune_in_the_left_hand_stays(tmp_path: Path) -> None:
    """Where the right hand rests, the left hand has the tune, and a step keeps it."""
    one = lesson(WALTZ_BASS, tmp_path)
    alone = replace(one.draft, notes=tuple(note for note in one.draft.notes if note.hand == "left" or note.onset >= one.draft.bars[1].end))
    printed = {(n.onset, n.midi) for n in alone.notes if n.hand == "left" and n.onset < alone.bars[1].end}
    for step in steps(replace(one, draft=alone)):
        assert printed == {(n.onset, n.midi) for n in step.draft.notes if n.hand == "left" and n.onset < alone.bars[1].end}


def test_tempi_climb_to_the_piece() -> None:
    """Metronome marks from half the tempo to the piece's own (Maelzel's scale: common practice)."""
    assert (40, 54, 66, 80) == ladder(sample(WALTZ, "late-beginner"))
    assert [60, 63, 66, 69, 72, 76, 80] == [mark for mark in MARKS if 60 <= mark <= 80]
    assert [20, 208, 120, 69] == [metronome(beats) for beats in (3, 400, 121, 68)]


def test_a_quick_waltz_is_counted_in_bars() -> None:
    """Three quarters at 264 are no metronome marks: the bar is the beat, 88; four at 264 go in halves (common practice)."""
    for beats, expected in ((3, 88), (4, 132)):
        quick = sheet("C5:4 D5:4 E5:4 |", "C3:4 C3:4 C3:4 |", beats=beats, quarters=264)
        assert expected == ladder(packing.lesson_of(quick, rulebook.load("advanced"), WISHES))[-1]


def test_a_long_piece_prints_its_hardest_phrases() -> None:
    """No more bars than the rule allows, in phrases that do not overlap, each with a left hand that is simpler than the printed one."""
    piece = sample(FERRY, "intermediate")
    most = piece.rules.whole("teach.practice-length.bars")
    made = steps(piece)
    parts = printed_bars(piece, made)
    bars = [k for first, last in parts for k in range(first, last + 1)]
    assert len(parts) > 1
    assert sorted(set(bars)) == bars
    assert len(bars) <= most
    for step in made:
        changed = {piece.bar_at(note.onset) for note in step.draft.notes if note.id.startswith("step-")}
        assert all(changed & set(range(first, last + 1)) for first, last in parts)


def test_grips_are_those_of_the_level_below() -> None:
    """At early intermediate the sample's broken chords are first basses, then grips of no more keys than the level below holds."""
    piece = sample(FERRY, "early-intermediate")
    made = steps(piece)
    assert ["bass", "blocks"] == [step.kind for step in made]
    onsets = Counter(note.onset for note in made[1].draft.notes if note.id.startswith("step-"))
    assert 2 <= max(onsets.values()) <= piece.easier.level.notes_left


def test_where_both_hands_are_too_much_the_right_one_rests() -> None:
    """At late beginner the sample's chords in one grip are learned by the left hand alone, as the first year holds two keys."""
    made = steps(sample(FERRY, "late-beginner"))
    assert [("bass", "tune"), ("blocks", "none")] == [(step.kind, step.right) for step in made]
