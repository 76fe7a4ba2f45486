"""The pack of a draft folder."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from lxml import etree
from pypdfium2 import PdfDocument

from reduce import packing, teach
from reduce.cli import run
from reduce.engrave.booklet import Press
from reduce.model.booklet import Music
from reduce.model.errors import UsageError
from reduce.teach.answers import answers
from reduce.teach.worksheet import symbol_of
from tests.teach.material import FERRY, WALTZ, WISHES, draft_folder, packed, sample

POINT = 25.4 / 72  # millimetres


def texts(pdf: bytes) -> list[str]:
    return [page.get_textpage().get_text_bounded() for page in PdfDocument(pdf)]


@pytest.mark.parametrize("level", ["first-year", "late-beginner", "intermediate"])
@pytest.mark.parametrize("score", [WALTZ, FERRY], ids=lambda path: path.stem)
def test_every_page_says_what_it_belongs_to(score: Path, level: str) -> None:
    """Title, bars, level, people and the caution stand on each page of each file."""
    files = packed(score, level)
    title = "Ferry Landing Waltz" if score == WALTZ else "The Last Ferry"
    wanted = (title, "Bars 0–", "CC0 1.0", "the authors of this project", "ask a physician")
    for name in ("pupil.pdf", "teacher.pdf", "all.pdf"):
        for text in texts(files[name]):
            assert [word for word in wanted if word not in text] == []


@pytest.mark.parametrize("level", ["first-year", "late-beginner", "intermediate"])
def test_answers_are_never_on_the_pupils_pages(level: str) -> None:
    """No chord that is asked stands by name on a page for the pupil; each does on the teacher's."""
    files = packed(WALTZ, level)
    pupil, teacher = (" ".join(texts(files[f"{reader}.pdf"])).split() for reader in ("pupil", "teacher"))
    root = etree.fromstring(files["worksheet-answers.musicxml"])
    rows = [text.split() for text in root.xpath("//lyric[@number='1']/text/text()")]
    asked = [name for number, name in (row for row in rows if len(row) == 2)]
    given = {row[0] for row in rows if len(row) == 1} | {"C", "Cm", "C7", "Cm7", "Cdim"} | set("ABCDEFG")
    assert asked
    assert [name for name in asked if name in pupil and name not in given] == []
    assert [name for name in asked if name not in teacher] == []
    blanks = etree.fromstring(files["worksheet.musicxml"]).xpath("//lyric/text/text()")
    assert len([text for text in blanks if any(char.isalpha() for char in text)]) == 1  # the example


@pytest.mark.parametrize(("paper", "size"), [("a4", (210, 297)), ("letter", (216, 279))])
def test_paper(paper: str, size: tuple[int, int]) -> None:
    """ISO 216 and ANSI/ASME Y14.1, in millimetres."""
    files = packed(WALTZ, "late-beginner", paper)
    for page in PdfDocument(files["all.pdf"]):
        assert size == tuple(round(length * POINT) for length in page.get_size())


def test_black_only() -> None:
    """Nothing on the pages vanishes in a copier: each pixel is on the way from white to black."""
    for page in PdfDocument(packed(WALTZ, "late-beginner")["all.pdf"]):
        image = page.render(scale=0.5).to_numpy()
        assert (image.max(axis=2).astype(int) - image.min(axis=2) < 8).all()


def test_fonts_are_inside() -> None:
    """Every font of the set is embedded, so that it prints the same everywhere."""
    pdf = packed(WALTZ, "late-beginner")["all.pdf"]
    assert len(re.findall(rb"/Type ?/FontDescriptor", pdf)) > 0
    assert len(re.findall(rb"/Type ?/FontDescriptor", pdf)) == len(re.findall(rb"/FontFile[23]? ", pdf))


def test_music_stays_inside_the_margins() -> None:
    """Nothing is cut at the edge: a border of five millimetres is white on every page."""
    for score, level in ((WALTZ, "late-beginner"), (FERRY, "intermediate")):
        for page in PdfDocument(packed(score, level)["all.pdf"]):
            image = page.render(scale=1.0, grayscale=True).to_numpy()
            edge = round(5 / POINT)
            assert (image[:edge].min(), image[-edge:].min(), image[:, :edge].min(), image[:, -edge:].min()) == (255,) * 4


def test_no_page_is_left_nearly_empty() -> None:
    """Every page is filled to a fifth at least, so none has one line (by the ink between head and foot)."""
    for score, level in ((WALTZ, "first-year"), (WALTZ, "late-beginner"), (FERRY, "first-year"), (FERRY, "intermediate")):
        for paper in ("a4", "letter"):
            files = packed(score, level, paper)
            for name in ("pupil", "teacher"):
                assert [] == [page for page, share in enumerate(_filled(files[f"{name}.pdf"]), 1) if share < 0.2], (
                    score.stem,
                    level,
                    paper,
                    name,
                )


def _filled(pdf: bytes) -> Iterator[float]:
    """The share of each page down to which there is ink, between head and foot."""
    for page in PdfDocument(pdf):
        image = page.render(scale=0.5, grayscale=True).to_numpy()
        top, foot = (int(share * image.shape[0]) for share in (0.07, 0.92))
        rows = [k for k in range(top, foot) if image[k].min() < 128]
        yield (rows[-1] - top) / (foot - top) if rows else 0.0


def test_same_draft_same_bytes(tmp_path: Path) -> None:
    """Law 5 for the pack."""
    folder = draft_folder(tmp_path / "draft", level="first-year")
    assert packing.pack(folder, WISHES) == packing.pack(folder, WISHES)


def test_pack_of_a_draft_with_choices(tmp_path: Path) -> None:
    """What the arranger chose is in the draft, so it is in the answers: the chord of bar 6 is A minor by choice."""
    choices = tmp_path / "choices.toml"
    choices.write_text('[[choice]]\nbars = "6"\nchord = "Am"\nreason = "as my pupils sing it"\n', encoding="utf-8")
    folder = draft_folder(tmp_path / "draft", choices=choices)
    lesson = packing.lesson_in(folder, WISHES)
    told = {lesson.number(answer.bar): symbol_of(lesson, answer) for answer in answers(lesson)}
    plain = packing.lesson_in(draft_folder(tmp_path / "plain"), WISHES)
    assert {plain.number(answer.bar): symbol_of(plain, answer) for answer in answers(plain)}["6"] == "C"
    assert told["6"] == "Am"


def test_pack_of_an_edited_draft(tmp_path: Path) -> None:
    """A person's edit of the draft is what is taught: a third lowered by hand makes the chord minor."""
    folder = draft_folder(tmp_path / "draft")
    lesson = packing.lesson_in(folder, WISHES)
    file = folder / "draft.musicxml"
    root = etree.fromstring(file.read_bytes())
    bar = next(measure for measure in root.iter("measure") if measure.get("number") == "20")
    for note in bar.iter("note"):
        if note.findtext("pitch/step") == "B":
            etree.SubElement(note.find("pitch"), "alter").text = "-1"
            note.find("pitch").insert(1, note.find("pitch/alter"))
    file.write_bytes(etree.tostring(root, xml_declaration=True, encoding="UTF-8"))
    edited = packing.lesson_in(folder, WISHES)
    kinds = [{one.number(a.bar): a.chord.quality for a in answers(one)}["20"] for one in (lesson, edited)]
    assert ["major", "minor"] == kinds


def test_worksheets_are_valid(tmp_path: Path) -> None:
    """The worksheets read back with the bars of the draft, by our own reader."""
    files = packed(WALTZ, "late-beginner")
    numbers = [measure.get("number") for measure in etree.fromstring(files["worksheet.musicxml"]).find("part").iter("measure")]
    assert [str(number) for number in range(25)] == numbers


def test_numerals_come_later(tmp_path: Path) -> None:
    """Roman numerals are refused at the first levels, asked at the later ones, and then answered."""
    with pytest.raises(UsageError, match="numerals"):
        packing.pack(draft_folder(tmp_path / "early"), packing.Wishes(numerals=True))
    folder = draft_folder(tmp_path / "later", level="early-intermediate")
    told = packing.pack(folder, packing.Wishes(numerals=True))
    path = "//lyric[@number='2']/text/text()"
    blank, answered = (etree.fromstring(told[f"{name}.musicxml"]).xpath(path) for name in ("worksheet", "worksheet-answers"))
    assert len(blank) == len(answered)
    assert {"I", "V"} <= set(answered)


def test_the_command(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Writes the pack into the draft folder, tells the files, and never over what a person changed."""
    folder = draft_folder(tmp_path / "draft", level="first-year")
    assert 0 == run(["pack", str(folder)])
    assert [str(folder / "pack" / name) for name in ("pupil.pdf", "teacher.pdf", "all.pdf")] == capsys.readouterr().out.split()
    (folder / "pack" / "worksheet.musicxml").write_text("mine", encoding="utf-8")
    assert 2 == run(["pack", str(folder)])
    assert "edited by hand" in capsys.readouterr().err
    assert 2 == run(["pack", str(tmp_path)])
    assert "not a draft folder" in capsys.readouterr().err
    assert 2 == run(["pack", str(folder), "--language", "fr", "--out", str(tmp_path / "other")])
    assert "no words in 'fr'" in capsys.readouterr().err


def test_a_line_of_the_worksheet_is_one_line() -> None:
    """The bars that are chosen for a line of the sheet stand on one line of the page."""
    piece = sample(FERRY, "early-intermediate")
    made = teach.booklet(piece)
    press = Press(made, piece.rules.level, piece.rules, lambda sheet: packing.written(sheet, piece.rules))
    lines = [block for section in made.sections if section.name == "worksheet" for block in section.blocks if isinstance(block, Music)]
    assert len(lines) > 1
    assert [1] * len(lines) == [len(press._systems(line, line.size)) for line in lines]
