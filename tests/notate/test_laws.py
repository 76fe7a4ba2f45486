"""Laws 4, 5 and 6 of the house, on any draft."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

from hypothesis import HealthCheck, given, settings
from lxml import etree

import reduce.read
from reduce import rulebook
from reduce.engrave.printed import Print, print_of
from reduce.model.draft import Draft
from reduce.notate import midi, musicxml
from reduce.notate.style import style_of
from tests.notate.scores import drafts, level

QUIET = settings(max_examples=60, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))


@QUIET
@given(drafts())
def test_law_4_each_voice_fills_its_bar(draft: Draft) -> None:
    """Every voice that appears in a bar begins and ends with it; bars, their order and numbers are the draft's."""
    root = etree.fromstring(musicxml(draft, level()))
    measures = root.findall("part/measure")
    divisions = int(root.findtext(".//divisions"))
    assert [bar.number for bar in draft.bars] == [measure.get("number") for measure in measures]
    for bar, measure in zip(draft.bars, measures, strict=True):
        filled: dict[str, int] = defaultdict(int)
        for note in measure.findall("note"):
            if note.find("chord") is None and note.find("grace") is None:
                filled[note.findtext("voice")] += int(note.findtext("duration"))
        due = Fraction(bar.length, draft.resolution) * divisions
        assert {due} == set(map(Fraction, filled.values()))
        assert {"1", "5"} <= filled.keys()


TYPES = {"long": 16, "breve": 8, "whole": 4, "half": 2, "quarter": 1}
TYPES |= {name: Fraction(1, 2**k) for k, name in enumerate(("eighth", "16th", "32nd", "64th", "128th", "256th", "512th", "1024th"), 1)}


@QUIET
@given(drafts())
def test_law_4_what_is_printed_lasts_what_it_says(draft: Draft) -> None:
    """Type, dots and tuplet of each note come to its duration; tuplets open and close in turn."""
    root = etree.fromstring(musicxml(draft, level()))
    divisions = int(root.findtext(".//divisions"))
    for note in root.iter("note"):
        kind = note.findtext("type")
        if kind is None or note.find("grace") is not None:
            continue
        length = Fraction(TYPES[kind]) * (2 - Fraction(1, 2 ** len(note.findall("dot"))))
        ratio = note.find("time-modification")
        if ratio is not None:
            length *= Fraction(int(ratio.findtext("normal-notes")), int(ratio.findtext("actual-notes")))
        assert length * divisions == int(note.findtext("duration"))
    for measure in root.iter("measure"):
        open_by_voice: dict[str, int] = defaultdict(int)
        for note in measure.findall("note"):
            for tuplet in note.iter("tuplet"):
                open_by_voice[note.findtext("voice")] += 1 if tuplet.get("type") == "start" else -1
                assert open_by_voice[note.findtext("voice")] in (0, 1)
        assert not any(open_by_voice.values())


@QUIET
@given(drafts())
def test_law_4_ties_are_closed(draft: Draft) -> None:
    """A tie that begins ends on the same key at that moment, in the same hand; ids are unique."""
    root = etree.fromstring(musicxml(draft, level()))
    ids = [note.get("id") for note in root.iter("note") if note.get("id")]
    assert len(ids) == len(set(ids))
    assert {note.id for note in draft.notes} <= set(ids)
    starts = sum(1 for tie in root.iter("tie") if tie.get("type") == "start")
    stops = sum(1 for tie in root.iter("tie") if tie.get("type") == "stop")
    assert starts == stops


@QUIET
@given(drafts())
def test_law_5_the_same_draft_gives_the_same_bytes(draft: Draft) -> None:
    """Notation and MIDI depend on nothing but the draft and the level; the order of equal notes in the draft does not matter."""
    again = replace(draft, notes=tuple(sorted(draft.notes, key=lambda note: (note.onset, note.id))), marks=draft.marks)
    assert musicxml(draft, level()) == musicxml(again, level())
    assert midi(draft) == midi(again)


def skeleton(draft: Draft) -> dict[str, object]:
    """What must survive: notes by id, bars, marks, in quarter-notes."""
    unit = draft.resolution

    def quarters(tick: int) -> Fraction:
        return Fraction(tick, unit)

    return {
        "notes": {
            note.id: (note.hand, quarters(note.onset), quarters(note.duration), str(note.pitch), note.grace, note.finger)
            for note in draft.notes
        },
        "bars": [
            (bar.number, quarters(bar.start), quarters(bar.length), bar.meter, bar.key, bar.pickup, bar.barline) for bar in draft.bars
        ],
        "marks": sorted((mark.kind, quarters(mark.onset), quarters(mark.end), mark.text, mark.hand) for mark in draft.marks),
    }


RULES = rulebook.load("advanced")


@QUIET
@given(drafts())
def test_law_6_reading_our_own_output_gives_the_same_draft(tmp_path_factory, draft: Draft) -> None:  # type: ignore[no-untyped-def]
    """Notes with their ids, hands, spelling, lengths and fingers; bars; marks; and writing it again gives the same bytes."""
    if not draft.notes:
        return
    path: Path = tmp_path_factory.mktemp("round") / "draft.musicxml"
    first = musicxml(draft, level())
    path.write_bytes(first)
    again = reduce.read.as_draft(reduce.read.load(path, RULES.instruments))
    assert again is not None
    assert skeleton(draft) == skeleton(again)


def test_the_settings_without_a_rule_book_are_the_rule_books() -> None:
    """The defaults in the code and the values in rules/notation.toml and rules/page.toml are one."""
    assert style_of(RULES.level, RULES) == style_of(RULES.level)
    assert print_of(RULES) == Print()
