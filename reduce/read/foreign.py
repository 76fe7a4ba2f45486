"""Formats other than MusicXML, through music21 (and converter21 where it is installed), rewritten as MusicXML for our own reader.

One reader decides about pitch, time and marks, so that every format gives the same records.  Only formats that music21 reads from
text or bytes in memory are let in; nothing here opens a file, and music21's own stored objects (pickles) are never loaded.
"""

from __future__ import annotations

import contextlib
import importlib.util
import io
import re
import warnings
from collections.abc import Iterator
from typing import Any

from lxml import etree

from reduce.model.errors import InputError, UsageError
from reduce.model.record import dataclass
from reduce.read.findings import Findings
from reduce.read.opening import Opened, strict_parser

LARGEST = 30_000_000  # bytes; these readers are slow, and no score in these formats is as large


@dataclass(frozen=True, slots=True)
class Format:
    """A format by its ``name`` for people; ``reader`` is the music21 class, ``better`` the converter21 class or ``""``.

    ``sounds``: the format stores what sounds, whatever instruments it names (music21 would transpose them on the way out).
    """

    name: str
    reader: str
    better: str
    lost: str
    binary: bool = False
    sounds: bool = False


_MIDI = Format(
    "MIDI",
    "ConverterMidi",
    "",
    "A MIDI file holds no spelling, voices, slurs and hardly a mark; note names and values were worked out.",
    binary=True,
    sounds=True,
)
_KERN = Format(
    "kern", "ConverterHumdrum", "HumdrumConverter", "Kern holds few playing directions; page layout and some marks are not read."
)
_ABC = Format("ABC", "ConverterABC", "", "ABC holds tunes; decorations, grace notes and dynamics are read only in part.", sounds=True)
_MEI = Format("MEI", "ConverterMEI", "MEIConverter", "Of MEI, variants, editorial marks and page layout are not read.")
_MUSEDATA = Format("MuseData", "ConverterMuseData", "", "Of MuseData, print suggestions and some marks are not read.")
_NWC = Format("Noteworthy text", "ConverterNoteworthy", "", "Of this format, many marks are not read.")

_BY_SUFFIX = {
    ".mid": _MIDI, ".midi": _MIDI, ".smf": _MIDI, ".kar": _MIDI, ".krn": _KERN, ".kern": _KERN, ".hmd": _KERN, ".abc": _ABC, ".mei": _MEI,
    ".md": _MUSEDATA, ".musedata": _MUSEDATA, ".nwctxt": _NWC,
}  # fmt: skip


def format_of(opened: Opened) -> Format | None:
    """The format of the bytes: by what they begin with, then by the name's ending; None where neither tells."""
    head = opened.data[:4096]
    if head.startswith(b"MThd"):
        return _MIDI
    if head.startswith((b"**", b"!!")):
        return _KERN
    if head.startswith((b"X:", b"%abc")):
        return _ABC
    if opened.markup:
        return _MEI if b"music-encoding.org" in head.replace(b"\x00", b"") else None
    found = _BY_SUFFIX.get(opened.suffix)
    return None if found is None or found.binary or found is _MEI or b"\x00" in head else found


def as_musicxml(opened: Opened, kind: Format, movement: int | None, findings: Findings) -> etree._Element:
    """The score as a MusicXML tree.

    ``movement`` chooses, from 1, among the pieces of a file that holds several.  Raises InputError where the file cannot be read,
    UsageError where it has no such piece.
    """
    if len(opened.data) > LARGEST:
        raise InputError(f"{opened.name!r} is larger than {LARGEST // 1_000_000} million bytes, too large for a {kind.name} score.")
    content: str | bytes = opened.data if kind.binary else _text(opened.data)
    facts: dict[str, str] = {}
    if kind is _KERN and isinstance(content, str):
        content, facts = _without_references(content)
    elif kind is _ABC and isinstance(content, str):
        tunes = _tunes(content)
        if len(tunes) > 1:
            _choose(opened.name, len(tunes), movement, findings)
            content, movement = tunes[(movement or 1) - 1], None
    with _quiet():
        try:
            read = _parse(content, kind)
            pieces = _pieces(read)
        except Exception:  # the libraries raise errors of every kind on damaged input
            raise InputError(f"{opened.name!r} cannot be read as {kind.name}; it is perhaps damaged, or not {kind.name} at all.") from None
        if not pieces:
            raise InputError(f"{opened.name!r} holds no music.")
        if movement is not None and not 1 <= movement <= len(pieces):
            raise UsageError(f"{opened.name!r} holds {len(pieces)} piece{'s' if len(pieces) > 1 else ''}; there is no movement {movement}.")
        if movement is None and len(pieces) > 1:
            findings.add(
                "doubt", "pieces", f"The file holds {len(pieces)} pieces; the first was read. Name another by its movement number."
            )
        try:
            tree = _exported(pieces[(movement or 1) - 1])
        except Exception:
            raise InputError(
                f"{opened.name!r} was read as {kind.name}, but its notes cannot be written out in bars; it is perhaps damaged."
            ) from None
    if kind.sounds:
        etree.strip_elements(tree, "transpose")
    _add_facts(tree, facts)
    findings.add("note", "format", kind.lost)
    if kind.better and not _has_converter21():
        findings.add(
            "doubt", "format", f"{kind.name} was read without converter21, and transposing parts may stand at the wrong pitch; install it."
        )
    return tree


def _choose(name: str, count: int, movement: int | None, findings: Findings) -> None:
    """Check the choice among ``count`` pieces; without one the first is read, and that is told."""
    if movement is not None and not 1 <= movement <= count:
        raise UsageError(f"{name!r} holds {count} piece{'s' if count > 1 else ''}; there is no movement {movement}.")
    if movement is None and count > 1:
        findings.add("doubt", "pieces", f"The file holds {count} pieces; the first was read. Name another by its movement number.")


def _tunes(text: str) -> list[str]:
    """The tunes of an ABC book, each with what stands before the first (a tune begins with "X:")."""
    head, *rest = re.split(r"(?m)^(?=X:)", text)
    return [head + tune for tune in rest]


def _text(data: bytes) -> str:
    for mark, encoding in ((b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16"), (b"\xef\xbb\xbf", "utf-8-sig")):
        if data.startswith(mark):
            return data.decode(encoding, errors="replace")
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError:
        return data.decode("latin-1")


def _without_references(text: str) -> tuple[str, dict[str, str]]:
    """Kern without its reference records ("!!!COM: ..."), and those records: titles and people, on which readers stumble."""
    lines = text.splitlines()
    facts: dict[str, str] = {}
    for line in lines:
        if line.startswith("!!!") and ":" in line:
            key, _, value = line[3:].partition(":")
            facts.setdefault(key.partition("@")[0].strip(), value.strip())
    return "\n".join(line for line in lines if not line.startswith("!!!")) + "\n", facts


def _add_facts(tree: etree._Element, facts: dict[str, str]) -> None:
    """Write title and composer of kern's reference records (OTL, OPR, COM) into the tree."""
    title, composer = facts.get("OPR") or facts.get("OTL"), facts.get("COM")
    if title:
        for old in (*tree.findall("work"), *tree.findall("movement-title")):
            tree.remove(old)
        etree.SubElement(etree.SubElement(tree, "work"), "work-title").text = title
        if facts.get("OPR") and facts.get("OTL"):
            etree.SubElement(tree, "movement-title").text = facts["OTL"]
    if composer:
        identification = tree.find("identification")
        if identification is None:
            identification = etree.SubElement(tree, "identification")
        for old in identification.findall("creator"):
            identification.remove(old)
        etree.SubElement(identification, "creator", type="composer").text = composer


def _has_converter21() -> bool:
    return importlib.util.find_spec("converter21") is not None


def _parse(content: str | bytes, kind: Format) -> Any:
    """The music21 stream, by the better reader if it can, else by music21's own.

    The reader classes are called directly, since registering them would change music21 for everyone.
    """
    if kind.better and _has_converter21():
        import converter21

        with contextlib.suppress(Exception):
            return _streamed(getattr(converter21, kind.better)(), content)
    from music21.converter import subConverters

    return _streamed(getattr(subConverters, kind.reader)(), content)


def _streamed(reader: Any, content: str | bytes) -> Any:
    reader.parseData(content)
    return reader.stream


def _pieces(read: Any) -> list[Any]:
    """The scores in what was read, those without notes left out."""
    from music21 import stream

    scores = list(read.scores) if isinstance(read, stream.Opus) else [read]
    return [score for score in scores if score.recurse().notesAndRests.first() is not None]


def _exported(score: Any) -> etree._Element:
    """The stream as MusicXML, without the names music21 puts where there are none."""
    from music21 import defaults
    from music21.musicxml.m21ToXml import GeneralObjectExporter

    _part_voices(score)
    tree = etree.fromstring(GeneralObjectExporter(score).parse(), strict_parser())
    for element in (*tree.iterfind("movement-title"), *tree.iterfind("work/work-title"), *tree.iterfind("identification/creator")):
        if element.text in (defaults.title, defaults.author):
            element.text = ""
    return tree


def _part_voices(score: Any) -> None:
    """Give notes that overlap in a bar voices of their own; music21 leaves ties out of MIDI's voices and would write them in a row."""
    for bar in score.recurse().getElementsByClass("Measure"):
        if bar.hasVoices():
            continue
        reach = 0
        for element in bar.notesAndRests:
            if element.offset < reach:
                bar.makeVoices(inPlace=True)
                break
            reach = element.offset + element.quarterLength


@contextlib.contextmanager
def _quiet() -> Iterator[None]:
    """Keep the libraries' own warnings and prints away from the user, who gets our findings instead."""
    import logging

    level = logging.root.manager.disable
    logging.disable(logging.CRITICAL)
    try:
        with warnings.catch_warnings(), contextlib.redirect_stderr(io.StringIO()), contextlib.redirect_stdout(io.StringIO()):
            warnings.simplefilter("ignore")
            yield
    finally:
        logging.disable(level)
