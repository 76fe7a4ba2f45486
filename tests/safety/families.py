"""Scores of every kind that comes to an arranger, named by what is odd about them."""

from __future__ import annotations

import io
import zipfile
from functools import cache

from tests.read.markup import document, n, r, start, transpose, words
from tests.read.test_foreign import ABC, KERN, MEI, METER, midi_file, midi_track
from tests.read.test_foreign import TUNE as MIDI_TUNE

TUNE = [start(2, "3/4") + n("d5 4") + n("e5 2"), n("f5 6"), n("e5 2") + n("d5 4"), n("c5 6")]
BASS = [start(2, "3/4") + n("d3 6"), n("b2 6"), n("g2 6"), n("c3 6")]
PLAIN = document(("Oboe", TUNE), ("Cello", BASS))


def many_bars(count: int, parts: int = 2) -> str:
    """``parts`` parts of ``count`` bars of quarters, no two neighbours alike."""
    steps = "cdefgab"
    made = []
    for part in range(parts):
        octave = 5 - part % 4
        bars = ["".join(n(f"{steps[(bar * 3 + beat * (part + 1)) % 7]}{octave} 1") for beat in range(4)) for bar in range(count)]
        bars[0] = start() + bars[0]
        made.append((f"Violin {part + 1}", bars))
    return document(*made)


def timewise() -> str:
    """The plain score, bars outside and parts inside."""
    bars = "".join(
        f'<measure number="{k}"><part id="P1">{tune}</part><part id="P2">{bass}</part></measure>'
        for k, (tune, bass) in enumerate(zip(TUNE, BASS, strict=True), 1)
    )
    listed = PLAIN[PLAIN.index("<part-list>") : PLAIN.index("</part-list>")] + "</part-list>"
    return f'<?xml version="1.0"?><score-timewise version="4.0">{listed}{bars}</score-timewise>'


def archive(files: dict[str, str]) -> bytes:
    """A compressed score of files by name."""
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as made:
        for name, text in files.items():
            made.writestr(name, text)
    return packed.getvalue()


def container(*places: str) -> str:
    roots = "".join(f'<rootfile full-path="{place}"/>' for place in places)
    return f"<container><rootfiles>{roots}</rootfiles></container>"


TUPLET = "<time-modification><actual-notes>{}</actual-notes><normal-notes>{}</normal-notes></time-modification>"
STROKE = "<note><unpitched><display-step>E</display-step><display-octave>4</display-octave></unpitched><duration>{}</duration></note>"
METRES = ("5+3+1/4", "1/4", "7/8", "2/1", "12/8", "3/16")
VERSIONS = ("1.1", "2.0", "3.0", "3.1", "4.0")


@cache
def written() -> dict[str, bytes]:
    """File name to content of what a MusicXML file may be."""
    spelled = PLAIN.replace("Oboe", "Hautbois d’été")
    utf16 = spelled.replace("UTF-8", "UTF-16")
    nested = start(30, "2/4") + "".join(n(f"{s}5 4", TUPLET.format(15, 8)) for s in "cdefg")
    nested += n("c5 20", TUPLET.format(3, 2)) + n("d5 20")
    metres = [start(2, m, None) + n(f"c5 {d}") for m, d in zip(METRES, (18, 2, 7, 16, 12, 1), strict=True)]
    texts: dict[str, str | bytes] = {
        "plain.musicxml": PLAIN,
        "timewise.xml": timewise(),
        "utf-8-mark.xml": spelled.encode("utf-8-sig"),
        "utf-16-mark.xml": utf16.encode("utf-16"),
        "utf-16-no-mark.xml": utf16.encode("utf-16-be"),
        "latin-1.xml": PLAIN.replace("Oboe", "Flûte à bec").replace("UTF-8", "ISO-8859-1").encode("iso-8859-1"),
        "no-container.mxl": archive({"tune.xml": PLAIN}),
        "two-roots.mxl": archive({"META-INF/container.xml": container("a.xml", "b.xml"), "a.xml": PLAIN, "b.xml": PLAIN}),
        "one-part.xml": document(("Oboe", TUNE)),
        "one-bar.xml": document(("Oboe", TUNE[:1]), ("Cello", BASS[:1])),
        "one-note.xml": document(("Oboe", [start() + n("c5 4")])),
        "no-notes.xml": document(("Oboe", [start() + r("4"), r("4")]), ("Cello", [start() + r("4"), r("4")])),
        "no-bars.xml": document(("Oboe", [])),
        "empty-bars.xml": document(("Oboe", ["", ""]), ("Cello", ["", ""])),
        "only-percussion.xml": document(
            ("Triangle", [start() + STROKE.format(2) * 2] * 3), ("Snare Drum", [start() + STROKE.format(1) * 4] * 3)
        ),
        "early-end.xml": document(("Oboe", TUNE), ("Cello", BASS[:2])),
        "wrong-lengths.xml": document(("Oboe", [TUNE[0] + n("c5 3"), n("c5 1"), *TUNE[2:]]), ("Cello", BASS)),
        "one-endless-bar.xml": document(("Oboe", [start(7, "4/4") + n("c5 5000") + n("d5 9") * 400]), ("Cello", [start() + n("c3 4")])),
        "no-divisions.xml": PLAIN.replace("<divisions>2</divisions>", ""),
        "odd-lengths.xml": document(
            ("Oboe", [start(7, "4/4") + n("c5 5") + n("d5 11") + n("e5 12")]), ("Cello", [start(11, "4/4") + n("c3 44")])
        ),
        "no-metre-no-key.xml": document(("Oboe", [start(1, "", None) + n("c5 4")] * 2), ("Cello", [start(1, "", None) + n("c3 4")] * 2)),
        "no-part-list.xml": PLAIN[: PLAIN.index("<part-list>")] + PLAIN[PLAIN.index("</part-list>") + 12 :],
        "nested-tuplets.xml": document(("Oboe", [nested]), ("Cello", [start(1, "2/4") + n("c3 2")])),
        "64-parts.xml": many_bars(3, 64),
        "2000-bars.xml": many_bars(2000, 1),
        "many-metres.xml": document(("Oboe", metres)),
        "far-keys.xml": document(("Oboe", [start(1, "4/4", 7) + n("b##5 4"), start(1, "4/4", -7) + n("fbb5 4")])),
        "extreme-pitches.xml": document(("Piccolo", [start(more=transpose(0, 0, 1)) + n("g9 4")]), ("Tuba", [start() + n("c-1 4")])),
        "horn-without-crook.xml": document(("Corno", [start() + n("c5 4"), n("g4 4")]), ("Cello", [start() + n("f3 4"), n("c3 4")])),
        "only-graces.xml": document(("Oboe", [start() + n("c5", head="<grace/>") + r("4")]), ("Cello", [start() + r("4")])),
        "only-words.xml": document(("Oboe", [start() + words("Adagio <tacet>".replace("<", "&lt;")) + r("4")])),
        "names-that-bite.xml": PLAIN.replace("Oboe", "&lt;script&gt;alert(1)&lt;/script&gt; #raw \\ $x$ =1+1, \"'; rm -rf ~"),
    }
    for version in VERSIONS:
        texts[f"version-{version}.xml"] = PLAIN.replace('version="4.0"', f'version="{version}"')
    return {name: text.encode() if isinstance(text, str) else text for name, text in texts.items()}


@cache
def foreign() -> dict[str, bytes]:
    """File name to content of other formats."""
    return {
        "type-0.mid": midi_file(0, midi_track(METER, *MIDI_TUNE)),
        "type-1.mid": midi_file(1, midi_track(METER), midi_track(*MIDI_TUNE), midi_track(*MIDI_TUNE)),
        "no-notes.mid": midi_file(1, midi_track(METER)),
        "fog.krn": KERN.encode(),
        "book.abc": ABC.encode(),
        "fog.mei": MEI.encode(),
    }


@cache
def broken() -> dict[str, bytes]:
    """File name to content of what is no score, or an attack."""
    bomb = "".join(f'<!ENTITY e{k} "{f"&e{k - 1};" * 10}">' for k in range(1, 9))
    entities = "<!DOCTYPE score-partwise [{}]>"
    outside = entities.format('<!ENTITY x SYSTEM "file:///etc/hostname">')
    return {
        "empty.xml": b"",
        "letter.musicxml": b"Dear Sir, please find enclosed",
        "half.xml": PLAIN[: len(PLAIN) // 2].encode(),
        "half.mxl": archive({"tune.xml": PLAIN})[:200],
        "no-score.mxl": archive({"readme.txt": "hello"}),
        "page.xml": b"<html><body/></html>",
        "bomb.xml": PLAIN.replace("<score-partwise", entities.format('<!ENTITY e0 "ha">' + bomb) + "<score-partwise").encode(),
        "outside.xml": PLAIN.replace("<score-partwise", outside + "<score-partwise").replace("Oboe", "&x;").encode(),
        "zip-bomb.mxl": bombed(),
        "noise.mid": b"MThd\x00\x00",
        "noise.krn": b"!!!OTL: nothing\n",
        "noise.mei": b'<mei xmlns="http://www.music-encoding.org/ns/mei"/>',
    }


def bombed() -> bytes:
    """An archive of half a million bytes that unpacks to more than any score has."""
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as made, made.open("tune.xml", "w") as inner:
        inner.write(b"<score-partwise>")
        for _ in range(310):
            inner.write(b" " * 1_000_000)
    return packed.getvalue()
