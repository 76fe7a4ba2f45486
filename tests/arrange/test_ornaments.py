"""Ornaments and graces by level (levelling guidelines named in rules/ornament.toml)."""

from __future__ import annotations

import pytest

from reduce.arrange.line import Tone
from reduce.arrange.ornaments import dress_ornaments
from tests.arrange import lines

TRILL = "meter 4/4\nkey D major\nFlute | b4:2 (trill-mark) a4:2 | g4:1 |"
GRACES = "meter 4/4\nFlute | e5:g f5:g g5:4 f5 e5 d5 | c5:1 |"
LEVELS = ("first-year", "late-beginner", "early-intermediate", "intermediate", "late-intermediate", "advanced")


def dressed(text: str, level: str) -> tuple[Tone, list[str]]:
    """The first tone, and the sentences."""
    piece = lines.score(text)
    tones, decisions = dress_ornaments(lines.line(piece), piece.bars, lines.rules(level), resolution=piece.resolution)
    return tones[0], [one.sentence for one in decisions]


def test_a_trill_by_level() -> None:
    """Main note, then an upper grace in the key (C♯ above B in D major), then the sign (table of orchestral devices)."""
    got = {level: ([str(grace.pitch) for grace in dressed(TRILL, level)[0].graces], dressed(TRILL, level)[0].ornaments) for level in LEVELS}
    assert got == {
        "first-year": ([], ()),
        "late-beginner": ([], ()),
        "early-intermediate": (["C♯5"], ()),
        "intermediate": ([], ("trill-mark",)),
        "late-intermediate": ([], ("trill-mark",)),
        "advanced": ([], ("trill-mark",)),
    }


def test_of_several_graces_the_last_stay() -> None:
    got = {level: [str(grace.pitch) for grace in dressed(GRACES, level)[0].graces] for level in LEVELS}
    assert got["first-year"] == got["late-beginner"] == []
    assert got["early-intermediate"] == ["F5"]
    assert got["intermediate"] == got["advanced"] == ["E5", "F5"]


@pytest.mark.parametrize("level", LEVELS)
def test_the_tune_itself_is_whole(level: str) -> None:
    """Law: dressing changes neither the notes nor their times."""
    for text in (TRILL, GRACES):
        piece = lines.score(text)
        tones, _ = dress_ornaments(lines.line(piece), piece.bars, lines.rules(level), resolution=piece.resolution)
        assert lines.told(tones, piece.resolution) == lines.told(lines.line(piece), piece.resolution)


def test_what_is_left_out_is_said() -> None:
    assert dressed(TRILL, "first-year")[1] == [
        "Bar 1: ornaments left out and their main notes kept, because this level has none of them; the tune itself is whole."
    ]
    assert dressed(TRILL, "advanced")[1] == []


def test_the_upper_grace_follows_the_key() -> None:
    """Above E in F major stands F, a half step; above A stands B♭ (key signature, common practice)."""
    for note, upper in (("e5", "F5"), ("a4", "B♭4"), ("g4", "A4"), ("f#5", "G5")):
        text = f"meter 4/4\nkey F major\nFlute | {note}:1 (trill-mark) |"
        assert [str(grace.pitch) for grace in dressed(text, "early-intermediate")[0].graces] == [upper]
