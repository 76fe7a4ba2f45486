"""Lines of music for the screen, and a stretch of bars cut out of a file."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from lxml import etree

from reduce import rulebook
from reduce.engrave.screen import screen
from reduce.engrave.stretch import bar_numbers, matching, renamed, stretch
from reduce.read import load
from tests import tiny

TUNE = """
meter 3/4
key A major
Violin 1 | e5:2.  | c#5:4 d5 e5 | a5:2.~ | a5:2. | e5:4 d5 c#5 | a4:2. |
Cello    | a2:2.  | a2          | f#2    | d2    | e2          | a2    |
"""


def test_a_stretch_keeps_what_stands_before_it() -> None:
    """Key, metre, clefs and divisions of the first bar hold in the middle of the piece too; numbers stay as printed."""
    cut = stretch(tiny.musicxml(TUNE, "Tune"), 2, 4)
    root = etree.fromstring(cut)
    assert ["3", "4", "5"] == bar_numbers(cut)
    for part in root.iterfind("part"):
        attributes = part.find("measure/attributes")
        assert attributes is not None
        assert "3" == attributes.findtext("key/fifths") and "3" == attributes.findtext("time/beats")
        order = [child.tag for child in attributes]
        schema = ["divisions", "key", "time", "staves", "clef", "transpose"]  # MusicXML 4.0, element attributes
        assert order == sorted(order, key=schema.index)


def test_a_change_in_the_middle_wins() -> None:
    """A key that changes before the stretch holds in it; one at its first bar is not told twice."""
    text = tiny.musicxml(TUNE, "Tune").decode("utf-8")
    change = "<attributes><key><fifths>-2</fifths></key></attributes>"
    text = re.sub(r'(<measure number="3"[^>]*>)', rf"\1{change}", text)
    later = etree.fromstring(stretch(text.encode("utf-8"), 3, 5))
    at_once = etree.fromstring(stretch(text.encode("utf-8"), 2, 5))
    for root in (later, at_once):
        first = root.find("part/measure")
        assert first is not None
        assert ["-2"] == [key.text for key in first.iterfind("attributes/key/fifths")]


def test_a_stretch_is_read_as_the_same_notes(tmp_path: Path) -> None:
    """The bars cut out hold the notes that the whole piece has there."""
    folder = tmp_path
    whole = tiny.musicxml(TUNE, "Tune")
    (folder / "whole.musicxml").write_bytes(whole)
    (folder / "cut.musicxml").write_bytes(stretch(whole, 1, 2))
    instruments = rulebook.load("intermediate").instruments
    all_notes, cut = load(folder / "whole.musicxml", instruments), load(folder / "cut.musicxml", instruments)
    start = all_notes.bars[1].start
    expected = [(n.part, n.onset - start, n.midi) for n in all_notes.notes if n.bar in (1, 2)]
    assert expected == [(n.part, n.onset, n.midi) for n in cut.notes]


def test_bars_are_found_by_their_numbers() -> None:
    """The first place where the numbers stand in a row; none is an error."""
    assert 2 == matching(["0", "1", "2", "3", "4"], ["2", "3"])
    assert 1 == matching(["1", "1", "2", "2"], ["1", "2"])
    with pytest.raises(ValueError, match="not in the score"):
        matching(["1", "2", "3"], ["3", "4"])


def test_tied_pieces_have_one_name() -> None:
    """A note and its tails answer together; other notes are counted in the order of the file."""
    text = b'<note id="a"/><note id="b&amp;&lt;"/><note default-x="3" id="a-tie2"/><note/><note id="c-tie2"/>'
    named, ids = renamed(text, "d")
    assert b'<note id="d0"/><note id="d1"/><note default-x="3" id="d0"/><note/><note id="d2"/>' == named
    assert ("a", "b&<", "c-tie2") == ids


def test_lines_hold_every_bar_and_note() -> None:
    """Each bar once, in order; each named note drawn; only the classes that the page uses; one set of signs for all lines."""
    text = tiny.musicxml(TUNE, "Tune").decode("utf-8")
    count = iter(range(1000))
    text = re.sub(r"<note\b(?![^>]*\bid=)", lambda _: f'<note id="q{next(count)}"', text)
    named, ids = renamed(text.encode("utf-8"), "d")
    found = screen(named, 7.0, 90.0)
    assert len(found.lines) > 1
    assert list(range(6)) == [bar for line in found.lines for bar in range(*line.bars)]
    whole = "".join(line.body for line in found.lines)
    drawn = set(re.findall(r'data-n="(d\d+)"', whole))
    rests = whole.count("E4E5") + whole.count("E4E3")
    assert 0 == rests and {f"d{k}" for k in range(len(ids))} == drawn
    assert {"measure", "staff", "note", "bold", "slant"} >= set(re.findall(r'class="([^"]*)"', whole))
    assert " id=" not in whole
    assert set(re.findall(r'href="#(\w+)"', whole)) <= set(found.glyphs)
    for line in found.lines:
        etree.fromstring(f'<svg xmlns="http://www.w3.org/2000/svg">{line.body}</svg>')
