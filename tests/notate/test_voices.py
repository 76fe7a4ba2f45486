"""Voices, rests between voices, stems, beams."""

from __future__ import annotations

import pytest
from lxml import etree

from tests.notate.scores import beams, rhythm, written


def stems(root: etree._Element, voice: int) -> set[str]:
    return {
        note.findtext("stem") or "" for note in root.iter("note") if note.findtext("voice") == str(voice) and note.find("pitch") is not None
    }


def voices(root: etree._Element, bar: int = 1) -> list[str]:
    return sorted({note.findtext("voice") or "" for note in root.findall(f"part/measure[{bar}]/note")})


def test_one_rhythm_is_one_voice() -> None:
    """Two strands in one rhythm are chords on one stem."""
    root = written("meter 4/4\nright | c5:4 d5 e5:2 |\nright, voice 2 | e4:4 f4 g4:2 |\nleft | c3:1 |")
    assert ["1", "5"] == voices(root)
    assert 3 == len(root.findall(".//chord"))


def test_two_rhythms_are_two_voices() -> None:
    """A tune over a held note: tune with stems up in voice 1, held note with stems down in voice 2."""
    root = written("meter 4/4\nright | g5:4 a5 b5:2 |\nright, voice 2 | c5:1 |\nleft | c3:1 |")
    assert ("4 4 2", "1") == (rhythm(root, 1), rhythm(root, 2))
    assert {"up"} == stems(root, 1)


def test_the_left_hand_counts_from_the_top_too() -> None:
    """The bass is strand 1 and the lower voice: 6, stems down; what moves above it is voice 5, stems up."""
    root = written("meter 4/4\nright | c5:1 |\nleft | c3:2 g2 |\nleft, voice 2 | e3:4 g3 e3 g3 |")
    assert ("4 4 4 4", "2 2") == (rhythm(root, 5), rhythm(root, 6))
    assert ({"up"}, {"down"}) == (stems(root, 5), stems(root, 6))


def test_lines_that_take_turns_are_one_voice() -> None:
    """Where only one strand sounds at a time no second voice and no second rest is printed."""
    root = written("meter 4/4\nright | r:2 g5:4 a5 |\nright, voice 2 | c5:4 d5 r:2 |\nleft | c3:1 |")
    assert "4 4 4 4" == rhythm(root)
    assert ["1", "5"] == voices(root)


def test_the_second_voice_waits_unseen() -> None:
    """A bar with two rhythms in its first half only: the second voice's other half is there, but not printed."""
    root = written("meter 4/4\nright | g5:4 a5 b5:2 |\nright, voice 2 | c5:2 d5:2 |\nleft | c3:1 |")
    assert ("4 4 2", "2 (2)") == (rhythm(root, 1), rhythm(root, 2))


def test_a_rest_that_must_be_counted_is_printed() -> None:
    """An inner voice that enters after a rest under a held tune shows the rest; after its last note it waits unseen."""
    root = written("meter 4/4\nright | g5:1 |\nright, voice 2 | r:4 c5:4 d5:4 r:4 |\nleft | c3:1 |")
    assert "r4 4 4 (4)" == rhythm(root, 2)


def test_a_beat_is_not_left_open() -> None:
    """An inner voice that ends inside a beat fills that beat with a rest and then waits unseen."""
    root = written("meter 4/4\nright | g5:1 |\nright, voice 2 | c5:4 d5:8 r:8 r:2 |\nleft | c3:1 |")
    assert "4 8 r8 (2)" == rhythm(root, 2)


def test_both_silent_is_said_once() -> None:
    """Where both voices of a hand rest, one rest is printed."""
    root = written("meter 4/4\nright | g5:4 a5 r:2 |\nright, voice 2 | c5:2 r:2 |\nleft | c3:1 |")
    assert ("4 4 r2", "2 (2)") == (rhythm(root, 1), rhythm(root, 2))


def test_a_unison_keeps_two_stems() -> None:
    """Two strands on one key are two voices: a chord cannot hold a note twice."""
    root = written("meter 4/4\nright | c5:4 d5 e5:2 |\nright, voice 2 | c5:4 b4 c5:2 |\nleft | c3:1 |")
    assert "2" in voices(root)


@pytest.mark.parametrize(("bar", "expected"), [("e4:4 g4 b4 d5", ["up", "up", "down", "down"]), ("<e4 f5>:2 <g4 f5>:2", ["down", "down"])])
def test_stems_by_the_farthest_note(bar: str, expected: list[str]) -> None:
    """In one voice the note farthest from the middle line decides; on the line and in doubt the stem points down."""
    root = written(f"meter 4/4\nright | {bar} |\nleft | r:1 |")
    assert expected == [
        note.findtext("stem") for note in root.iter("note") if note.find("pitch") is not None and note.find("chord") is None
    ]


@pytest.mark.parametrize(
    ("head", "bar", "order", "expected"),
    [
        ("4/4", "c5:8 d5 e5 f5 g5 f5 e5 d5", 6, "[--][--]"),  # half bars
        ("4/4", "c5:8 d5 e5 f5 g5 f5 e5 d5", 1, "[][][][]"),  # beats, for beginners
        ("4/4", "c5:4. d5:8 e5 f5 g5:4", 6, "..[]."),
        ("4/4", "c5:8 d5:4 e5:8 f5:8 g5 a5 b5", 6, "...[--]"),
        ("4/4", "c5:16 d5 e5 f5 g5:8 f5 e5:2", 6, "[--][]."),
        ("2/4", "c5:8 d5 e5 f5", 6, "[--]"),
        ("3/4", "c5:8 d5 e5 f5 g5 a5", 6, "[----]"),
        ("6/8", "c5:8 d5 e5 f5 g5 a5", 6, "[-][-]"),
        ("6/8", "c5:4 d5:8 e5 f5 g5", 6, "..[-]"),
        ("5/8", "c5:8 d5 e5 f5 g5", 6, "[-][]"),
        ("7/8", "c5:8 d5 e5 f5 g5 a5 b5", 6, "[][][-]"),
        ("3/8", "c5:8 d5 e5", 6, "[-]"),
        ("2/2", "c5:8 d5 e5 f5 g5 a5 b5 c6", 6, "[--][--]"),
        ("4/4", "c5:8 r:8 e5:8 f5:8 g5:2", 6, "..[]."),  # a rest ends a beam
        ("4/4", "c5:8t d5 e5 f5:8 g5 a5:2", 6, "[-][]."),
    ],
)
def test_beams_by_the_beat(head: str, bar: str, order: int, expected: str) -> None:
    """Beams show the beat and its groups (Gould, *Behind Bars*, 2011, 'Beaming'; from memory)."""
    assert expected == beams(
        written(f"meter {head}\nright | {bar} |\nleft | r:{'1' if head in ('4/4', '2/2') else _bar(head)} |", order=order)
    )


def _bar(head: str) -> str:
    return {"2/4": "2", "3/4": "2.", "6/8": "2.", "5/8": "2 r:8", "7/8": "2..", "3/8": "4."}[head]


def test_second_beams_and_hooks() -> None:
    """A dotted eighth and a sixteenth: one beam, and a half beam that points back."""
    root = written("meter 2/4\nright | c5:8. d5:16 e5:16 f5:8. |\nleft | r:2 |")
    second = [note.findtext("beam[@number='2']") for note in root.iter("note") if note.find("pitch") is not None]
    assert [None, "backward hook", "forward hook", None] == second
