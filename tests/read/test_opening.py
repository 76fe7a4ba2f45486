"""Whatever file comes: a score or one sentence, soon, and nothing followed or fetched."""

from __future__ import annotations

import io
import os
import time
import zipfile
from pathlib import Path

import pytest

from reduce.model.errors import InputError
from reduce.read import load
from tests.read.markup import INSTRUMENTS, codes, document, n, one, read, start

PLAIN = document(("Flöte", [start() + n("c5 4")]))
CONTAINER = '<container><rootfiles><rootfile full-path="{}" media-type="application/vnd.recordare.musicxml+xml"/>{}</rootfiles></container>'


def archive(**members: str | bytes) -> bytes:
    """A zip archive; "__" in a name stands for "/", "_dot_" for "."."""
    data = io.BytesIO()
    with zipfile.ZipFile(data, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, content in members.items():
            packed.writestr(name.replace("__", "/").replace("_dot_", "."), content)
    return data.getvalue()


def refusal(folder: Path, content: bytes | str, name: str) -> str:
    """The one sentence with which the file is refused."""
    with pytest.raises(InputError) as caught:
        read(folder, content, name)
    sentence = str(caught.value)
    assert "\n" not in sentence
    assert sentence.endswith(".")
    assert str(folder) not in sentence
    return sentence


@pytest.mark.parametrize(
    ("encoding", "declared"),
    [("utf-8-sig", "UTF-8"), ("utf-16", "UTF-16"), ("utf-16-le", "UTF-16"), ("utf-16-be", "UTF-16"), ("latin-1", "ISO-8859-1")],
)
def test_encodings(tmp_path: Path, encoding: str, declared: str) -> None:
    """UTF-8 with a mark, UTF-16 with and without, Latin-1: the part's name comes through."""
    score = read(tmp_path, PLAIN.replace('encoding="UTF-8"', f'encoding="{declared}"').encode(encoding))
    assert score.parts[0].name == "Flöte"
    assert len(score.notes) == 1


def test_compressed(tmp_path: Path) -> None:
    """A .mxl with its container; the name of the file does not matter."""
    packed = archive(**{"META-INF__container_dot_xml": CONTAINER.format("a.xml", ""), "a_dot_xml": PLAIN})
    for name in ("score.mxl", "score.xml", "score"):
        assert len(read(tmp_path, packed, name).notes) == 1


def test_compressed_without_container(tmp_path: Path) -> None:
    """Without a table of contents the first score in the archive is read, and that is told."""
    assert codes(read(tmp_path, archive(b_dot_xml=PLAIN), "score.mxl")) == ["archive"]


def test_compressed_with_several_roots(tmp_path: Path) -> None:
    """The first root is the score (W3C MusicXML 4.0, container); the others are told."""
    other = '<rootfile full-path="b.xml" media-type="application/vnd.recordare.musicxml+xml"/>'
    container = CONTAINER.format("a.xml", other)
    score = read(tmp_path, archive(**{"META-INF__container_dot_xml": container, "a_dot_xml": PLAIN, "b_dot_xml": PLAIN}), "s.mxl")
    assert "2 scores" in score.problems[0].sentence


@pytest.mark.parametrize("place", ["../../etc/passwd", "/etc/passwd", "C:\\windows\\win.ini", "missing.xml"])
def test_container_that_points_outside(tmp_path: Path, place: str) -> None:
    """A container that names a file outside the archive finds nothing there."""
    packed = archive(**{"META-INF__container_dot_xml": CONTAINER.format(place, "")})
    assert "without a MusicXML score" in refusal(tmp_path, packed, "s.mxl")


def test_cut_archive(tmp_path: Path) -> None:
    """A .mxl cut off on the way."""
    whole = archive(a_dot_xml=PLAIN * 50)
    assert "cut off" in refusal(tmp_path, whole[: len(whole) // 2], "s.mxl")


def test_zip_bomb(tmp_path: Path) -> None:
    """Hundreds of megabytes of nothing in a small archive are refused in bounded time."""
    data = io.BytesIO()
    with zipfile.ZipFile(data, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as packed, packed.open("a.xml", "w") as stream:
        for _ in range(310):
            stream.write(b" " * 1_000_000)
    began = time.perf_counter()
    assert "unpacks to more" in refusal(tmp_path, data.getvalue(), "s.mxl")
    assert time.perf_counter() - began < 10


@pytest.mark.parametrize(
    "prologue",
    [
        '<!DOCTYPE score-partwise [<!ENTITY x SYSTEM "file:///etc/passwd">]>',
        '<!DOCTYPE score-partwise [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;"><!ENTITY c "&b;&b;&b;&b;&b;&b;">]>',
        '<!DOCTYPE score-partwise [<!ENTITY % p SYSTEM "http://localhost:9/x.dtd"> %p;]>',
    ],
)
def test_entities(tmp_path: Path, prologue: str) -> None:
    """A score that defines entities is refused, whatever they are."""
    hostile = PLAIN.replace("<score-partwise", prologue + "<score-partwise", 1).replace("Flöte", "&c;" if "ENTITY c" in prologue else "x")
    assert "entities" in refusal(tmp_path, hostile, "s.musicxml")


def test_doctype_is_not_fetched(tmp_path: Path) -> None:
    """The usual DOCTYPE with its address is read without asking that address."""
    usual = '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 3.1 Partwise//EN" "http://localhost:9/partwise.dtd">'
    began = time.perf_counter()
    assert len(read(tmp_path, PLAIN.replace("<score-partwise", usual + "<score-partwise", 1)).notes) == 1
    assert time.perf_counter() - began < 2


@pytest.mark.parametrize(
    ("content", "name", "word"),
    [
        ("Dear teacher, here is my score", "letter.musicxml", "not in a score format"),
        ("Dear teacher, here is my score", "letter.mxl", "cut off"),
        (b"", "empty.musicxml", "empty"),
        ("<html><body>no score</body></html>", "page.xml", "not a MusicXML score"),
        ("<score-partwise/>", "none.xml", "no part"),
        ("<score-partwise><part id='P1'/></score-partwise>", "none.xml", "no part"),
        (PLAIN[: len(PLAIN) // 2], "cut.musicxml", "well-formed"),
        (b"\x00\x01\x02\x03" * 100, "noise.musicxml", "not in a score format"),
        ("<a>" * 100_000, "deep.xml", "well-formed"),
        (b"MThd\x00\x00\x00\x06\x00\x01\x00\x02\x01\xe0MTrk", "cut.mid", "MIDI"),
    ],
)
def test_no_score(tmp_path: Path, content: bytes | str, name: str, word: str) -> None:
    """What is no score is refused with a sentence that says why."""
    assert word in refusal(tmp_path, content, name)


def test_missing_file_folder_and_device(tmp_path: Path) -> None:
    """No file, a folder, a pipe, an impossible name."""
    for path, word in ((tmp_path / "no.mxl", "no file"), (tmp_path, "folder"), (Path("a\0b"), "cannot be opened")):
        with pytest.raises(InputError, match=word):
            load(path, INSTRUMENTS)
    if hasattr(os, "mkfifo"):
        os.mkfifo(tmp_path / "pipe.mxl")
        with pytest.raises(InputError, match="pipe"):
            load(tmp_path / "pipe.mxl", INSTRUMENTS)


def test_score_without_part_list(tmp_path: Path) -> None:
    """Parts that are not listed are read and named by their place."""
    text = f'<score-partwise><part id="P1"><measure>{start() + n("c5 4")}</measure></part></score-partwise>'
    score = read(tmp_path, text)
    assert ([part.name for part in score.parts], codes(score)) == (["Part 1"], ["part-list"])


def test_missing_divisions(tmp_path: Path) -> None:
    """Without divisions lengths are quarter-notes, with a doubt."""
    score = one(tmp_path, n("c4 4"))
    assert (score.notes[0].duration, "divisions" in codes(score)) == (192, True)


def test_lengths_without_common_measure(tmp_path: Path) -> None:
    """Divisions that share no small measure are rounded to the finest step kept, and that is told."""
    parts = [(f"Flute {d}", [start(d, "4/4") + n(f"c5 {4 * d}")]) for d in (97, 101, 103, 107)]
    score = read(tmp_path, document(*parts))
    assert score.resolution == 100_800
    assert {note.duration for note in score.notes} == {4 * 100_800}
    assert "resolution" in codes(score)


def test_name_space(tmp_path: Path) -> None:
    """Some programs put MusicXML into a name space; it is taken off."""
    assert len(read(tmp_path, PLAIN.replace("<score-partwise", '<score-partwise xmlns="urn:x"', 1)).notes) == 1


def test_size(tmp_path: Path) -> None:
    """Sixty-four parts; two thousand bars; each in good time."""
    many = document(*[(f"Violin {k}", [start() + n("c5 4"), n("d5 4")]) for k in range(64)])
    long = document(("Violin", [start() + n("c5 4"), *[n("d5 4")] * 1_999]))
    began = time.perf_counter()
    assert len(read(tmp_path, many).parts) == 64
    assert len(read(tmp_path, long).bars) == 2_000
    assert time.perf_counter() - began < 3


def test_an_editors_note_is_no_part_of_a_name(tmp_path: Path) -> None:
    """Law: what stands in square brackets behind a part's name is left out."""
    text = document(("B Horn 3 [NB: B natural]", [start() + n("c5 4")]), ("Violin 1", [start() + n("c5 4")]))
    assert [part.name for part in read(tmp_path, text).parts] == ["B Horn 3", "Violin 1"]
