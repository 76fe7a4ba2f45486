"""Several players as one score: files of our own with the same bars, one under the other."""

from __future__ import annotations

import re
from collections.abc import Sequence

from lxml import etree

from reduce.model.record import dataclass

_NAMES = ("part-name", "part-abbreviation")


@dataclass(frozen=True, slots=True, kw_only=True)
class Stave:
    """One player's file: how it is named, its size as a share of the score's."""

    name: str
    short: str
    musicxml: bytes
    size: float = 1.0


def ensemble(staves: Sequence[Stave]) -> bytes:
    """One score of all players, the first on top; head and credits are those of the last.

    Notes get the number of their player before their id, tempo marks stand above the first player alone, lines end where the last
    player's do.  Raises ValueError where the files have not the same number of bars.
    """
    roots = [
        etree.fromstring(stave.musicxml, etree.XMLParser(resolve_entities=False, no_network=True, remove_blank_text=True))
        for stave in staves
    ]
    counts = {len(root.findall("part/measure")) for root in roots}
    if len(counts) > 1:
        raise ValueError(f"players with {sorted(counts)} bars cannot play together")
    score = roots[-1]
    listed = score.find("part-list")
    own = score.find("part")
    assert listed is not None and own is not None
    for entry in list(listed):
        listed.remove(entry)
    score.remove(own)
    for k, (stave, root) in enumerate(zip(staves, roots, strict=True)):
        part = own if root is score else root.find("part")
        assert part is not None
        _called(part, k)
        if k:
            _without_tempo(part)
        if stave.size != 1:
            _sized(part, stave.size)
        listed.append(_entry(f"P{k + 1}", stave))
        score.append(part)
    for line in score.iter("credit", "score-part", "part", "measure", "attributes", "direction", "note", "backup"):
        line.tail = "\n"
    return etree.tostring(score, encoding="UTF-8", xml_declaration=True)


def _called(part: etree._Element, place: int) -> None:
    part.set("id", f"P{place + 1}")
    for note in part.iter("note"):
        name = note.get("id")
        if name:
            note.set("id", f"p{place + 1}{name}")


def _without_tempo(part: etree._Element) -> None:
    """Takes away what is said once for all: metronome marks, their words and sounds, and where lines end."""
    for measure in part.iterfind("measure"):
        for direction in measure.findall("direction"):
            if direction.find("direction-type/metronome") is not None or direction.find("sound[@tempo]") is not None:
                measure.remove(direction)
        for line in measure.findall("print"):
            measure.remove(line)


def _sized(part: etree._Element, size: float) -> None:
    """Small staves, as for a part that is only to be followed."""
    attributes = part.find("measure/attributes")
    if attributes is None:
        return
    count = int(attributes.findtext("staves") or 1)
    before = [child for child in attributes if re.fullmatch("divisions|key|time|staves|part-symbol|instruments|clef", str(child.tag))]
    at = list(attributes).index(before[-1]) + 1 if before else 0
    for number in range(count, 0, -1):
        details = etree.Element("staff-details", number=str(number))
        etree.SubElement(details, "staff-size").text = f"{100 * size:g}"
        attributes.insert(at, details)


def _entry(name: str, stave: Stave) -> etree._Element:
    entry = etree.Element("score-part", id=name)
    for tag, text in zip(_NAMES, (stave.name, stave.short), strict=True):
        etree.SubElement(entry, tag).text = text
    instrument = etree.SubElement(entry, "score-instrument", id=f"{name}-I1")
    etree.SubElement(instrument, "instrument-name").text = stave.name
    midi = etree.SubElement(entry, "midi-instrument", id=f"{name}-I1")
    etree.SubElement(midi, "midi-program").text = "1"
    return entry
