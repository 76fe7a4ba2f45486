"""Some bars of a MusicXML file as a file of their own, and notes under other names, for reading on a screen."""

from __future__ import annotations

import copy
import html
import re
from collections.abc import Sequence

from lxml import etree

_CARRIED = ("divisions", "key", "time", "staves", "clef")  # what stands from its bar on, in the order of the schema
_NOTE_ID = re.compile(r'(<note\b[^>]*?\bid=")([^"]*)(")')
_TIED = re.compile(r"(.+)-tie\d+")


def bar_numbers(musicxml: bytes) -> list[str]:
    """The printed numbers of the bars."""
    part = _root(musicxml).find("part")
    return [] if part is None else [measure.get("number", "") for measure in part.iterfind("measure")]


def matching(numbers: Sequence[str], wanted: Sequence[str]) -> int:
    """Where the bars ``wanted`` begin among the bars ``numbers``.  Raises ValueError where they do not stand there in a row."""
    for at in range(len(numbers) - len(wanted) + 1):
        if list(numbers[at : at + len(wanted)]) == list(wanted):
            return at
    raise ValueError("these bars are not in the score")


def stretch(musicxml: bytes, first: int, last: int) -> bytes:
    """The bars ``first`` to ``last`` (indices, both included) with the key, metre and clefs that hold there.

    Slurs and ties into the stretch lose their other end; notes keep their ids.
    """
    root = _root(musicxml)
    for part in root.iterfind("part"):
        measures = part.findall("measure")
        standing: dict[tuple[str, str], etree._Element] = {}
        for measure in measures[:first]:
            for attributes in measure.iterfind("attributes"):
                for child in attributes:
                    if child.tag in _CARRIED:
                        standing[str(child.tag), child.get("number", "")] = child
        for k, measure in enumerate(measures):
            if not first <= k <= last:
                part.remove(measure)
        if first < len(measures) and standing:
            _begin(measures[first], standing)
    return etree.tostring(root, encoding="UTF-8", xml_declaration=True)


def _begin(measure: etree._Element, standing: dict[tuple[str, str], etree._Element]) -> None:
    """Puts what stood before at the head of a bar that now begins the file; what the bar says itself wins."""
    own = measure.find("attributes")
    if own is None or any(sibling.tag in ("note", "backup", "forward") for sibling in own.itersiblings(preceding=True)):
        own = etree.Element("attributes")
        measure.insert(0, own)
    told = {(str(child.tag), child.get("number", "")): child for child in own}
    both = {**{key: copy.deepcopy(child) for key, child in standing.items()}, **told}
    rest = [child for key, child in told.items() if key[0] not in _CARRIED]
    for child in list(own):
        own.remove(child)
    own.extend(child for name in _CARRIED for key, child in sorted(both.items()) if key[0] == name)
    own.extend(rest)


def renamed(musicxml: bytes, prefix: str) -> tuple[bytes, tuple[str, ...]]:
    """The file with its notes called ``prefix`` and a running number, and their own ids in that order.

    The pieces of a tied note ('n5', 'n5-tie2') get one name, so that they answer as the one note that is struck; whatever a
    foreign file calls its notes stays out of the page.
    """
    places: dict[str, int] = {}

    def name(found: re.Match[str]) -> str:
        told = html.unescape(found[2])
        tied = _TIED.fullmatch(told)
        if tied and tied[1] in places:
            told = tied[1]
        return f"{found[1]}{prefix}{places.setdefault(told, len(places))}{found[3]}"

    text = _NOTE_ID.sub(name, musicxml.decode("utf-8"))
    return text.encode("utf-8"), tuple(places)


def _root(musicxml: bytes) -> etree._Element:
    return etree.fromstring(musicxml, etree.XMLParser(resolve_entities=False, no_network=True, huge_tree=True))
