"""Key and time signatures, and how transposition moves a key."""

from __future__ import annotations

from lxml import etree

from reduce.model.pitch import spelled
from reduce.model.score import Key, Meter
from reduce.read.figures import whole


def steps_for(chromatic: int) -> int:
    """The usual steps of an interval known by its semitones only: the plain name, an augmented fourth for the tritone."""
    octaves, rest = divmod(abs(chromatic), 12)
    steps = (0, 1, 1, 2, 2, 3, 3, 4, 5, 5, 6, 6)[rest] + 7 * octaves
    return steps if chromatic >= 0 else -steps


def shift_of_key(diatonic: int, chromatic: int) -> int:
    """Fifths by which a signature moves with the interval."""
    return spelled("C", 0, 4).moved(diatonic, chromatic).fifths


def enharmonic(fifths: int) -> int:
    """The signature within seven accidentals that sounds the same."""
    while fifths > 7:
        fifths -= 12
    while fifths < -7:
        fifths += 12
    return fifths


def read_key(element: etree._Element) -> Key | None:
    """A key signature as written; None where it follows no circle of fifths."""
    text = element.findtext("fifths")
    mode = (element.findtext("mode") or "").strip()
    mode = mode if mode in ("major", "minor") else ""
    if text is not None:
        fifths = whole(text, 99)
        return Key(fifths, mode) if abs(fifths) <= 11 else None
    steps = [(s.text or "").strip() for s in element.findall("key-step")]
    alters = [whole(a.text, 9) for a in element.findall("key-alter")]
    for sign, order in ((1, "FCGDAEB"), (-1, "BEADGCF")):
        if sorted(steps) == sorted(order[: len(steps)]) and all(a == sign for a in alters):
            return Key(sign * len(steps), mode)
    return None


def read_meter(element: etree._Element) -> Meter | None:
    """A time signature; unlike denominators are brought to the smaller value.  None where it makes no sense."""
    tops = [t.text or "" for t in element.findall("beats")]
    units = [whole(u.text, 0) for u in element.findall("beat-type")]
    if not tops or len(tops) != len(units) or any(u < 1 or u > 128 or u & (u - 1) for u in units):
        return None
    unit = max(units)
    beats: list[int] = []
    for top, own in zip(tops, units, strict=True):
        for figure in top.replace("+", " ").split():
            count = whole(figure, 0)
            if not 1 <= count <= 128 or len(beats) > 32:
                return None
            beats.append(count * unit // own)
    symbol = element.get("symbol") or ""
    return Meter(tuple(beats), unit, symbol if symbol in ("common", "cut") else "") if beats else None
