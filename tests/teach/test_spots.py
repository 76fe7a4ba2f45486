"""Hard spots and how to practise them."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from pypdfium2 import PdfDocument

from reduce import packing, rulebook
from reduce.engrave.booklet import Press
from reduce.hands.report import Spot
from reduce.model.booklet import Heading, Items, Music, Text
from reduce.teach import Lesson, booklet, languages
from reduce.teach.spots import explained, hard_spots, measured, ways
from tests.hands.test_spots import EXPECTED, page
from tests.hands.tiny import sheet
from tests.teach.material import FERRY, sample

MORE = {  # kinds that the planted page has not
    "shift": ("E5:4 |", "C3:1/2 G3:1/4 E4:1/4 C3:1 G3:2 |"),
    "wide-arpeggio": ("E5:4 |", "C2:1/8 G2:1/8 E3:1/8 C4:1/8 G3:3/2 C3:2 |"),
    "repeated-note": ("C5:1/8 " * 8 + "C5:3 |", "C3:4 |"),
    "octaves": ("C4+C5:1/4 D4+D5:1/4 E4+E5:1/4 F4+F5:1/4 G4+G5:1/4 A4+A5:1/4 G4+G5:1/4 F4+F5:1/4 E4+E5:2 |", "C3:4 |"),
    "quick-change": ("G4:1/8 C4:1/8 E4:3/4 G4:3 |", "C4:1/8 r:7/8 C3:3 |"),
}


def taught(hands: tuple[str, str] | None = None, language: str = "en") -> Lesson:
    draft = page(True) if hands is None else sheet(*hands, quarters=100)
    return packing.lesson_of(draft, rulebook.load("intermediate"), packing.Wishes(language=language))


def all_spots(language: str = "en") -> list[tuple[Lesson, Spot]]:
    lessons = [taught(language=language), *(taught(bar, language) for bar in MORE.values())]
    return [(lesson, spot) for lesson in lessons for spot in lesson.report.spots]


def test_every_spot_of_the_check_has_its_entry() -> None:
    """Law: for each spot of the check, in its order: where it is, how big, its bar engraved, how to practise it, what may be left out."""
    lesson = taught()
    blocks = hard_spots(lesson).blocks
    heads = [k for k, block in enumerate(blocks) if isinstance(block, Heading) and re.match(r"\d", block.text)]
    assert set(EXPECTED.values()) <= {spot.kind for spot in lesson.report.spots}
    assert len(lesson.report.spots) == len(heads)
    told: set[tuple[str, str]] = set()
    for number, (k, spot) in enumerate(zip(heads, lesson.report.spots, strict=True), 1):
        head, size, music, tips = blocks[k : k + 4]
        assert isinstance(head, Heading) and isinstance(size, Text) and isinstance(music, Music) and isinstance(tips, Items)
        easier = blocks[k + 4]
        first = (spot.kind, spot.hand) not in told
        told.add((spot.kind, spot.hand))
        assert first == (isinstance(easier, Text) and easier.text.startswith("If it stays hard"))
        kind = lesson.words.say(f"spot.{spot.kind}.name")
        assert f"{number}  Bar {spot.number}, {lesson.words.say(f'hand.{spot.hand}')}: {kind}" == head.text
        assert measured(lesson, spot) in size.text
        assert music.sheet is lesson.draft
        assert music.first <= spot.bar == music.last
        assert tips.items
        caution = blocks[k + 4 + first]
        assert bool(spot.caution) == (isinstance(caution, Text) and caution.text == lesson.words.say("spots.caution"))


def test_every_kind_is_tried() -> None:
    """The laws on this page are tried on every kind of spot but those that stand on a page of their own."""
    assert {*EXPECTED.values(), *MORE} - {"black-thumb", "dense"} <= {spot.kind for _, spot in all_spots()}


@pytest.mark.parametrize("language", languages())
def test_sizes_are_those_of_the_check(language: str) -> None:
    """Law: millimetres and seconds are the check's, as the language writes them; no sentence has an open place."""
    for lesson, spot in all_spots(language):
        text = measured(lesson, spot)
        point = lesson.words.say("number.point")
        if spot.kind in ("leap", "shift", "wide-arpeggio"):
            numbers = (f"{spot.size:.0f} mm", f"{spot.available:.2f}".replace(".", point), f"{spot.needed:.2f}".replace(".", point))
            assert [number for number in numbers if number not in text] == []
        if spot.kind in ("stretch", "crossing"):
            assert f"{spot.size:.0f} mm" in text
        for sentence in (text, *explained(lesson, spot), *ways(lesson, spot)):
            assert "{" not in sentence


def test_a_way_of_practising_names_the_notes() -> None:
    """How to practise is told with the notes of the spot."""
    told: dict[str, str] = {}
    for lesson, spot in all_spots():
        told.setdefault(spot.kind, " ".join(ways(lesson, spot)))
    assert "from C2 to C4–E4" in told["leap"]
    assert "outer notes C–E, let go, then the inner G" in told["stretch"]
    assert "The thumb of the left hand gives way: it lets G go" in told["shared-key"]
    assert "together, left, right" in told["cross-rhythm"]
    assert "beginning on C" in told["octaves"]


def test_places_of_a_wide_arpeggio() -> None:
    """A wide arpeggio is told by the chord that it spells and the places that the hand takes."""
    lesson = taught(MORE["wide-arpeggio"])
    spot = next(spot for spot in lesson.report.spots if spot.kind == "wide-arpeggio")
    told = " ".join(explained(lesson, spot))
    assert "one chord: C–G–E" in told or "one chord: C–E–G" in told
    assert "places here: C2–" in told


def test_the_way_is_told_in_full_once() -> None:
    """A second spot of a kind in the same hand sends the reader back to the first."""
    leap = "C2:1/4 C4+E4:1/4 G3:1/2 E3:1 G3:1 E3:1 |"
    calm = "C3:1 G3:1 E3:1 G3:1 |"
    lesson = taught(("E5:4 |" * 12, leap + calm * 8 + leap.replace("C2", "D2") + calm * 2))
    items = [block.items for block in hard_spots(lesson).blocks if isinstance(block, Items)]
    assert [3, 2] == [len(tips) for tips in items]
    assert items[1][1].startswith("Then go on as in number 1")


def test_without_a_spot_the_busiest_bar() -> None:
    """A piece without hard spots is shown the bar with the highest load."""
    lesson = sample(FERRY, "intermediate")
    assert not lesson.report.spots
    music = next(block for block in hard_spots(lesson).blocks if isinstance(block, Music))
    load = lesson.report.load
    assert max(bar.total for bar in load) == load[music.last].total


def test_strain_is_the_teachers_and_a_physicians() -> None:
    """Law of the project: where something can hurt, the page defers to teacher and physician."""
    for lesson in (taught(), sample(FERRY, "intermediate")):
        text = " ".join(block.text for block in hard_spots(lesson).blocks if isinstance(block, Text) and block.look == "caution")
        assert "teacher" in text and "physician" in text


def test_an_entry_is_not_torn() -> None:
    """On paper, what to do with a spot stands on the page of its heading and of its bars."""
    lesson = taught()
    section = hard_spots(lesson)
    made = replace(booklet(lesson), sections=(section,))
    press = Press(made, lesson.rules.level, lesson.rules, lambda sheet: packing.written(sheet, lesson.rules))
    pages = [" ".join(page.get_textpage().get_text_range().split()) for page in PdfDocument(press.pdf())]
    heads = [k for k, block in enumerate(section.blocks) if isinstance(block, Heading) and block.text[0].isdigit()]
    assert len(pages) > 1
    for k in heads:
        head, tips = section.blocks[k], section.blocks[k + 3]
        assert isinstance(head, Heading) and isinstance(tips, Items)
        here = [page for page in pages if " ".join(head.text.split()) in page]
        assert 1 == len(here)
        assert [tip for tip in tips.items if " ".join(tip.split()) not in here[0]] == []
