"""Formats other than MusicXML: what they hold comes through, what they lose is told."""

from __future__ import annotations

import struct
from pathlib import Path

import pytest

from reduce.model.errors import InputError, UsageError
from reduce.read import load
from tests.read.markup import INSTRUMENTS, codes, read, told


def midi_track(*events: tuple[int, bytes]) -> bytes:
    """A track of (delta ticks, message); deltas below 128."""
    body = b"".join(bytes([delta]) + message for delta, message in events) + b"\x00\xff\x2f\x00"
    return b"MTrk" + struct.pack(">I", len(body)) + body


def midi_file(kind: int, *tracks: bytes) -> bytes:
    """Standard MIDI File 1.0, 96 ticks a quarter."""
    return b"MThd" + struct.pack(">IHHH", 6, kind, len(tracks), 96) + b"".join(tracks)


METER = (0, b"\xff\x58\x04\x02\x02\x18\x08")  # 2/4
CLARINET = (0, b"\xc0\x47")
TUNE = [(0, b"\x90\x3e\x40"), (96, b"\x80\x3e\x00"), (0, b"\x90\x40\x40"), (96, b"\x80\x40\x00")]


@pytest.mark.parametrize("kind", [0, 1])
def test_midi(tmp_path: Path, kind: int) -> None:
    """MIDI of both types sounds as it stands, whatever instrument it names; what MIDI does not hold is told."""
    tracks = [midi_track(METER, CLARINET, *TUNE)] if kind == 0 else [midi_track(METER), midi_track(CLARINET, *TUNE)]
    score = read(tmp_path, midi_file(kind, *tracks), "tune.mid")
    assert told(score) == [("D4", 0.0, 1.0), ("E4", 1.0, 1.0)]
    assert (score.file_format, codes(score)) == ("MIDI", ["format"])


KERN = """!!!COM: Nemo, A.
!!!OTL: Fog
**kern\t**kern
*Icello\t*Iclars
*I"Violoncello\t*I"Clarinet in B flat
*\t*ITrd1c2
*k[f#]\t*k[f#]
*clefF4\t*clefG2
*M2/4\t*M2/4
=1\t=1
4G\t8b
.\t8a
[4d\t4f#
=2\t=2
2d]\t2g
==\t==
*-\t*-
"""


def test_kern(tmp_path: Path) -> None:
    """Kern stores sounding pitch even for transposing instruments (Humdrum reference, *ITr); titles come from its records."""
    pytest.importorskip("converter21")
    score = read(tmp_path, KERN, "fog.krn")
    assert told(score) == [
        ("B4", 0.0, 0.5), ("G3", 0.0, 1.0), ("A4", 0.5, 0.5), ("F♯4", 1.0, 1.0), ("D4", 1.0, 3.0), ("G4", 2.0, 2.0),
    ]  # fmt: skip
    assert (score.title, score.composer, score.bars[0].key.fifths) == ("Fog", "Nemo, A.", 1)
    assert [part.instrument for part in score.parts] == ["clarinet-in-bb", "cello"]


ABC = "X:1\nT:First\nM:3/4\nL:1/4\nK:D\nD F A|d3|]\n\nX:2\nT:Second\nM:2/4\nL:1/4\nK:G\nG B|d2|]\n"


def test_abc_book(tmp_path: Path) -> None:
    """Of a book of tunes the first is read, and that is told; another may be named."""
    first = read(tmp_path, ABC, "book.abc")
    assert (first.title, [str(note.pitch) for note in first.notes]) == ("First", ["D4", "F♯4", "A4", "D5"])
    assert "pieces" in codes(first)
    second = read(tmp_path, ABC, "book.abc", movement=2)
    assert (second.title, len(second.notes), "pieces" in codes(second)) == ("Second", 3, False)
    with pytest.raises(UsageError, match="no movement 3"):
        read(tmp_path, ABC, "book.abc", movement=3)


MEI = """<?xml version="1.0" encoding="UTF-8"?>
<mei xmlns="http://www.music-encoding.org/ns/mei" meiversion="5.0"><meiHead><fileDesc><titleStmt><title>Fog</title></titleStmt>
<pubStmt/></fileDesc></meiHead><music><body><mdiv><score><scoreDef meter.count="2" meter.unit="4" keysig="2s"><staffGrp>
<staffDef n="1" lines="5" clef.shape="G" clef.line="2"><label>Violin</label></staffDef></staffGrp></scoreDef><section>
<measure n="1"><staff n="1"><layer n="1">
<note pname="d" oct="5" dur="4"/><note pname="f" oct="5" dur="4" accid.ges="s"/></layer></staff></measure>
<measure n="2"><staff n="1"><layer n="1"><note pname="a" oct="5" dur="2"/></layer></staff></measure>
</section></score></mdiv></body></music></mei>
"""


def test_mei(tmp_path: Path) -> None:
    """MEI, known by its name space."""
    score = read(tmp_path, MEI, "fog.mei")
    assert told(score) == [("D5", 0.0, 1.0), ("F♯5", 1.0, 1.0), ("A5", 2.0, 2.0)]
    assert score.file_format == "MEI"


def test_mei_with_entities(tmp_path: Path) -> None:
    """MEI passes the same safety as MusicXML."""
    hostile = MEI.replace("<mei ", '<!DOCTYPE mei [<!ENTITY x SYSTEM "file:///etc/passwd">]><mei ', 1)
    with pytest.raises(InputError, match="entities"):
        read(tmp_path, hostile, "fog.mei")


@pytest.mark.parametrize(
    ("content", "name"), [("!!!OTL: nothing\n", "x.krn"), ("X:1\nK:%\n", "x.abc"), (b"MThd\x00\x00", "x.mid"), ("@#", "x.md")]
)
def test_damaged(tmp_path: Path, content: str | bytes, name: str) -> None:
    """Damaged files of these formats give one sentence."""
    with pytest.raises(InputError) as caught:
        read(tmp_path, content, name)
    assert "\n" not in str(caught.value)


def test_stored_objects_are_never_loaded(tmp_path: Path) -> None:
    """music21's own stored objects could run code; they are no score here."""
    path = tmp_path / "score.p"
    path.write_bytes(b"\x80\x04\x95")
    with pytest.raises(InputError, match="not in a score format"):
        load(path, INSTRUMENTS)
