"""Golden pages, compared as notation: an event list of a whole small piece at an easy and at the hardest level.

A page that changes on purpose is renewed with ``python -m tests.notate.test_golden``; read the difference before committing it.
The piece is our own.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from lxml import etree

from reduce import pipeline
from reduce.model.draft import Draft, DraftMark
from reduce.model.score import Tempo
from reduce.notate import musicxml
from tests.notate.scores import RESOLUTION, draft, level

GOLDEN = Path(__file__).parent / "golden"
LANTERNS = """
meter 4/4
key D minor
pickup 4
right          | a4:4 (5) | d5:4. e5:8 f5 (staccato) e5 d5 c#5 | d5:2 a4:4. bb4:8 | a4:8 g4 f4 e4 f4:4 (accent) d4   | e4:2. a4:4 |
right, voice 2 | r:4      | r:2 a4                              | f4:1             | r:1                              | c#4:2. r:4 |
left           | r:4      | d3:2 a2                             | d3:1             | g2:2 bb2                         | a2:1       |
left, voice 2  | r:4      | f3:4 a3 e3 g3                       | r:4 a3 f3 a3     | bb3:2 g3                         | <e3 g3>:1  |
"""
SECOND = """
right | r:4 | d5:8t e5 f5 g5:4 f5:8. e5:16 d5:4 | c#5:4~ c#5:8 d5 e5:2 | f5:16 e5 d5 c#5 d5:4 d6:8 (fermata) r r:4 | <f4 a4 d5>:1 (roll) |
left  | r:4 | <d4 f4 a4>:4 <d4 f4 a4> <d4 g4 bb4> <d4 g4 bb4> | <c#4 e4 a4>:2 <a3 e4 g4> | <d4 f4>:2 <g3 d4 f4>:2 | <d3 a3>:1 |
"""
LEVELS = {"easy": level(1, bars_a_line=4, staff_height=8.5, ottava=False), "hard": level(6)}


def piece(text: str) -> Draft:
    beat = RESOLUTION
    marks = (
        DraftMark(kind="dynamic", onset=0, end=0, text="mp"),
        DraftMark(kind="hairpin", onset=5 * beat, end=9 * beat, text="crescendo"),
        DraftMark(kind="dynamic", onset=9 * beat, end=9 * beat, text="f"),
        DraftMark(kind="slur", onset=0, end=0, hand="right", notes=("n1", "n4")),
        DraftMark(kind="text", onset=13 * beat, end=13 * beat, text="dolce", hand="right"),
    )
    return replace(
        draft(text, marks, title="Lanterns on the quay", composer="the authors of this project"),
        tempos=(Tempo(onset=0, quarters=84.0, text="Swaying"),),
    )


def events(root: etree._Element) -> list[str]:
    """What stands on the page, one sign a line, in the order of the file."""
    found = []
    for measure in root.iter("measure"):
        found.append(f"bar {measure.get('number')}" + (" (pick-up)" if measure.get("implicit") else ""))
        found += [f"  {text}" for item in measure if (text := _event(item))]
    return found


def _event(item: etree._Element) -> str:
    if item.tag == "note":
        return _note(item)
    if item.tag == "attributes":
        clefs = [f"clef {clef.get('number')} {clef.findtext('sign')}" for clef in item.iter("clef")]
        key = [f"key {item.findtext('key/fifths')}"] if item.find("key") is not None else []
        time = [f"time {item.findtext('time/beats')}/{item.findtext('time/beat-type')}"] if item.find("time") is not None else []
        return ", ".join(key + time + clefs)
    if item.tag == "direction":
        kind = item.find("direction-type")[0]
        words = "/".join(part.text for part in item.iter("words"))
        inner = kind[0].tag if kind.tag == "dynamics" else kind.get("type") or ""
        number = item.findtext(".//per-minute") or ""
        return " ".join(filter(None, ("sign", kind.tag, inner, words, number, item.get("placement"), f"staff {item.findtext('staff')}")))
    if item.tag == "print":
        return "new line"
    if item.tag == "barline":
        return " ".join(filter(None, ("barline", item.get("location"), item.findtext("bar-style"))))
    return ""


def _note(note: etree._Element) -> str:
    pitch = note.find("pitch")
    steps = {"1": "#", "-1": "b", None: ""}
    name = "rest" if pitch is None else f"{pitch.findtext('step')}{steps[pitch.findtext('alter')]}{pitch.findtext('octave')}"
    parts = [f"voice {note.findtext('voice')}", "+" if note.find("chord") is not None else "", name]
    parts.append((note.findtext("type") or "whole bar") + "." * len(note.findall("dot")))
    parts += [f"[{sign.text}]" for sign in note.iter("accidental")]
    parts += [f"tie {tie.get('type')}" for tie in note.iter("tie")]
    parts += [f"stem {note.findtext('stem')}" if note.find("stem") is not None else ""]
    parts += ["beam " + "/".join(beam.text for beam in note.iter("beam"))] if note.find("beam") is not None else []
    parts += ["hidden"] if note.get("print-object") == "no" else []
    for inner in note.iterfind("notations/*"):
        if inner.tag in ("articulations", "technical", "ornaments"):
            parts += [f"{sign.tag} {sign.text or ''}".strip() for sign in inner]
        elif inner.tag != "tied":
            parts.append(f"{inner.tag} {inner.get('type') or ''}".strip())
    return " ".join(filter(None, parts))


PAGES = [(name, text, grade) for name, text in (("lanterns", LANTERNS), ("quay", LANTERNS.split("right ")[0] + SECOND)) for grade in LEVELS]


@pytest.mark.parametrize(("name", "text", "grade"), PAGES, ids=[f"{name}-{grade}" for name, _, grade in PAGES])
def test_golden_page(name: str, text: str, grade: str) -> None:
    """The page is what it was."""
    expected = (GOLDEN / f"{name}-{grade}.txt").read_text(encoding="utf-8").splitlines()
    assert expected == events(etree.fromstring(musicxml(piece(text), LEVELS[grade])))


SAMPLE = Path(__file__).parents[2] / "samples" / "ferry-landing-waltz.musicxml"


def sample_page(grade: str) -> list[str]:
    """The small sample drafted the whole way."""
    return events(etree.fromstring(pipeline.draft(SAMPLE, level=grade).musicxml))


@pytest.mark.parametrize("grade", ["late-beginner", "advanced"])
def test_golden_page_of_the_sample(grade: str) -> None:
    """The sample's page is what it was; a better draft changes it on purpose."""
    expected = (GOLDEN / f"waltz-{grade}.txt").read_text(encoding="utf-8").splitlines()
    assert expected == sample_page(grade)


if __name__ == "__main__":
    GOLDEN.mkdir(exist_ok=True)
    for grade in ("late-beginner", "advanced"):
        (GOLDEN / f"waltz-{grade}.txt").write_text("\n".join(sample_page(grade)) + "\n", encoding="utf-8")
    for name, text, grade in PAGES:
        found = events(etree.fromstring(musicxml(piece(text), LEVELS[grade])))
        (GOLDEN / f"{name}-{grade}.txt").write_text("\n".join(found) + "\n", encoding="utf-8")
