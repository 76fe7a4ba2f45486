"""The sample files are whole and readable by others."""

from __future__ import annotations

from collections import Counter
from fractions import Fraction
from pathlib import Path

import pytest
from lxml import etree

from tests.outside.test_schema import faults, schema  # noqa: F401
from tests.samples.ear import FOLDER, PLAYERS, TEXTS, Ear, compose, lines

import writer  # of the samples folder, which `ear` puts on the path  # isort: skip

FILES = [FOLDER / f"{text.stem}.musicxml" for text in TEXTS]
LARGE = FOLDER / "the-last-ferry.musicxml"


def names(path: Path) -> str:
    return path.stem


@pytest.mark.parametrize("text", TEXTS, ids=names)
def test_the_file_is_what_the_text_says(text: Path) -> None:
    """Composing again gives the same bytes."""
    assert (FOLDER / f"{text.stem}.musicxml").read_bytes() == writer.document(compose.load(text))


def test_no_file_without_a_text() -> None:
    """Every sample is written from its score text."""
    assert sorted(FOLDER.glob("*.musicxml")) == sorted(FILES)


@pytest.mark.parametrize("path", FILES, ids=names)
def test_bars_add_up(path: Path) -> None:
    """Each voice of each part fills each bar; all parts have the same bars."""
    score = compose.load(FOLDER / "scores" / f"{path.stem}.txt")
    root = etree.parse(path).getroot()
    numbers = [str(number) for number in range(score.first, score.last + 1)]
    for part in root.iterfind("part"):
        assert numbers == [measure.get("number") for measure in part.iterfind("measure")]
        for measure in part.iterfind("measure"):
            length = score.upbeat if measure.get("number") == "0" else score.bar_ticks
            filled: Counter[str] = Counter()
            for note in measure.iterfind("note"):
                if note.find("grace") is None and note.find("chord") is None:
                    filled[note.findtext("voice") or ""] += int(note.findtext("duration") or 0)
            assert {length} == set(filled.values()), (part.get("id"), measure.get("number"))


@pytest.mark.parametrize("path", FILES, ids=names)
def test_pairs_are_closed(path: Path) -> None:
    """Slurs, ties and hairpins that begin come to an end, in each part and voice."""
    for part in etree.parse(path).getroot().iterfind("part"):
        for tag, group in (("slur", "voice"), ("wedge", "staff")):
            sides: dict[str | None, list[str]] = {}
            for sign in part.iter(tag):
                owner = next(element for element in sign.iterancestors() if element.tag in ("note", "direction"))
                sides.setdefault(owner.findtext(group), []).append("stop" if sign.get("type") == "stop" else "start")
            for order in sides.values():
                assert order == ["start", "stop"] * (len(order) // 2), (part.get("id"), tag)


@pytest.mark.parametrize("path", FILES, ids=names)
def test_music21_hears_the_score(path: Path) -> None:
    """music21 reads each part without complaint: sounding pitch, spelling, onset and length of all notes are those of the text."""
    music21 = pytest.importorskip("music21")
    score = compose.load(FOLDER / "scores" / f"{path.stem}.txt")
    stream = music21.converter.parse(path, forceSource=True)
    staves = list(stream.parts)
    wanted = [bars for name in score.players for bars in score.staves[name]]
    players = [name for name in score.players for _ in score.staves[name]]
    assert len(wanted) == len(staves)
    ear = Ear(score)
    for name, bars, part in zip(players, wanted, staves, strict=True):
        if not PLAYERS[name].pitched:
            continue
        sounding = part.toSoundingPitch()
        expected: Counter[tuple[str, Fraction, Fraction]] = Counter()
        for index, bar in enumerate(bars):
            for voice in bar:
                at = ear.start(score.first + index)
                for note in voice:
                    if isinstance(note, lines.Note):
                        for head in note.pitches:
                            spelled = head.step + ("#" * head.alter if head.alter > 0 else "-" * -head.alter) + str(head.octave)
                            expected[spelled, Fraction(at, lines.QUARTER), Fraction(note.ticks, lines.QUARTER)] += 1
                        at += note.ticks
        heard = Counter(
            (pitch.nameWithOctave, Fraction(note.getOffsetInHierarchy(sounding)), Fraction(note.quarterLength))
            for note in sounding.recurse().notes
            if not note.duration.isGrace
            for pitch in note.pitches
        )
        assert expected == heard, name


@pytest.mark.parametrize("path", FILES, ids=names)
def test_verovio_engraves_without_warning(path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    """verovio loads the file and draws every page; it has nothing to say about it."""
    verovio = pytest.importorskip("verovio")
    toolkit = verovio.toolkit()
    assert toolkit.loadFile(str(path))
    assert all("<svg" in toolkit.renderToSVG(page) for page in range(1, toolkit.getPageCount() + 1))
    assert "" == capfd.readouterr().err


@pytest.mark.parametrize("path", FILES, ids=names)
def test_valid_against_the_schema(path: Path, schema: etree.XMLSchema) -> None:  # noqa: F811  # the fixture
    """Valid MusicXML 4.0.  Source: the W3C schema, as the package ``musicxml`` ships it."""
    assert [] == faults(schema, path.read_bytes())


def test_the_large_piece_has_what_an_orchestral_score_can_ask() -> None:
    """Parts, length, key, and each sign that a reduction has to deal with."""
    score = compose.load(FOLDER / "scores" / f"{LARGE.stem}.txt")
    root = etree.parse(LARGE).getroot()
    assert len(score.players) >= 14
    assert score.last >= 64
    assert score.fifths >= 3 and score.mode == "minor" and score.upbeat
    assert len({staff for _, _, staff in score.tune}) >= 6  # the theme moves
    tags = {element.tag for element in root.iter()}
    assert {"grace", "trill-mark", "tremolo", "fermata", "arpeggiate", "wedge", "repeat", "ending", "rehearsal", "metronome"} <= tags
    words = {words.text or "" for words in root.iter("words")}
    for word in ("pizz.", "arco", "div.", "unis.", "solo", "a 2", "rit."):
        assert any(word in text for text in words), word
    strokes = {stroke.text for stroke in root.iter("tremolo")}
    assert {"2", "3"} <= strokes
    transposed = {part.findtext(".//transpose/chromatic") for part in root.iterfind("part")}
    assert {"-3", "-10", "-7", "2"} <= transposed  # clarinets in A, horns in D and F, trumpets in D
