"""Accidentals, clefs, octave lines."""

from __future__ import annotations

import pytest
from lxml import etree

from tests.notate.scores import written


def accidentals(root: etree._Element, staff: int = 1) -> list[str]:
    """What is printed before each note of a staff; courtesies in brackets."""
    found = []
    for note in root.iter("note"):
        if note.find("pitch") is None or note.findtext("staff") != str(staff):
            continue
        sign = note.find("accidental")
        text = "" if sign is None else sign.text or ""
        found.append(f"({text})" if sign is not None and sign.get("cautionary") else text)
    return found


@pytest.mark.parametrize(
    ("key", "bars", "expected"),
    [
        ("C major", "f#5:4 f#5 f5 f5 |", ["sharp", "", "natural", ""]),  # in force to the bar line
        ("C major", "f#5:2 g5 | f5:2 g5 |", ["sharp", "", "(natural)", ""]),  # reminder in the next bar
        ("C major", "f#5:2 g5 | g5:1 | f5:1 |", ["sharp", "", "", ""]),  # and no longer
        ("C major", "f#5:2 f4 |", ["sharp", "(natural)"]),  # another octave
        ("G major", "f#5:2 f5 | f#5:1 |", ["", "natural", "(sharp)"]),
        ("G major", "f#5:4 f5:4 f#5:2 |", ["", "natural", "sharp"]),
        ("C major", "f#5:1~ | f#5:2 f5:2 |", ["sharp", "", "(natural)"]),  # a tied note prints none
        ("C major", "f#5:1~ | f#5:2 f#5:2 |", ["sharp", "", "sharp"]),  # nor does it count in its bar
        ("Bb major", "b5:2 bb5 |", ["natural", "flat"]),
        ("E major", "f##5:2 f#5 |", ["double-sharp", "sharp"]),
    ],
)
def test_accidentals_by_key_and_bar(key: str, bars: str, expected: list[str]) -> None:
    """A sign holds for its line or space to the end of the bar; courtesies where the eye expects another (common practice)."""
    count = bars.count("|")
    assert expected == accidentals(written(f"meter 4/4\nkey {key}\nright | {bars}\nleft | {'c3:1 | ' * count}"))


def test_a_reminder_for_the_other_hand() -> None:
    """F sharp in the left hand, F in the right in the same bar: the right hand is reminded."""
    root = written("meter 4/4\nright | g5:2 f5:2 |\nleft | f#3:1 |")
    assert ["", "(natural)"] == accidentals(root)


def clefs(root: etree._Element, staff: int) -> list[tuple[str, str]]:
    """(bar, sign) of each clef of a staff."""
    return [
        (measure.get("number") or "", clef.findtext("sign") or "")
        for measure in root.iter("measure")
        for clef in measure.iter("clef")
        if clef.get("number") == str(staff)
    ]


HIGH = (
    "meter 4/4\nright | c6:1 | c6:1 | c6:1 | c6:1 | c6:1 |\nleft | c3:1 | g4:4 a4 b4 c5 | d5:4 c5 b4 a4 | g4:4 a4 b4 c5 | c3:4 g2 e2 c2 |"
)


def test_a_clef_for_a_passage() -> None:
    """Three bars above middle C in the left hand: treble clef for them, bass clef after."""
    assert [("1", "F"), ("2", "G"), ("5", "F")] == clefs(written(HIGH), 2)


def test_no_clef_for_a_note() -> None:
    """One high chord stays on its ledger lines."""
    assert [("1", "F")] == clefs(written("meter 4/4\nright | c6:1 | c6:1 |\nleft | c3:2 <g4 c5>:2 | c3:1 |"), 2)


def test_beginners_keep_their_clefs() -> None:
    """Below the third level each hand keeps its clef."""
    assert [("1", "F")] == clefs(written(HIGH, order=2), 2)


def test_no_clef_under_a_held_note() -> None:
    """The clef waits until nothing is held over."""
    root = written(
        "meter 4/4\nright | c6:1 | c6:1 | c6:1 |\nleft | c4:1~ | c4:4 g4:4 b4 d5 | <g4 b4 d5>:4 <g4 c5 e5> <g4 c5 e5> <g4 c5 e5> |"
    )
    found = clefs(root, 2)
    assert ("2", "G") not in found or root.find("part/measure[2]/attributes") is None


def test_an_octave_line_over_far_notes() -> None:
    """Notes beyond the fifth ledger line stand under one 8va line; the written pitch in the file stays the sounding one."""
    root = written("meter 4/4\nright | c6:4 b6 c7 d7 | e7:4 d7 c7 b6 | c6:1 |\nleft | c3:1 | c3:1 | c3:1 |")
    shifts = [(shift.get("type"), shift.get("size")) for shift in root.iter("octave-shift")]
    assert [("down", "8"), ("stop", "8")] == shifts
    assert ["6", "7"] == sorted({octave.text or "" for octave in root.findall(".//staff[.='1']/../pitch/octave")})
    assert 0 == len(list(written("meter 4/4\nright | c6:4 b6 c7 d7 |\nleft | c3:1 |").iter("octave-shift")))
