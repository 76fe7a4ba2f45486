"""The front of the score: titles, names, rights, and the list of parts."""

from __future__ import annotations

import re

from lxml import etree

from reduce.model.record import dataclass
from reduce.read.words import clean

_NOTE = re.compile(r"\[[^\]]*\]")  # what an editor adds to a name


@dataclass(frozen=True, slots=True)
class Titles:
    title: str = ""
    subtitle: str = ""
    composer: str = ""
    arranger: str = ""
    rights: str = ""
    source: str = ""
    fields: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class ListedPart:
    """A part as the score lists it; ``sound`` is the first MusicXML instrument sound, dotted, or ``""``."""

    id: str
    name: str
    short: str
    sound: str


def read_titles(root: etree._Element) -> Titles:
    """Title, movement, composer, rights and source; where the title is missing, the largest words of the first page."""
    work = clean(root.findtext("work/work-title"))
    movement = clean(root.findtext("movement-title"))
    number = clean(root.findtext("movement-number"))
    identification = root.find("identification")
    composer = arranger = rights = source = ""
    fields: list[tuple[str, str]] = []
    if identification is not None:
        creators = identification.findall("creator")
        composer = next((clean(c.text) for c in creators if c.get("type") == "composer"), "")
        if not composer:
            composer = next((clean(c.text) for c in creators if not c.get("type")), "")
        arranger = next((clean(c.text) for c in creators if c.get("type") == "arranger"), "")
        fields = [(clean(f.get("name")), clean(f.text)) for f in identification.iterfind("miscellaneous/miscellaneous-field")]
        rights = "; ".join(text for r in identification.findall("rights") if (text := clean(r.text)))
        source = clean(identification.findtext("source"))
    title, subtitle = (work, movement) if work else (movement, "")
    if title and movement and number and not subtitle.startswith(number):
        subtitle = f"{number} {subtitle}".strip() if work else ""
    if subtitle == title:
        subtitle = ""
    return Titles(
        title=title or _credited(root, "title"),
        subtitle=subtitle or dict(fields).get("subtitle", ""),
        composer=composer or _credited(root, "composer"),
        arranger=arranger,
        rights=rights,
        source=source,
        fields=tuple(fields),
    )


def _credited(root: etree._Element, kind: str) -> str:
    for credit in root.findall("credit"):
        if clean(credit.findtext("credit-type")).lower() == kind:
            return clean(" ".join(w.text or "" for w in credit.findall("credit-words")))
    return ""


def read_part_list(root: etree._Element) -> dict[str, ListedPart]:
    """Listed parts by id, in order."""
    listed: dict[str, ListedPart] = {}
    for entry in root.iterfind("part-list/score-part"):
        identity = entry.get("id") or ""
        name = clean(_NOTE.sub("", entry.findtext("part-name") or ""))
        shown = _displayed(entry.find("part-name-display"))
        short = clean(entry.findtext("part-abbreviation"))
        instruments = entry.findall("score-instrument")
        sound = next((clean(s.findtext("instrument-sound")) for s in instruments if s.findtext("instrument-sound")), "")
        if not name or name.lower().replace(" ", "") in ("musicxmlpart", "part"):
            name = shown or next((clean(s.findtext("instrument-name")) for s in instruments if s.findtext("instrument-name")), "") or name
        if identity not in listed:
            listed[identity] = ListedPart(identity, name, short, sound)
    return listed


def _displayed(element: etree._Element | None) -> str:
    if element is None:
        return ""
    signs = {"flat": "♭", "sharp": "♯", "natural": "♮"}
    return clean("".join(signs.get(clean(e.text), "") if e.tag == "accidental-text" else e.text or "" for e in element))
