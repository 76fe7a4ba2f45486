"""The review page as text: what stands in it, that it is one file, and that nothing of a score file can act in it."""

from __future__ import annotations

import json
import re
import time
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest

from reduce.cli import run
from reduce.report.review import page
from reduce.report.review.index import Index
from reduce.report.review.offers import offers
from reduce.report.review.page import asset
from reduce.report.review.story import headlines, strip, verdict_line
from reduce.reviewing import material, review_page
from tests import tiny

WALTZ = Path(__file__).parents[2] / "samples" / "ferry-landing-waltz.musicxml"
TUNE = """
meter 4/4
key D major
tempo 100
Flute           | d5:4 e5 f#5 g5     | a5:2 f#5           | g5:4 e5 f#5 d5  | e5:2 d5         |
Horn in F       | <f#4 a4>:1         | <f#4 a4>           | <g4 b4>:2 <f#4 a4> | <e4 a4>:2 <f#4 a4> |
Cello           | d3:4 a3 d3 a3      | d3 a3 d3 a3        | e3 b3 d3 a3     | a2:2 d3         |
"""
NASTY = "</script><img src=x onerror=alert(1)>\"'&amp;<!--"


class Elements(HTMLParser):
    """The elements of a page with their attributes, and its text."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None]]] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs)))

    handle_startendtag = handle_starttag


@pytest.fixture(scope="module")
def waltz(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("waltz") / "draft"
    assert run(["draft", str(WALTZ), "--level", "late-beginner", "--key", "auto", "--out", str(folder)]) == 0
    return folder


@pytest.fixture(scope="module")
def index(waltz: Path) -> Index:
    return Index(material(waltz))


def drafted(folder: Path, text: str, name: str = "Tune", *more: str) -> Path:
    (folder / "tune.musicxml").write_bytes(tiny.musicxml(text, name))
    assert run(["draft", str(folder / "tune.musicxml"), "--out", str(folder / "draft"), *more]) == 0
    return folder / "draft"


def test_the_draft_folder_has_its_page(waltz: Path) -> None:
    """`reduce draft` writes review.html; made again from the folder alone it is the same to the byte (law 5)."""
    assert (waltz / "review.html").read_text(encoding="utf-8") == review_page(waltz)


def test_no_review_leaves_the_page_out(tmp_path: Path) -> None:
    """--no-review: everything but the page."""
    folder = drafted(tmp_path, TUNE, "Tune", "--no-review")
    assert not (folder / "review.html").exists()
    assert (folder / "draft.musicxml").exists()


def test_one_file_that_asks_no_network(waltz: Path) -> None:
    """No element loads anything, no style imports anything, and the page's own policy forbids it (Content Security Policy, level 3)."""
    text = (waltz / "review.html").read_text(encoding="utf-8")
    loads = {"src", "srcset", "data", "poster", "action", "formaction", "background", "ping"}
    for tag, attributes in Elements(text).found:
        assert not loads & set(attributes), tag
        assert tag not in ("iframe", "object", "embed", "base", "img", "audio", "video")
        href = attributes.get("href") or attributes.get("xlink:href") or "#"
        assert href.startswith("#") or href == "data:,"
    style = text.partition("<style>")[2].partition("</style>")[0]
    assert "url(" not in style and "@import" not in style
    policy = next(a["content"] for tag, a in Elements(text).found if a.get("http-equiv") == "Content-Security-Policy")
    assert policy is not None and "default-src 'none'" in policy and "connect-src 'none'" in policy and "'unsafe-eval'" not in policy
    assert "script-src 'sha256-" in policy


@pytest.mark.parametrize("where", ["title", "part", "words"])
def test_what_a_file_says_is_text_only(tmp_path: Path, where: str) -> None:
    """A title, a part or a word in the score that tries to be markup stays words."""
    text = tiny.musicxml(TUNE, "Tune").decode("utf-8")
    quoted = NASTY.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
    if where == "title":
        text = re.sub(r"<work-title>.*?</work-title>", lambda _: f"<work-title>{quoted}</work-title>", text)
    elif where == "part":
        text = text.replace("<part-name>Flute</part-name>", f"<part-name>{quoted}</part-name>")
    else:
        words = f'<direction placement="above"><direction-type><words>{quoted}</words></direction-type></direction>'
        text = re.sub(r"(<note\b)", lambda found: words + found[1], text, count=1)
    assert quoted in text
    (tmp_path / "nasty.musicxml").write_text(text, encoding="utf-8")
    assert run(["draft", str(tmp_path / "nasty.musicxml"), "--out", str(tmp_path / "draft")]) == 0
    made = (tmp_path / "draft" / "review.html").read_text(encoding="utf-8")
    elements = Elements(made).found
    assert [] == [tag for tag, attributes in elements if tag == "img" or any(name.startswith("on") for name in attributes)]
    assert 2 == sum(tag == "script" and attributes.get("type") != "text/plain" for tag, attributes in elements)
    assert made.rstrip().endswith("</html>")


def test_ids_of_the_page_are_its_own(waltz: Path) -> None:
    """No id stands twice (HTML standard, 3.2.6), and every link within the page leads somewhere."""
    elements = Elements((waltz / "review.html").read_text(encoding="utf-8")).found
    ids = [attributes["id"] for _, attributes in elements if "id" in attributes]
    assert len(ids) == len(set(ids))
    targets = {(a.get("href") or "")[1:] for tag, a in elements if tag in ("a", "use") and (a.get("href") or "").startswith("#")}
    assert targets <= set(ids)


def test_source_notes_that_are_called_like_draft_notes(tmp_path: Path) -> None:
    """A source whose ids are 'n1', 'n2' ... like the draft's: both keep their own answers."""
    text = tiny.musicxml(TUNE, "Tune").decode("utf-8")
    count = iter(range(1, 1000))
    text = re.sub(r"<note\b(?![^>]*\bid=)", lambda _: f'<note id="n{next(count)}"', text)
    (tmp_path / "tune.musicxml").write_text(text, encoding="utf-8")
    assert run(["draft", str(tmp_path / "tune.musicxml"), "--out", str(tmp_path / "draft")]) == 0
    made = material(tmp_path / "draft")
    assert {"n1"} <= set(made.draft_ids) & set(made.source_ids)
    data = _data(page(made))
    assert all(row[4] >= 0 for row in data["source"] if row)
    assert all(note[9] or note[10] for note in data["draft"] if note)


def _data(text: str) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(text.partition('<script type="application/json" id="data">')[2].partition("</script>")[0])
    return found


def test_every_bar_is_drawn_once_under_its_number(index: Index) -> None:
    """The lines hold all bars in order, the source above and the draft below in the same bars."""
    lines = index.material.lines
    assert list(range(len(index.numbers))) == [bar for line in lines for bar in range(*line.bars)]
    for line in lines:
        assert [str(bar) for bar in range(*line.bars)] == re.findall(r'class="measure" data-b="(\d+)"', line.body)


def test_every_note_of_the_draft_is_drawn(index: Index) -> None:
    """Each note of the draft's file is in the drawing under its own name."""
    drawn = {name for line in index.material.lines for name in re.findall(r'data-n="(d\d+)"', line.body)}
    assert {f"d{place}" for place in range(len(index.material.draft_ids))} == drawn
    assert {note.id for note in index.material.draft.notes} == set(index.material.draft_ids)


def test_the_verdict_in_one_line(index: Index) -> None:
    """Level, key, bars, tempo, and what breaks, what to weigh, what is hard: the figures of report.json."""
    facts = index.material.facts
    line = verdict_line(index)
    assert line.startswith("Late beginner, G major, 25 bars, quarter = ")
    assert f"{facts['counts']['breaches']['soft']} to weigh" in line
    spots = len(facts["hard_spots"])
    assert f"{spots or 'no'} hard spot" in line


def test_at_most_eight_headlines_each_with_its_reasons(index: Index) -> None:
    """Key, length, tempo, tune, bass, left hand, what was left out: each leads to decisions of its own kind."""
    lines = headlines(index)
    assert ["Key", "Length", "Metre and tempo", "Tune", "Bass", "Left hand", "Left out"] == [line.topic for line in lines]
    kinds = {"Key": "key", "Length": "cut", "Tune": "melody", "Bass": "bass", "Left hand": "figure"}
    for line in lines:
        assert line.rows and (line.topic not in kinds or {kinds[line.topic]} == {index.material.decisions[k]["kind"] for k in line.rows})


def test_the_owners_of_the_tune_are_told_in_order(index: Index) -> None:
    """The headline names who has the tune from which bar to which, as the log's decisions do."""
    tune = next(line for line in headlines(index) if line.topic == "Tune").sentence
    rows = [row for row in index.material.decisions if row["kind"] == "melody"]
    first = next(name for name in index.parts if name in rows[0]["sentence"])
    assert tune.startswith(f"The tune is {first}’s in bars {rows[0]['bars'][0]}–")


def test_the_strip_shows_the_load_of_each_bar(index: Index) -> None:
    """A heavier bar never has a lighter grade; bars over the level's budget are flagged."""
    cells = strip(index)
    assert index.numbers == [cell.number for cell in cells]
    for one in cells:
        for other in cells:
            assert one.load <= other.load or one.grade >= other.grade
    load = index.material.facts["load"]
    assert [bar["over_budget"] or bar["outlier"] for bar in load] == [cell.heavy for cell in cells]


def test_runners_up_are_offered(index: Index) -> None:
    """Each instrument that the log refused for the tune is offered, with 'keep' first and the bars of the decision."""
    for row in index.material.decisions:
        if row["kind"] != "melody":
            continue
        found = offers(row, index)
        assert found[0]["keep"] and found[0]["choice"]["melody"] in row["sentence"]
        others = [offer["choice"]["melody"] for offer in found[1:]]
        assert [other["what"] for other in row["rejected"] if other["what"] != found[0]["choice"]["melody"]][:3] == others


def test_a_draft_in_another_key_and_fewer_bars(tmp_path: Path) -> None:
    """An excerpt in another key stands under the same bars of its source, whose notes keep their own fates."""
    assert run(["draft", str(WALTZ), "--level", "intermediate", "--key", "D", "--bars", "9-16", "--out", str(tmp_path / "d")]) == 0
    made = material(tmp_path / "d")
    assert [str(k) for k in range(9, 17)] == [bar.number for bar in made.draft.bars] == [bar.number for bar in made.source.bars]
    assert 0 == made.source.bars[0].start
    data = _data(page(made))
    assert {row[0] for row in data["source"] if row} == set(range(8))
    assert all(0 <= note[0] < 8 for note in data["draft"])


def test_damaged_folders_are_told(waltz: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A folder without its log, or with a broken one: one sentence and exit status 2."""
    assert run(["review", str(tmp_path)]) == 2
    assert "is not a draft folder" in capsys.readouterr().err
    for name in ("report.json", "decisions.jsonl", "notes.jsonl", "condensed.musicxml", "draft.musicxml"):
        (tmp_path / name).write_bytes((waltz / name).read_bytes())
    (tmp_path / "decisions.jsonl").write_text("{broken", encoding="utf-8")
    assert run(["review", str(tmp_path)]) == 2
    assert "is damaged" in capsys.readouterr().err


def test_an_excerpt_with_its_page_is_quick(tmp_path: Path) -> None:
    """Drafting 32 bars for sixteen parts, page and all, takes less than 3 seconds of the processor."""
    ferry = WALTZ.with_name("the-last-ferry.musicxml")
    before = time.process_time()
    assert run(["draft", str(ferry), "--level", "intermediate", "--bars", "1-32", "--out", str(tmp_path / "draft")]) == 0
    assert time.process_time() - before < 3
    assert (tmp_path / "draft" / "review.html").stat().st_size < 2_000_000


def test_colours_of_words_and_notes_can_be_told_from_the_paper() -> None:
    """Every colour that words or notes are set in has a contrast of at least 4.5 with paper and shade (WCAG 2.2, 1.4.3)."""
    named = dict(re.findall(r"--(\w+): (#[0-9a-f]{6})", asset("page.css")))

    def light(colour: str) -> float:
        parts = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
        red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
        return 0.2126 * red + 0.7152 * green + 0.0722 * blue

    def contrast(one: str, other: str) -> float:
        low, high = sorted((light(one), light(other)))
        return (high + 0.05) / (low + 0.05)

    assert round(contrast("#ffffff", "#000000"), 2) == 21  # the formula's own worked value
    for ink in ("ink", "soft", "act", "tune", "bass", "changed", "warn"):
        for ground in ("#ffffff", named["paper"], named["shade"]):
            assert contrast(named[ink], ground) >= 4.5, (ink, ground)
