"""What the printed page says around the music, and where hands rest, read from the MusicXML."""

from __future__ import annotations

from dataclasses import field

from lxml import etree

from reduce.model.record import dataclass

_METRONOME = 7  # letters


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """Texts of the page.

    ``turns[k]``: a hand rests at the end of bar k or at the beginning of the next; ``letters[k]``: how long the tempo mark over the
    beginning of bar k is, in letters of its words.
    """

    title: str = ""
    subtitle: str = ""
    composer: str = ""
    arranger: str = ""
    rights: str = ""
    source: str = ""
    fifths: int = 0
    pickup: bool = False
    staves: int = 2
    turns: tuple[bool, ...] = field(default=())
    letters: tuple[int, ...] = field(default=())


def _on_paper(source: str) -> str:
    """The source without addresses: nobody follows one from a music stand, and the file keeps it."""
    return " ".join(word for word in source.split() if "://" not in word and not word.startswith("www.")).strip(" ,;")


def facts_of(musicxml: bytes) -> Facts:
    """Read them.  The file is our own; entities and network are refused all the same."""
    root = etree.fromstring(musicxml, etree.XMLParser(resolve_entities=False, no_network=True, huge_tree=True))
    creators = {creator.get("type"): creator.text or "" for creator in root.iterfind("identification/creator")}
    fields = {found.get("name"): found.text or "" for found in root.iterfind("identification/miscellaneous/miscellaneous-field")}
    credits = {found.findtext("credit-type"): found.findtext("credit-words") or "" for found in root.iterfind("credit")}
    parts = root.findall("part")
    first = parts[0].find("measure") if parts else None
    staves = sum(int(part.findtext("measure/attributes/staves") or 1) for part in parts)
    keys = [abs(int(key.text or 0)) for key in root.iterfind("part/measure/attributes/key/fifths")]
    return Facts(
        title=root.findtext("work/work-title") or "",
        subtitle=credits.get("subtitle") or fields.get("subtitle", ""),
        composer=creators.get("composer", ""),
        arranger=creators.get("arranger", ""),
        rights=root.findtext("identification/rights") or "",
        source=_on_paper(root.findtext("identification/source") or ""),
        fifths=max(keys, default=0),
        pickup=first is not None and first.get("implicit") == "yes",
        staves=staves,
        turns=_turns(parts[0]) if parts else (),
        letters=tuple(_letters(measure) for measure in parts[0].iterfind("measure")) if parts else (),
    )


def _letters(measure: etree._Element) -> int:
    """The length of the tempo mark with which a bar begins: of its words, and of a metronome mark as so many letters."""
    found = 0
    for direction in measure.iterfind("direction"):
        if any(sibling.tag == "note" for sibling in direction.itersiblings(preceding=True)):
            break
        metronome = direction.find("direction-type/metronome") is not None
        words = sum(len(text.text or "") for text in direction.iterfind("direction-type/words"))
        if metronome or direction.find("sound[@tempo]") is not None:
            found = max(found, words + _METRONOME * metronome)
    return found


def _turns(part: etree._Element) -> tuple[bool, ...]:
    """Bars after which a page may be turned: the last, or the next first, event of a staff is a rest."""
    ends, begins = [], []
    for measure in part.iterfind("measure"):
        last: dict[str, bool] = {}
        first: dict[str, bool] = {}
        for note in measure.iterfind("note"):
            staff = note.findtext("staff") or "1"
            rests = note.find("rest") is not None
            if rests and note.get("print-object") == "no":
                continue
            last[staff] = rests
            first.setdefault(staff, rests)
        ends.append(any(last.values()))
        begins.append(any(first.values()))
    return tuple(end or begin for end, begin in zip(ends, [*begins[1:], True], strict=False))
