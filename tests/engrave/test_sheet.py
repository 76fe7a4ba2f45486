"""The printed sheet: size, texts, fonts, lines.

The PDF is read with pypdfium2 (Google's PDFium), which shares no code with what made it; paper sizes: ISO 216, ANSI/ASME Y14.1.
"""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from lxml import etree

from reduce.model.draft import DraftMark
from reduce.model.errors import UsageError
from reduce.model.score import Tempo
from reduce.notate import musicxml
from tests.notate.scores import draft, level

pytest.importorskip("verovio")
pytest.importorskip("typst")

from reduce.engrave import pages, pdf
from reduce.engrave.fonts import MUSIC
from reduce.engrave.stacked_fingers import stacked
from reduce.engrave.verovio_layout import Engraver, natural_widths

BARS = "c5:4 d5 e5 f5 | g5:2 e5 | d5:4 f5 e5 d5 | c5:1 | "


def piece(times: int = 3, order: int = 1, bars_a_line: int = 4, staff_height: float = 8.0) -> tuple[bytes, object]:
    made = draft(
        f"meter 4/4\nright | {BARS * times}\nleft | {'c3:2 g3 | ' * 4 * times}",
        title="Ferry & <Tide>", subtitle="First year", composer="A. Composer", arranger="arranged by B. Arranger", rights="CC0",
        source="harbour manuscript",
    )  # fmt: skip
    made = replace(made, tempos=(Tempo(onset=0, quarters=96.0, text="Rocking"),))
    easy = level(order, bars_a_line=bars_a_line, staff_height=staff_height)
    return musicxml(made, easy), easy


def read(data: bytes) -> tuple[list[tuple[float, float]], list[str]]:
    """Page sizes in millimetres and the text of each page."""
    pdfium = pytest.importorskip("pypdfium2")
    document = pdfium.PdfDocument(data)
    sizes = [tuple(side * 25.4 / 72 for side in page.get_size()) for page in document]
    return sizes, [page.get_textpage().get_text_range() for page in document]


@pytest.mark.parametrize(("paper", "size"), [("a4", (210.0, 297.0)), ("letter", (215.9, 279.4))])
def test_paper_and_texts(paper: str, size: tuple[float, float]) -> None:
    """Portrait, of the size asked for; title, subtitle, people, source and rights, tempo, bar numbers at the lines."""
    data, easy = piece()
    sizes, texts = read(pdf(data, easy, paper))
    assert [pytest.approx(size, abs=0.2)] == sizes
    for word in ("Ferry & <Tide>", "First year", "A. Composer", "B. Arranger", "harbour manuscript", "CC0", "Rocking", "5", "9"):
        assert word in texts[0], word


def test_every_font_is_inside() -> None:
    """The music font is embedded for the note of the metronome mark, and no glyph is missing (PDF: /FontFile3 per font)."""
    data, easy = piece()
    made = pdf(data, easy)
    assert re.search(rb"/FontName\s*/\w+\+" + MUSIC.encode(), made) or MUSIC.encode() in made
    assert "\ufffd" not in read(made)[1][0] and "\u25a1" not in read(made)[1][0]


def test_the_same_bytes_again() -> None:
    """Law 5: no clock and no chance in the file."""
    data, easy = piece(1)
    assert pdf(data, easy) == pdf(data, easy)


def test_more_music_more_pages() -> None:
    """A long piece runs over several pages, each with its number."""
    data, easy = piece(24)
    sizes, texts = read(pdf(data, easy))
    assert len(sizes) > 2
    assert [str(number) in text for number, text in enumerate(texts, 1)] == [True] * len(texts)


def test_four_bars_a_line() -> None:
    """Lines for the screen: four bars each at a level that asks for it, notes with the ids of the file."""
    data, easy = piece()
    lines = pages(data, easy)
    assert [4, 4, 4] == [line.count(' class="measure"') for line in lines]
    assert 'id="n1"' in lines[0] and 'class="note"' in lines[0]


def test_the_staff_has_its_height() -> None:
    """Eight millimetres from the lowest to the highest line of a staff, as the level says."""
    data, easy = piece()
    line = pages(data, easy)[0]
    staff = line.split(' class="staff"')[1]
    heights = sorted({int(y) for y in re.findall(r'<path d="M-?\d+ (\d+) L-?\d+ \1"', staff)})[:5]
    assert 8.0 == pytest.approx((heights[-1] - heights[0]) / 100, abs=0.15)


def test_natural_widths() -> None:
    """Busier bars are wider, and each bar has a width."""
    data, _ = piece(1)
    widths = natural_widths(data, 8.0)
    assert 4 == len(widths) and widths[2] > widths[3] > 5


def test_fingers_of_a_chord_stand_in_a_column() -> None:
    """For the page the fingers of a chord go to its first note, nearest note first; the draft's file keeps them at their notes."""
    data = musicxml(draft("meter 4/4\nright | <c5 d5>:1 |\nleft | <c3 d3 g3>:1 |"), level()).decode()
    for name, finger in {"n1": "1", "n2": "2", "n3": "5", "n4": "4", "n5": "1"}.items():
        side = "above" if name in ("n1", "n2") else "below"
        mark = f'<notations><technical><fingering placement="{side}">{finger}</fingering></technical></notations></note>'
        data = re.sub(f'(<note id="{name}">.*?)</note>', lambda found, mark=mark: found[1] + mark, data)
    root = etree.fromstring(stacked(data).encode())
    fingers = {note.get("id"): "".join(found.text for found in note.iter("fingering")) for note in root.iter("note") if note.get("id")}
    assert {"n1": "12", "n2": "", "n3": "145", "n4": "", "n5": ""} == fingers


def test_a_sign_and_a_column_of_fingers_do_not_meet() -> None:
    """Law: above a chord with a trill stands only the finger of its upper note; below the left hand's chord nothing is in the way."""
    sign = "<ornaments><trill-mark/></ornaments>"
    data = musicxml(draft("meter 4/4\nright | <c5 e5 g5>:1 |\nleft | <c3 g3>:1 |"), level()).decode()
    for name, finger in {"n1": "1", "n2": "3", "n3": "5", "n4": "5", "n5": "1"}.items():
        side = "above" if name in ("n1", "n2", "n3") else "below"
        mark = f'<notations>{sign if name in ("n1", "n4") else ""}<technical><fingering placement="{side}">{finger}</fingering></technical>'
        data = re.sub(f'(<note id="{name}">.*?)</note>', lambda found, mark=mark: f"{found[1]}{mark}</notations></note>", data)
    root = etree.fromstring(stacked(data).encode())
    assert ["5", "15"] == [
        "".join(found.text for found in chord.iter("fingering")) for chord in root.iter("note") if chord.find(".//fingering") is not None
    ]


def test_words_stay_words() -> None:
    """Markup in a text of the score is text on the page: in the SVG and in the PDF."""
    marks = (DraftMark(kind="text", onset=0, end=0, text='<script>alert("1")</script> #panic', hand="right"),)
    made = draft("meter 4/4\nright | c5:1 | d5:1 |\nleft | c3:1 | c3:1 |", marks, title='#import "x" & $y$', source="<b>")
    (line,) = pages(musicxml(made, level()), level())
    root = etree.fromstring(line.encode())
    assert [] == [found for found in root.iter() if isinstance(found.tag, str) and found.tag.endswith("script")]
    assert "#panic" in "".join(root.itertext())
    text = read(pdf(musicxml(made, level()), level()))[1][0]
    assert '#import "x" & $y$' in text and "<b>" in text


def test_an_address_is_not_printed() -> None:
    """What names the source is printed, an address is left to the file."""
    made = draft("meter 4/4\nright | c5:1 | d5:1 |\nleft | c3:1 | c3:1 |", (), source="harbour manuscript, https://scores.example/7")
    text = read(pdf(musicxml(made, level()), level()))[1][0]
    assert "harbour manuscript" in text and "scores.example" not in text
    assert b"scores.example" in musicxml(made, level())


def test_a_paper_we_do_not_have() -> None:
    """A wrong name is answered with the names there are."""
    data, easy = piece(1)
    with pytest.raises(UsageError, match="a4, letter"):
        pdf(data, easy, "a3")


def test_a_piece_that_nearly_fits_is_made_to_fit() -> None:
    """Where a line or two would spill onto one more page a grown reader's staff is set up to a tenth smaller; a beginner's is not."""
    counts = {}
    for times in range(1, 16):
        made, grown = piece(times, order=6, bars_a_line=0, staff_height=8.0)
        counts[times] = len(read(pdf(made, grown))[0])
    plain = {times: len(read(pdf(piece(times)[0], level(1, bars_a_line=4, staff_height=8.0)))[0]) for times in (6, 12)}
    assert sorted(counts.values()) == list(counts.values()) and counts[1] == 1
    assert all(plain[times] >= counts[times] for times in plain)


def test_a_tempo_does_not_touch_the_text_under_it() -> None:
    """Law: from the tempo's tails to the capitals of the next line there is a third of a text's height (engraver's point 21).

    Capitals are 0.73 and tails 0.22 of a text's size (Times and its like).
    """
    made = draft(f"meter 4/4\nright | {BARS}\nleft | {'c3:2 g3 | ' * 4}")
    named = DraftMark(kind="instrument", onset=0, end=0, text="Vln 1", hand="right")
    made = replace(made, tempos=(Tempo(onset=0, quarters=96.0, text="Tempo di giga"),), marks=(named,))
    svg = Engraver(7.0, 180).render(musicxml(made, level(5)))[0]
    found = {
        kind: int(re.search(rf'class="{kind}"[^>]*>\s*<text x="-?\d+" y="(-?\d+)"', svg)[1])  # type: ignore[index]
        for kind in ("tempo", "dir")
    }
    size = int(re.search(r'<tspan font-size="(\d+)px">Vln 1', svg)[1])  # type: ignore[index]
    assert found["dir"] - 0.73 * size - (found["tempo"] + 0.22 * size) >= size / 3
