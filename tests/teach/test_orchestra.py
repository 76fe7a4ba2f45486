"""The page from the orchestra to the piano: the listening task, and what was left out."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from functools import cache
from itertools import pairwise
from pathlib import Path
from tempfile import mkdtemp

import music21
import pytest
from lxml import etree

from reduce import packing
from reduce.model.booklet import Table, Text
from reduce.teach import Lesson, booklet
from reduce.teach.left_out import counts, left_out, reasons, silent_parts
from reduce.teach.listening import choices, heard, task, told
from tests.teach.material import FERRY, WALTZ, WISHES, draft_folder, sample

EVERY = [(WALTZ, "late-beginner"), (FERRY, "late-beginner"), (FERRY, "intermediate")]


@cache
def made(score: Path, level: str) -> Lesson:
    """The lesson of a sample's draft folder, with its log."""
    return packing.lesson_in(draft_folder(Path(mkdtemp()) / "draft", score, level), WISHES)


@pytest.fixture(params=EVERY, ids=lambda pair: f"{pair[0].stem}-{pair[1]}")
def piece(request: pytest.FixtureRequest) -> Lesson:
    return made(*request.param)


def test_the_answer_leads_in_every_bar(piece: Lesson) -> None:
    """Law: in each bar of a question, no part has more notes of the tune than the answer; all of the log's bars are the draft's."""
    rows = heard(piece)
    assert rows
    for row in rows:
        for k in range(row.first, row.last + 1):
            notes = Counter(fate["part"] for fate in piece.fates if fate["role"] == "melody" and fate["bar"] == piece.number(k))
            assert notes[row.tune] == max(notes.values())


def test_questions_do_not_overlap(piece: Lesson) -> None:
    """Bars are asked once, in the order of the piece."""
    rows = heard(piece)
    assert all(a.last < b.first for a, b in pairwise(rows))


def test_the_task_has_blanks_and_the_answers_names(piece: Lesson) -> None:
    """The pupil's table has the bars and room to write; the teacher's has the same bars with the names; all can be chosen."""
    rows = heard(piece)
    pupil = next(block for block in task(piece) if isinstance(block, Table))
    teacher = next(block for block in told(piece) if isinstance(block, Table))
    assert [row[0] for row in pupil.rows] == [row[0] for row in teacher.rows]
    assert {char for row in pupil.rows for cell in row[1:] for char in cell} == {"_"}
    assert [row.tune for row in rows] == [row[1] for row in teacher.rows]
    assert {name for row in rows for name in (row.tune, row.bass) if name} <= set(choices(piece, rows))


def test_the_answers_are_on_the_teachers_page_only(piece: Lesson) -> None:
    """Law: the table of answers stands in a section that only the teacher reads."""
    answer = next(block for block in told(piece) if isinstance(block, Table))
    readers = [section.readers for section in booklet(piece).sections if answer in section.blocks]
    assert [("teacher",)] == readers


def test_every_source_note_is_counted(piece: Lesson) -> None:
    """Law: the table adds up to the notes of the full score in these bars, as music21 counts them; ties count once."""
    score = WALTZ if piece.draft.title.startswith("Ferry") else FERRY
    bars = {piece.number(k) for k in range(len(piece.draft.bars))}
    ours = sum(sum(row.values()) for row in counts(piece).values())
    theirs = 0
    for part in music21.converter.parse(score).parts:
        for measure in part.getElementsByClass("Measure"):
            if f"{measure.measureNumber}" in bars:
                struck = (one for chord in measure.recurse().notes if chord.duration for one in getattr(chord, "notes", (chord,)))
                theirs += sum(isinstance(one, music21.note.Note) and (one.tie is None or one.tie.type == "start") for one in struck)
    assert theirs == ours


def test_reasons_are_those_of_the_notes(piece: Lesson) -> None:
    """Every note that is not struck as written has one reason, and no other has."""
    changed = [fate for fate in piece.fates_here if fate["fate"] != "kept"]
    assert len(changed) == sum(reasons(piece).values())


def test_silent_parts_have_no_note_in_the_draft(piece: Lesson) -> None:
    """A part that is called silent has no note that anything stands for."""
    for name in silent_parts(piece):
        assert [fate for fate in piece.fates_here if fate["part"].startswith(name) and fate["draft_notes"]] == []


def test_numbers_stand_on_the_page(piece: Lesson) -> None:
    """The page names the notes of both: the orchestra's and the piano's."""
    lead = next(block for block in left_out(piece) if isinstance(block, Text)).text
    keys = len({(note.onset, note.midi) for note in piece.draft.notes if not note.grace})
    assert f"{len(piece.fates_here)} notes" in lead
    assert f"{keys} notes for two hands" in lead


def test_without_a_log_there_is_no_such_page() -> None:
    """A draft of which nothing is known has no page on what was left out."""
    lesson = sample(WALTZ, "late-beginner")
    assert ([], []) == (task(lesson), left_out(lesson))
    assert "orchestra" not in [section.name for section in booklet(lesson).sections]


def test_one_instrument_is_no_question(piece: Lesson) -> None:
    """Where a single part plays everything, nobody asks who has the tune."""
    alone = replace(piece, fates=tuple({**fate, "part": "Piano"} for fate in piece.fates))
    assert ([], []) == (task(alone), told(alone))
    assert left_out(alone)


def test_a_note_taken_out_by_hand(tmp_path: Path) -> None:
    """What a person took out of the draft is told as such; nothing else changes."""
    folder = draft_folder(tmp_path / "draft")
    before = packing.lesson_in(folder, WISHES)
    gone = next(fate for fate in before.fates_here if fate["fate"] == "kept")["draft_notes"][0]
    stands_for = [fate for fate in before.fates_here if fate["draft_notes"] == [gone]]
    file = folder / "draft.musicxml"
    root = etree.fromstring(file.read_bytes())
    note = root.xpath(f"//note[@id='{gone}']")[0]
    for child in list(note):
        if child.tag in ("pitch", "chord", "tie", "notations", "stem", "beam"):
            note.remove(child)
    note.insert(0, etree.Element("rest"))
    file.write_bytes(etree.tostring(root, xml_declaration=True, encoding="UTF-8"))
    after = packing.lesson_in(folder, WISHES)
    assert len(stands_for) == reasons(after)["edited"]
    assert 0 == reasons(before)["edited"]
    assert sum(reasons(after).values()) - sum(fate["fate"] == "kept" for fate in stands_for) == sum(reasons(before).values())


def test_what_the_teacher_chose_is_told_as_hers(tmp_path: Path) -> None:
    """A choice is told as a choice: the notes of the horn that she dropped count as her decision, and no others."""
    choices = tmp_path / "choices.toml"
    choices.write_text('[[choice]]\nbars = "1-8"\ndrop = "Horn in F"\nreason = "for a small hand"\n', encoding="utf-8")
    lesson = packing.lesson_in(draft_folder(tmp_path / "draft", WALTZ, "advanced", choices=choices), WISHES)
    by = {row["id"] for row in lesson.decisions if "arranger" in row["sentence"]}
    hers = [fate for fate in lesson.fates_here if fate["decision"] in by and fate["fate"] != "kept"]
    assert {"Horn in F"} == {fate["part"] for fate in hers}
    assert len(hers) == reasons(lesson)["chosen"]
