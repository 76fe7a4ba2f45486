"""Several levels of one excerpt at once: one harmony, one score, each its own sheet."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from tempfile import mkdtemp

import pytest
from lxml import etree
from pypdfium2 import PdfDocument

from reduce import class_set, packing
from reduce.analyse.harmony import harmony_of_draft
from reduce.cli import run
from reduce.drafting import Wishes, draft_together
from reduce.model.pitch import spelled
from reduce.model.record import replace
from reduce.teach import Company, Lesson
from reduce.teach.company import clashes, strong_beats, united
from tests.teach.material import FERRY, WALTZ, WISHES

LEVELS = ("first-year", "intermediate", "advanced")


@cache
def drafted(score: Path, length: str | None = None) -> Path:
    folder = Path(mkdtemp()) / "class"
    draft_together(folder, score, Wishes(level="", key="auto", length=length, reviewed=False), LEVELS, lambda _: None)
    return folder


@cache
def lessons(score: Path, length: str | None = None) -> tuple[Lesson, ...]:
    return tuple(packing.lesson_in(drafted(score, length) / level, WISHES) for level in LEVELS)


def harmony(found: tuple[Lesson, ...]) -> Company:
    return Company.of(found, lambda whole: harmony_of_draft(whole, found[-1].rules)[0])


@pytest.mark.parametrize("score", [WALTZ, FERRY], ids=lambda path: path.stem)
def test_strong_beats_make_one_harmony(score: Path) -> None:
    """Law: no note of any level stands against the harmony of a strong beat but passing and neighbouring ones."""
    group = harmony(lessons(score))
    assert group.beats > 5
    assert () == group.found


def test_a_whole_piece_agrees_too() -> None:
    """In the whole piece at most one strong beat in a hundred has a note of its own."""
    group = harmony(lessons(FERRY, "full"))
    assert 100 < group.beats
    assert len(group.found) <= group.beats / 100


def test_a_wrong_note_is_found() -> None:
    """A semitone beside the harmony on a bar line is a clash of that player; on a weak beat it is none."""
    found = lessons(WALTZ)
    whole = united([lesson.draft for lesson in found])
    chords = harmony_of_draft(whole, found[-1].rules)[0]
    bar = whole.bars[4]
    chord = next(chord for chord in chords if chord.start <= bar.start < chord.end)
    wrong = next(note for note in whole.notes if note.id.startswith("1-") and note.hand == "left" and note.onset == bar.start)
    foreign = next(
        pc
        for pc in range(12)
        if all((pc - tone) % 12 in (1, 11) or pc not in chord.tones for tone in chord.tones) and pc not in chord.tones
    )
    midi = wrong.midi - wrong.midi % 12 + foreign
    steps = {0: "C", 1: "C", 2: "D", 3: "D", 4: "E", 5: "F", 6: "F", 7: "G", 8: "G", 9: "A", 10: "A", 11: "B"}
    pitch = spelled(steps[foreign], int(foreign in (1, 3, 6, 8, 10)), midi // 12 - 1)
    changed = replace(wrong, midi=midi, pitch=pitch)
    bent = replace(whole, notes=tuple(changed if note.id == wrong.id else note for note in whole.notes))
    assert [(4, 1, 1)] == [(clash.bar, clash.beat, clash.player) for clash in clashes(bent, chords, None) if clash.note.id == wrong.id]
    beat = bar.meter.beat_ticks(whole.resolution)
    late = replace(changed, onset=bar.start + beat, duration=beat)
    weak = replace(whole, notes=tuple(late if note.id == wrong.id else note for note in whole.notes))
    assert [] == [clash for clash in clashes(weak, chords, None) if clash.note.id == wrong.id]


def test_strong_beats() -> None:
    """One in a bar of three, two in a bar of four (common practice), none in a pick-up."""
    waltz, ferry = (united([lesson.draft for lesson in lessons(score)]) for score in (WALTZ, FERRY))
    assert {1} == {beat for _, beat, _ in strong_beats(waltz)}
    assert {1, 3} == {beat for _, beat, _ in strong_beats(ferry)}
    assert 0 not in {bar for bar, _, _ in strong_beats(ferry)}


def test_what_is_changed_for_the_class_is_told() -> None:
    """Each accompanying note that differs from the draft alone has its reason in the log."""
    import reduce

    alone = reduce.draft(FERRY, level="first-year", key="auto", length="full")
    lesson = lessons(FERRY, "full")[0]
    mine = {(note.onset, note.hand, note.midi) for note in lesson.draft.notes if not note.grace}
    scale = lesson.draft.resolution / alone.draft.resolution
    theirs = {(note.onset * scale, note.hand, note.midi) for note in alone.draft.notes if not note.grace}
    told = [row for row in lesson.decisions if row["rule"] == "together" and row["kind"] == "chord"]
    assert len(mine - theirs) == len(told) > 0
    assert {lesson.number(lesson.bar_at(int(onset))) for onset, _, _ in mine - theirs} == {row["bars"][0] for row in told}


def test_drafts_that_do_not_belong_together(tmp_path: Path) -> None:
    """Other bars are refused."""
    found = lessons(WALTZ)
    with pytest.raises(ValueError, match="differ"):
        united([found[0].draft, replace(found[1].draft, bars=found[1].draft.bars[:-1])])


def test_the_command(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The pack of a class: each level's files, one page set for the teacher with the score of all; refused where a draft was exchanged."""
    folder = tmp_path / "class"
    wishes = ["--level", "first-year,intermediate", "--together", "--no-review", "--out", str(folder)]
    assert 0 == run(["draft", str(WALTZ), *wishes])
    assert 0 == run(["pack", str(folder), "--language", "de"])
    files = {path.name for path in (folder / "pack").iterdir()}
    assert {"class.pdf", "class.musicxml", "first-year-pupil.pdf", "intermediate-teacher.pdf", "intermediate-worksheet.musicxml"} <= files
    texts = [page.get_textpage().get_text_bounded() for page in PdfDocument((folder / "pack" / "class.pdf").read_bytes())]
    assert "Klassensatz" in texts[0]
    assert all("Takte 0–" in text and "ärztlichen Rat" in text for text in texts)
    root = etree.fromstring((folder / "pack" / "class.musicxml").read_bytes())
    numbers = [part.xpath("measure/@number") for part in root.iter("part")]
    assert ["Erstes Jahr", "Mittelstufe"] == root.xpath("//part-name/text()")
    assert numbers[0] == numbers[1]
    assert 0 == run(["draft", str(WALTZ), "--level", "intermediate", "--no-review", "--bars", "1-8", "--out", str(folder / "intermediate")])
    capsys.readouterr()
    assert 2 == run(["pack", str(folder)])
    assert "cannot be played together" in capsys.readouterr().err


def test_a_class_is_known_by_its_file(tmp_path: Path) -> None:
    """A draft folder is none."""
    assert class_set.is_class(drafted(WALTZ))
    assert not class_set.is_class(drafted(WALTZ) / "first-year")
