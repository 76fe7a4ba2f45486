"""The teacher's page agrees with the log and the check."""

from __future__ import annotations

import re
from itertools import pairwise
from pathlib import Path
from typing import get_args

import pytest
from pypdfium2 import PdfDocument

from reduce import packing
from reduce.arrange.figures_pattern import SPOKEN
from reduce.hands.report import BreachKind
from reduce.model.booklet import Curve, Text
from reduce.teach.teacher import big_decisions, carriers, key_named, teachers_page
from reduce.teach.words import languages, words
from tests import tiny
from tests.teach.material import FERRY, WALTZ, WISHES, draft_folder, packed


def test_figures_are_named_in_the_words_of_the_log() -> None:
    """Every figure of the rules has a name in every catalogue; the English one is that of the log."""
    assert {f"figure.{name}": text for name, text in SPOKEN.items()} == {
        name: text for name, text in words("en").texts.items() if name.startswith("figure.")
    }


@pytest.mark.parametrize(
    ("fifths", "mode", "english", "german"),
    [
        (0, "minor", "A minor", "a-Moll"), (3, "minor", "F♯ minor", "fis-Moll"),
        (-2, "major", "B♭ major", "B-Dur"), (2, "minor", "B minor", "h-Moll"),
    ],
)  # fmt: skip
def test_keys_by_name(fifths: int, mode: str, english: str, german: str) -> None:
    """Signatures and their keys (common practice), minor keys in small letters in German (common practice)."""
    assert (english, german) == (key_named(fifths, mode, words("en")), key_named(fifths, mode, words("de")))


def test_the_decisions_are_those_of_the_log(tmp_path: Path) -> None:
    """Key, length, tempo, tune, bass, left hand and what was left out, with the log's numbers."""
    lesson = packing.lesson_in(draft_folder(tmp_path / "draft", FERRY, "first-year", key="auto"), WISHES)
    told = dict(big_decisions(lesson))
    assert ["Key", "Length", "Metre and tempo", "Tune", "Bass", "Left hand", "Left out"] == [*told]
    assert "A minor instead of F♯ minor. The source has up to 3 sharps or flats, this level reads 1." == told["Key"]
    assert "Bars 0–8b: 8 full bars of a source with 73. This level plays 8 to 16 bars." == told["Length"]
    assert told["Metre and tempo"].startswith("Written in 4/4, in longer values: each bar of the source is several here.")
    assert told["Metre and tempo"].endswith("96; as fast as the source it would be 168.")
    assert "Root and fifth in turn in bars 0–8b." == told["Left hand"]
    numbers = {bar.number for bar in lesson.draft.bars}
    gone = sum(row["fate"] == "dropped" for row in lesson.fates if row["bar"] in numbers)
    assert told["Left out"].startswith(f"{gone} of the ")


def test_another_metre_is_told(tmp_path: Path) -> None:
    """What is written in quarters instead of eighths has both tempi in quarters of the page."""
    score = tmp_path / "quick.musicxml"
    score.write_bytes(
        tiny.musicxml("meter 3/8\nkey D major\ntempo 150\nViolin 1 | d5:8 f#5:8 a5:8 | g5:8 e5:16 d5:16 c#5:8 | d5:4. | a4:4. |", "Quick")
    )
    told = dict(big_decisions(packing.lesson_in(draft_folder(tmp_path / "draft", score, "first-year"), WISHES)))
    assert "Written in 3/4 instead of 3/8:" in told["Metre and tempo"]
    assert "as fast as the source it would be 300." in told["Metre and tempo"]


def test_a_class_is_told(tmp_path: Path) -> None:
    """The page of a harder draft of a class says why its key and its bars are others than its own."""
    from reduce.cli import run

    wishes = ["--level", "first-year,advanced", "--together", "--key", "auto", "--no-review"]
    assert 0 == run(["draft", str(FERRY), *wishes, "--out", str(tmp_path / "class")])
    told = dict(big_decisions(packing.lesson_in(tmp_path / "class" / "advanced", WISHES)))
    assert told["Key"].endswith("So that a class can play its drafts together.")
    assert told["Length"].endswith("So that a class can play its drafts together.")


def test_her_choices_come_first(tmp_path: Path) -> None:
    """What the arranger chose leads the page."""
    choices = tmp_path / "choices.toml"
    choices.write_text('[[choice]]\nbars = "6"\nchord = "Am"\n\n[[choice]]\nbars = "9-16"\nmelody = "Cello"\n', encoding="utf-8")
    decided = big_decisions(packing.lesson_in(draft_folder(tmp_path / "draft", choices=choices), WISHES))
    assert ("Your choices", "2 entries of your choices file are followed: chord (bar 6), tune (bars 9–16).") == decided[0]
    assert len(decided) <= 8


def test_who_carries_the_tune(tmp_path: Path) -> None:
    """The runs cover bars in order, and each part named is one of the score."""
    lesson = packing.lesson_in(draft_folder(tmp_path / "draft", FERRY, "intermediate"), WISHES)
    runs = carriers(lesson, "melody")
    assert "Violin 1" == runs[0][0]
    assert all(one[2] < other[1] for one, other in pairwise(runs))


def test_the_curve_is_the_load(tmp_path: Path) -> None:
    """One column a bar, as high as the check says."""
    lesson = packing.lesson_in(draft_folder(tmp_path / "draft"), WISHES)
    curve = next(block for block in teachers_page(lesson).blocks if isinstance(block, Curve))
    assert [bar.number for bar in lesson.draft.bars] == [*curve.labels]
    assert [round(bar.total, 3) for bar in lesson.report.load] == [*curve.heights]


@pytest.mark.parametrize(("language", "title"), [("en", "For the teacher"), ("de", "Für die Lehrkraft")])
def test_the_page_is_the_teachers(language: str, title: str) -> None:
    """It stands in the teacher's file and not in the pupil's."""
    files = packed(WALTZ, "late-beginner", "a4", language)
    there = {
        name: any(title in page.get_textpage().get_text_bounded() for page in PdfDocument(files[f"{name}.pdf"]))
        for name in ("pupil", "teacher")
    }
    assert {"pupil": False, "teacher": True} == there


def test_a_line_that_often_changes_hands_is_told_by_its_players(tmp_path: Path) -> None:
    """The bars of the players that are named, and of the others, are all bars in which somebody has the tune."""
    lesson = packing.lesson_in(draft_folder(tmp_path / "draft", FERRY, "intermediate"), WISHES)
    runs = carriers(lesson, "melody")
    told = dict(big_decisions(lesson))["Tune"]
    assert len(runs) > 8
    assert told.endswith(f"it changes hands {len(runs) - 1} times.")
    counts = [int(number) for number in re.findall(r"in (\d+) bars", told)] + [1] * told.count("in one bar")
    assert sum(last - first + 1 for _, first, last in runs) == sum(counts)


def test_a_signature_beyond_the_level_is_told(tmp_path: Path) -> None:
    """The key that was kept, how much it asks, and the breach by its name and bars."""
    lesson = packing.lesson_in(draft_folder(tmp_path / "draft", FERRY, "first-year"), WISHES)
    assert dict(big_decisions(lesson))["Key"].startswith("F♯ minor, as in the source. It has 3 sharps or flats, this level reads 1:")
    page = " ".join(block.text for block in teachers_page(lesson).blocks if isinstance(block, Text))
    assert "Beyond the level: key signature (bars 0–8)." in page


@pytest.mark.parametrize("language", languages())
def test_every_breach_has_a_name(language: str) -> None:
    """What the check can find beyond a level has words in every language."""
    assert [kind for kind in get_args(BreachKind) if not words(language).has(f"breach.{kind}")] == []
