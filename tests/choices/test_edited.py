"""A copy of the draft that was edited elsewhere comes back as choices, and the next run keeps them."""

from __future__ import annotations

import json
import re
from collections import Counter
from pathlib import Path

import pytest
from lxml import etree

from reduce import rulebook
from reduce.cli import run
from reduce.model.choice import Choice
from reduce.model.draft import Draft
from reduce.read import as_draft, load
from reduce.report.edits import edits
from reduce.rulebook import read_choices

SAMPLE = Path(__file__).parents[2] / "samples" / "ferry-landing-waltz.musicxml"
LEVEL = "intermediate"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A fresh draft of the waltz."""
    assert drafted(tmp_path / "draft") == 0
    return tmp_path / "draft"


def drafted(folder: Path, *more: str) -> int:
    return run(["draft", str(SAMPLE), "--level", LEVEL, "--out", str(folder), "--no-review", *more])


def choices_of(folder: Path) -> tuple[Choice, ...]:
    return read_choices(folder / "choices.toml", [LEVEL])


def draft_of(path: Path) -> Draft:
    found = as_draft(load(path, rulebook.load(LEVEL).instruments))
    assert found is not None
    return found


class Copy:
    """An edited copy: plain changes of the MusicXML, as a notation editor writes them."""

    def __init__(self, original: Path) -> None:
        self.tree = etree.parse(original)
        self.edits = 0

    def struck(self, bar: str, staff: str) -> list[etree._Element]:
        """The notes that begin in a bar, neither rests nor tails of ties."""
        measure = next(m for m in self.tree.iter("measure") if m.get("number") == bar)
        return [
            note
            for note in measure.iterfind("note")
            if note.findtext("staff") == staff and note.find("pitch") is not None and note.find("tie") is None
        ]

    def raise_step(self, note: etree._Element) -> None:
        """Another key: a third higher (the step after next, without accidental)."""
        pitch = note.find("pitch")
        assert pitch is not None
        step, octave = pitch.find("step"), pitch.find("octave")
        assert step is not None and octave is not None
        place = "CDEFGAB".index(step.text or "") + 2
        step.text, octave.text = "CDEFGAB"[place % 7], str(int(octave.text or 0) + place // 7)
        for alter in pitch.findall("alter"):
            pitch.remove(alter)
        self.edits += 1

    def take_away(self, note: etree._Element) -> None:
        """One note of a chord less."""
        assert note.find("chord") is not None
        parent = note.getparent()
        assert parent is not None
        parent.remove(note)
        self.edits += 1

    def add_below(self, note: etree._Element) -> None:
        """One note more in the chord, an octave below."""
        fresh = etree.fromstring(etree.tostring(note, with_tail=False))
        fresh.attrib.pop("id", None)
        for name in ("chord", "notations", "beam", "accidental"):
            for found in fresh.findall(name):
                fresh.remove(found)
        fresh.insert(0, etree.Element("chord"))
        octave = fresh.find("pitch/octave")
        assert octave is not None
        octave.text = str(int(octave.text or 0) - 1)
        note.addnext(fresh)
        self.edits += 1

    def slur(self, first: etree._Element, last: etree._Element) -> None:
        for note, kind in ((first, "start"), (last, "stop")):
            notations = note.find("notations")
            if notations is None:
                notations = etree.SubElement(note, "notations")
            etree.SubElement(notations, "slur", type=kind, number="6")
        self.edits += 1

    def unslur(self) -> None:
        """The first slur of the right hand is gone."""
        start = next(s for s in self.tree.iter("slur") if s.get("type") == "start")
        stop = next(s for s in self.tree.iter("slur") if s.get("type") == "stop" and s.get("number") == start.get("number"))
        for sign in (start, stop):
            parent = sign.getparent()
            assert parent is not None
            parent.remove(sign)
        self.edits += 1

    def written(self, path: Path) -> Path:
        path.write_bytes(etree.tostring(self.tree, xml_declaration=True, encoding="UTF-8"))
        return path


def chord_tone(copy: Copy, bar: str) -> etree._Element:
    return next(note for note in copy.struck(bar, "2") if note.find("chord") is not None)


def edited(folder: Path, path: Path) -> Copy:
    """Eight notes and two slurs: four keys changed, two taken away, two added; a slur less and a slur more."""
    copy = Copy(folder / "draft.musicxml")
    for bar, staff in (("2", "1"), ("5", "1"), ("11", "2"), ("14", "2")):
        copy.raise_step(copy.struck(bar, staff)[0])
    for bar in ("3", "6"):
        copy.take_away(chord_tone(copy, bar))
    for bar in ("18", "22"):
        copy.add_below(copy.struck(bar, "1")[0])
    copy.unslur()
    row = copy.struck("7", "2")
    copy.slur(row[0], row[-1])
    copy.written(path)
    return copy


def test_ten_edits_come_back_as_ten_choices(folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Eight notes and two slurs edited in a copy: ten entries, hers, for this level; the draft is the copy, run after run."""
    copy = edited(folder, tmp_path / "mine.musicxml")
    assert 10 == copy.edits
    capsys.readouterr()
    assert drafted(folder, "--edited", str(tmp_path / "mine.musicxml")) == 0
    told = capsys.readouterr()
    assert "8 edited notes and 2 slurs are now among your choices" in told.err
    found = choices_of(folder)
    assert {"change": 4, "remove": 2, "add": 2, "slur": 1, "no-slur": 1} == dict(Counter(choice.action for choice in found))
    assert {(LEVEL,)} == {choice.levels for choice in found}
    log = (folder / "decisions.jsonl").read_text(encoding="utf-8")
    assert 10 == log.count('"by": "arranger"') and 10 == log.count("edited in mine.musicxml")
    left = edits(draft_of(folder / "draft.musicxml"), draft_of(tmp_path / "mine.musicxml"))
    assert () == left.choices
    once = (folder / "draft.musicxml").read_bytes()
    assert drafted(folder) == 0
    assert once == (folder / "draft.musicxml").read_bytes()
    assert "Since the last run: nothing changed." in capsys.readouterr().out


def test_a_second_edit_is_added_to_the_first(folder: Path, tmp_path: Path) -> None:
    """Choices that are there already stay, word for word; the new ones follow."""
    (folder / "choices.toml").write_text('# my own\n[[choice]]\nbars = "9-12"\nhand = "left"\nlock = true\n', encoding="utf-8")
    assert drafted(folder) == 0
    copy = Copy(folder / "draft.musicxml")
    copy.raise_step(copy.struck("2", "1")[0])
    copy.written(tmp_path / "first.musicxml")
    assert drafted(folder, "--edited", str(tmp_path / "first.musicxml")) == 0
    copy = Copy(folder / "draft.musicxml")
    copy.raise_step(copy.struck("5", "1")[0])
    copy.written(tmp_path / "second.musicxml")
    assert drafted(folder, "--edited", str(tmp_path / "second.musicxml")) == 0
    text = (folder / "choices.toml").read_text(encoding="utf-8")
    assert text.startswith("# my own\n[[choice]]\n")
    assert ["lock", "change", "change"] == [choice.action for choice in choices_of(folder)]
    assert () == edits(draft_of(folder / "draft.musicxml"), draft_of(tmp_path / "second.musicxml")).choices


def test_a_draft_edited_in_its_own_place(folder: Path) -> None:
    """The draft's own file may be the edited one: it is compared with what the tool had written, and nothing is lost."""
    copy = Copy(folder / "draft.musicxml")
    copy.raise_step(copy.struck("2", "1")[0])
    copy.written(folder / "draft.musicxml")
    mine = draft_of(folder / "draft.musicxml")
    assert drafted(folder) == 2  # never overwritten silently
    assert drafted(folder, "--edited", str(folder / "draft.musicxml")) == 0
    assert ["change"] == [choice.action for choice in choices_of(folder)]
    assert () == edits(draft_of(folder / "draft.musicxml"), mine).choices


def test_another_program_wrote_the_copy(folder: Path, tmp_path: Path) -> None:
    """music21 reads the draft, an octave is changed in it, music21 writes it: other ids, other divisions, one choice."""
    converter = pytest.importorskip("music21.converter")
    score = converter.parse(folder / "draft.musicxml")
    bar = next(bar for bar in score.parts[0].getElementsByClass("Measure") if bar.number == 5)
    note = next(note for note in bar.recurse().notes if note.isNote)
    note.octave += 1
    score.write("musicxml", fp=tmp_path / "other.musicxml", makeNotation=False)
    assert 'id="n1"' not in (tmp_path / "other.musicxml").read_text(encoding="utf-8")
    found = edits(draft_of(folder / "draft.musicxml"), draft_of(tmp_path / "other.musicxml"))
    notes = [choice for choice in found.choices if choice.action not in ("slur", "no-slur")]
    assert [("change", "5", "right")] == [(choice.action, choice.bars, choice.hand) for choice in notes]
    assert notes[0].to.rstrip("0123456789") == notes[0].value.rstrip("0123456789")


def test_what_choices_cannot_hold_is_told(folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A changed dynamic is no choice: it is said, not lost in silence."""
    text = (folder / "draft.musicxml").read_text(encoding="utf-8")
    changed, count = re.subn(r"<dynamics><p/></dynamics>", "<dynamics><ff/></dynamics>", text, count=1)
    assert count == 1
    (tmp_path / "loud.musicxml").write_text(changed, encoding="utf-8")
    assert drafted(folder, "--edited", str(tmp_path / "loud.musicxml")) == 0
    told = capsys.readouterr().err
    assert "0 edited notes and 0 slurs" in told and "changed dynamics, pedal or words; choices do not hold them" in told


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("bars", "has 24 bars and the draft 25"),
        ("level", "is for intermediate"),
        ("missing", "missing.musicxml"),
    ],
)
def test_a_copy_that_does_not_fit(folder: Path, tmp_path: Path, name: str, words: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Other bars, another level, no file: one sentence, no traceback, and the folder stays as it is."""
    before = (folder / "draft.musicxml").read_bytes()
    copy = Copy(folder / "draft.musicxml")
    last = list(copy.tree.iter("measure"))[-1]
    parent = last.getparent()
    assert parent is not None
    if name == "bars":
        parent.remove(last)
    copy.written(tmp_path / "copy.musicxml")
    path = tmp_path / ("missing.musicxml" if name == "missing" else "copy.musicxml")
    level = "late-beginner" if name == "level" else LEVEL
    status = run(["draft", str(SAMPLE), "--level", level, "--out", str(folder), "--no-review", "--edited", str(path)])
    told = capsys.readouterr().err
    assert status in (2, 3)
    assert words in told and 1 == len(told.strip().splitlines())
    assert before == (folder / "draft.musicxml").read_bytes()
    assert not (folder / "choices.toml").exists()


def test_edits_in_locked_bars_are_made_once(folder: Path, tmp_path: Path) -> None:
    """Locked bars keep their edits from run to run: nothing is added twice, nothing counts as lost."""
    (folder / "choices.toml").write_text('[[choice]]\nbars = "3-6"\nlock = true\n', encoding="utf-8")
    assert drafted(folder) == 0
    copy = Copy(folder / "draft.musicxml")
    copy.raise_step(copy.struck("5", "1")[0])
    copy.take_away(chord_tone(copy, "3"))
    copy.add_below(copy.struck("4", "1")[0])
    copy.written(tmp_path / "mine.musicxml")
    for more in (("--edited", str(tmp_path / "mine.musicxml")), (), ()):
        assert drafted(folder, *more) == 0
        assert () == edits(draft_of(folder / "draft.musicxml"), draft_of(tmp_path / "mine.musicxml")).choices
        report = json.loads((folder / "report.json").read_text(encoding="utf-8"))
        assert [] == [row for row in report["doubts"] if row["code"] == "choice"]
    assert 4 == (folder / "decisions.jsonl").read_text(encoding="utf-8").count('"rule": "choices"')
