"""``report.json`` and the intake report."""

from __future__ import annotations

import json
from dataclasses import replace

from reduce import rulebook
from reduce.model.draft import Draft, DraftNote
from reduce.model.pitch import spelled
from reduce.model.problem import Problem
from reduce.model.score import Meter, Transposition
from reduce.model.texture import LocalKey
from reduce.report import intake, intake_text, report, report_json, verdict
from reduce.report.intake import sounding
from tests.report.test_log import DECISION, score

PROBLEM = Problem(severity="doubt", code="crook", sentence="The horn's crook is not named.", part="Horn", bar="3")
BREACH = {"bar": "3", "hand": "left", "what": "span", "sentence": "Too wide", "measured": 16, "limit": 14, "unit": "semitones"}


def facts() -> dict[str, object]:
    source = score(Meter((4,), 4))
    note = DraftNote(id="l1", hand="left", strand=1, onset=0, duration=8, pitch=spelled("C", 0, 3), midi=48, sources=("n0",))
    draft = Draft(resolution=8, bars=source.bars, notes=(note, replace(note, id="r1", hand="right")))
    rules = rulebook.load("intermediate", span_mm=150)
    decisions = [DECISION, replace(DECISION, certainty=0.3)]
    wishes = {"bars": "1-4", "length": None}
    return report(source, draft, rules, decisions, (), [PROBLEM], wishes=wishes, breaches=[BREACH | {"hard": True}])


def test_the_keys_of_the_piece_are_told_by_bar_as_the_draft_sounds() -> None:
    """A key that begins in the second half of a bar counts from the next; the draft's transposition is in it."""
    source = score(Meter((4,), 4))
    bar = source.bars[1]
    draft = Draft(resolution=8, bars=source.bars, notes=(), transposed=-2)
    keys = (
        LocalKey(start=0, end=bar.start - 2, tonic=2, mode="major"),
        LocalKey(start=bar.start - 2, end=bar.end, tonic=11, mode="minor"),
    )
    told = report(source, draft, rulebook.load("intermediate"), (), (), (), keys=keys)
    assert told["draft"]["keys"] == [{"bar": 0, "tonic": 0, "mode": "major"}, {"bar": 1, "tonic": 9, "mode": "minor"}]


def test_the_report_has_what_the_contract_names() -> None:
    """Settings with the hash of the rules and the version, counts, breaches, load, doubts."""
    told = facts()
    assert list(told) == ["tool", "source", "settings", "draft", "counts", "breaches", "hard_spots", "load", "doubts", "rules"]
    settings = told["settings"]
    assert isinstance(settings, dict)
    assert (settings["level"], settings["hand_span_mm"], settings["bars"]) == ("intermediate", 150.0, "1-4")
    assert "length" not in settings
    assert len(settings["rules_sha256"]) == 16


def test_the_verdict_is_one_line() -> None:
    """Level, bars, notes and what to look at, in words that agree in number."""
    assert verdict(facts()) == (
        "Intermediate, bars 1–4 (4), 2 notes, no big decisions, 1 unsure one, 1 hard breach, none to weigh, 1 doubt about the score."
    )


def test_equal_facts_are_equal_bytes() -> None:
    """Law 5, and readable by any JSON reader."""
    assert report_json(facts()) == report_json(facts())
    assert json.loads(report_json(facts())) == json.loads(json.dumps(facts()))


def test_how_a_part_sounds() -> None:
    """Horn in F, clarinet in B flat, double bass, piccolo (MusicXML 4.0, element transpose: what is added to the written pitch)."""
    assert [sounding(-4, -7), sounding(-1, -2), sounding(-7, -12), sounding(7, 12), sounding(0, 0)] == [
        *("C5 sounds F4", "C5 sounds B♭4", "C5 sounds C4", "C5 sounds C6", "as written"),
    ]


def test_the_intake_tells_changes_and_doubts() -> None:
    """A change of crook with its bar; doubts with part and bar; nothing hidden behind a code."""
    source = score(Meter((4,), 4))
    horn = replace(
        source.parts[0],
        transpositions=(
            Transposition(onset=0, staff=0, diatonic=-4, chromatic=-7),
            Transposition(onset=64, staff=0, diatonic=-6, chromatic=-10),
        ),
    )
    text = intake_text(replace(source, parts=(horn,), problems=(PROBLEM,), file_name="x.mxl", file_format="MusicXML"), {"horn": "Horn"}, 88)
    assert "C5 sounds F4; C5 sounds D4 from bar 3" in text
    assert "Doubts:\n  - Horn, bar 3: The horn's crook is not named.\n" in text
    assert "crook:" not in text
    row = intake(source)["parts"][0]
    assert (row["notes"], row["lowest"], row["highest"]) == (4, "B♭3", "B♭3")
