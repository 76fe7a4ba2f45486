"""Chords that a bar cannot bear lie closer, or all around it have a note less."""

from __future__ import annotations

from pathlib import Path

import pytest

from reduce import pipeline
from reduce.arrange.chord_sizes import CLOSE, LAST_STROKES, SMALLER, closer, slimmer, stretches
from reduce.arrange.desk import taste_of
from reduce.arrange.figured import positions
from reduce.arrange.figures import Strike
from reduce.arrange.outline import Outline
from reduce.hands.check import check
from reduce.hands.report import BarLoad
from reduce.model.texture import Chord
from tests import tiny
from tests.arrange import lines

FULL = ("span", "notes at once")


LEVEL = lines.rules("early-intermediate").level


def _loads(*rows: tuple[str, ...], total: float = 2.0) -> list[BarLoad]:
    return [
        BarLoad(
            bar=bar, number=str(bar + 1), total=total, weight=1.0, parts=(), at_limit=row, outlier=False, familiar=False,
            over_budget=len(row) > LEVEL.at_limit_per_bar,
        )
        for bar, row in enumerate(rows)
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("limits", "tried", "wanted"),
    [
        ((*FULL, "shifts"), 0, CLOSE),  # in close position the reach is no longer at its limit
        (("notes at once", "shifts", "accidentals"), 0, CLOSE),  # another place may spare the shift
        (("notes at once", "shifts", "accidentals"), CLOSE, SMALLER),
        (("notes at once", "shifts", "accidentals"), SMALLER, SMALLER),
        (("speed", "shifts", "accidentals"), 0, 0),  # no chord is the cause: it keeps its notes
        (("speed", "shifts", "accidentals", "notes at once"), 0, 0),  # nor would a note less be enough: fewer strokes come first
        (FULL, 0, 0),  # two things are what the level allows
    ],
)
def test_chords_become_lighter_where_that_helps(limits: tuple[str, ...], tried: int, wanted: int) -> None:
    found = slimmer(_loads(limits), {0: 1}, {0: tried} if tried else {}, (), 4.5, LEVEL)
    assert found.get(0, 0) == wanted


@pytest.mark.parametrize(
    ("limits", "eased", "hopeless", "asked"),
    [
        (("speed", "shifts"), 1, (), True),
        (("speed", "ledger lines"), 1, (), True),
        (("speed", "accidentals"), 1, (), False),  # no place is without the sign
        (("speed", "shifts"), 0, (), False),  # notes under the tune go first
        (("speed", "shifts"), 1, (0,), False),  # the tune alone asks for too much
    ],
)
def test_another_place_where_one_thing_is_the_limit(limits: tuple[str, ...], eased: int, hopeless: tuple[int, ...], asked: bool) -> None:
    assert closer(_loads((*limits, "rhythm")), {0: eased} if eased else {}, {}, hopeless) == ({0: CLOSE} if asked else {})


def test_where_no_stroke_is_left_to_lose_another_place_is_tried() -> None:
    assert slimmer(_loads(("speed", "shifts", "accidentals")), {0: LAST_STROKES}, {}, (), 4.5, LEVEL) == {0: CLOSE}


def test_notes_under_the_tune_go_before_those_of_a_chord() -> None:
    assert slimmer(_loads((*FULL, "shifts")), {}, {}, (), 4.5, LEVEL) == {}


def test_a_heavy_bar_has_lighter_chords_only_where_they_are_full() -> None:
    assert slimmer(_loads(("notes at once",), ("speed",), total=5.0), {0: 1, 1: 1}, {}, (), 4.5, LEVEL) == {0: CLOSE}


EVERY = frozenset(range(16))


@pytest.mark.parametrize(
    ("needs", "full", "joints", "found"),
    [
        (set(), EVERY, {0, 4, 8, 12}, set()),
        ({5}, EVERY, {0, 4, 8, 12}, {4, 5, 6, 7}),  # the phrase, not the bar
        ({5, 10}, EVERY, {0, 4, 8, 12}, set(range(4, 12))),  # two phrases rather than a change between them
        ({1, 5, 10, 14}, EVERY, {0}, set(EVERY)),  # the whole piece rather than a change in every phrase
        ({15}, EVERY, {0, 4, 8, 12}, {12, 13, 14, 15}),
        ({0}, frozenset({0}), {0}, set(EVERY)),  # where no other chord is full nothing is lost
    ],
)
def test_sizes_change_with_the_phrase(needs: set[int], full: frozenset[int], joints: set[int], found: set[int]) -> None:
    """Law: every bar that needs it has smaller chords; sizes are kept for four bars and change where a phrase begins."""
    made = stretches(16, needs, full, joints, lines.rules("early-intermediate"))
    assert needs <= made
    assert made & full == found & full


def test_every_stretch_is_four_bars_long() -> None:
    """Law: whatever single bars need, no size is kept for less than four bars."""
    for bar in range(12):
        for other in range(bar, 12):
            made = stretches(12, {bar, other}, set(range(12)), {0, 3, 6, 9}, lines.rules("early-intermediate"))
            runs = "".join("x" if place in made else "." for place in range(12))
            assert {bar, other} <= made
            assert [run for run in (*runs.split("x"), *runs.split(".")) if 0 < len(run) < 4] == []


SEVENTHS = """
meter 4/4
key C major
tempo 84
Oboe | e5:2 g5 | f5:2 a5 | e5:2 c5 | f5:4 e5 d5 c5 | e5:2 g5 | c5:2 a4 | d5:2 b4 | c5:1 |
Violin 2 | <e4 g4>:1 | <f4 a4>:1 | <e4 g4>:1 | <c4 f#4>:2 <b3 g4> | <e4 g4>:1 | <f4 a4>:1 | <f4 g4>:1 | <e4 g4>:1 |
Viola | c4:1 | c4:1 | c4:1 | a3:2 d4 | c4:1 | c4:1 | b3:1 | c4:1 |
Cello | c3:1 | f3:1 | c3:1 | d3:2 g2 | c3:1 | f3:1 | g2:1 | c3:1 |
"""


def test_a_seventh_lies_close_before_a_note_is_lost(tmp_path: Path) -> None:
    """Law: a bar that cannot bear the reach of a seventh has the chord in close position, with all three notes, and says why."""
    path = tmp_path / "sevenths.musicxml"
    path.write_bytes(tiny.musicxml(SEVENTHS))
    (tmp_path / "rules" / "levels").mkdir(parents=True)
    (tmp_path / "rules" / "levels" / "early-intermediate.toml").write_text('figures = ["block-chords"]\n', encoding="utf-8")
    made = pipeline.draft(path, level="early-intermediate", key="keep", length="full", rules_dir=tmp_path / "rules")
    assert [load.number for load in check(made.draft, made.rules.level, made.rules).load if load.over_budget] == []
    bar = made.draft.bars[3]
    left = sorted((n.onset - bar.start, n.midi) for n in made.draft.notes if n.hand == "left" and bar.start <= n.onset < bar.end)
    half = 2 * made.draft.resolution
    assert left == [(0, 50), (0, 54), (0, 57), (half, 47), (half, 50), (half, 55)]  # D, F sharp, A and the nearest chord on G
    assert sum("Bar 4: the left hand's chords lie within 9 semitones" in d.sentence for d in made.decisions) == 1
    assert [d.sentence for d in made.decisions if d.rule == "easing.chords"] == []


SIGNED = """
meter 4/4
key C major
tempo 72
Oboe     | e5:2 d5 | c5:4 d5:8 e5 f5:4 e5 | d5:4 a5 e5 c5 | b4:2 d5 | c5:4 d5:8 e5 f5:4 e5 | e5:4 d5 c5:2 | c5:1 |
Violin 2 | <e4 g4>:1 | <e4 g4>:1 | <f#4 a4>:1 | <d4 g4>:1 | <e4 g4>:1 | <e4 g4>:1 | <e4 g4>:1 |
Cello    | c3:1 | c3:1 | d3:1 | g3:1 | c3:1 | c3:1 | c3:1 |
"""


def test_the_note_that_is_lost_is_the_one_with_a_sign(tmp_path: Path) -> None:
    """Law: where a sign is one thing too many the chord goes without it, and is no single key held instead."""
    path = tmp_path / "signed.musicxml"
    path.write_bytes(tiny.musicxml(SIGNED))
    (tmp_path / "rules" / "levels").mkdir(parents=True)
    (tmp_path / "rules" / "levels" / "late-beginner.toml").write_text('figures = ["block-chords"]\n', encoding="utf-8")
    made = pipeline.draft(path, level="late-beginner", key="keep", length="full", rules_dir=tmp_path / "rules")
    assert [load.number for load in check(made.draft, made.rules.level, made.rules).load if load.over_budget] == []
    bar = made.draft.bars[2]
    left = sorted((n.onset - bar.start, n.midi % 12) for n in made.draft.notes if n.hand == "left" and bar.start <= n.onset < bar.end)
    assert left == [(0, 2), (0, 9)]  # D and A, without the F sharp
    told = [d.sentence for d in made.decisions if d.rule == "easing.bar" and d.bars == (2, 2)]
    assert len(told) == 1
    assert told[0].startswith("Bar 3: chords go without the note that needs an accidental")


@pytest.mark.parametrize(("heard", "keys"), [({4, 7}, (48, 52)), ({7}, (48, 55)), (set(), (48, 52))])
def test_a_chord_of_two_keys_takes_one_that_is_struck(heard: set[int], keys: tuple[int, ...]) -> None:
    """Law: the one note above the lowest is one that sounds wherever the chord is struck, or two keys would be one."""
    chord = Chord(start=0, end=96, root=0, quality="major", bass=0, tones=(0, 4, 7))
    found = positions(
        [Strike(0, 96, "left", "chord", 2, 0)], [chord], {0: 48}, {}, Outline(()), {0: 11}, 3, lambda _chord, pc: 1.3 if pc == 4 else 0.85,
        taste_of(lines.rules("early-intermediate")), lambda _keys: True, lambda _tick: 48.0, lambda _index, pc, _low: pc in heard,
    )  # fmt: skip
    assert found[0].keys == keys
