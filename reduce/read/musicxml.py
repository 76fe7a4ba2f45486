"""MusicXML, partwise or timewise, into the score as it sounds."""

from __future__ import annotations

import difflib
import math
from collections.abc import Mapping, Sequence
from typing import Any

from lxml import etree

from reduce.model.errors import InputError, UsageError
from reduce.model.record import replace
from reduce.model.rules import Instrument
from reduce.model.score import Bar, Key, Meter, Part, Score, shown_number
from reduce.read.bars import bar_length, common_key, make_bar, read_barlines
from reduce.read.believable import believable
from reduce.read.figures import exact
from reduce.read.findings import Findings
from reduce.read.header import ListedPart, read_part_list, read_titles
from reduce.read.instruments import family_of, find_instrument
from reduce.read.measures import PartWalk
from reduce.read.pieces import join_ties
from reduce.read.records import mark_records, note_records, stroke_records, tempo_records
from reduce.read.sounding import check_sounding
from reduce.read.spelling import agree
from reduce.read.unseen import let_sound
from reduce.read.words import clean

FINEST = 48  # ticks to a quarter at least: thirty-seconds and their triplets
FINEST_SHARED = 100_800  # ticks to a quarter at most, divisible by 2^6, 3^2, 5^2 and 7
MOST_PARTS = 400
MOST_BARS = 20_000

Measures = list[list[etree._Element]]  # by part, by bar


def read_musicxml(
    root: etree._Element,
    instruments: Mapping[str, Instrument],
    findings: Findings,
    *,
    name: str = "The file",
    sounds: bool = False,
    answers: Mapping[str, str] | None = None,
) -> Score:
    """The score in the element tree ``root`` of the file ``name``; ``sounds`` where its pitches are known to sound as they stand.

    ``answers``: how parts sound, by name, as the arranger says: a key of ``instruments`` or 'as-written'.

    Raises InputError where it is not MusicXML or holds no part with bars.
    """
    _plain_tags(root)
    parts, measures = _measures(root, name)
    listed = read_part_list(root)
    resolution = _resolution(root, findings)
    names = _names(parts, listed, findings)
    walks = [PartWalk(i, name, resolution, findings) for i, name in enumerate(names)]
    entries = [listed.get(identity, ListedPart(identity, name, "", "")) for identity, name in zip(parts, names, strict=True)]
    _answer(walks, answers or {}, instruments)
    plain = [_without_signature(entry) for entry in entries]
    bars = _walk(walks, measures, plain, findings)
    choir = _is_choir(names)
    found = [_instrument(walk, entry, choir, instruments) for walk, entry in zip(walks, entries, strict=True)]
    if not sounds:
        check_sounding(walks, found, plain, instruments, findings)
    joined = []
    for walk in walks:
        let_sound(walk.pieces, walk.name, findings)
        pieces, lost = join_ties(walk.pieces)
        starts = {bar.index for bar in bars if bar.ending_start}
        for piece in lost:
            if piece.bar not in starts:
                findings.add("note", "tie", "A tie comes from nowhere; its note is struck.", walk.name, bars[piece.bar].number)
        joined.append(pieces)
    agree(joined, [walk.tuning.moves_key for walk in walks], bars)
    titles = read_titles(root)
    score = Score(
        resolution=resolution,
        title=titles.title,
        subtitle=titles.subtitle,
        composer=titles.composer,
        arranger=titles.arranger,
        rights=titles.rights,
        source=titles.source,
        fields=titles.fields,
        parts=tuple([_part(w, e, i) for w, e, i in zip(walks, entries, found, strict=True)]),
        bars=tuple(bars),
        notes=note_records(joined),
        strokes=stroke_records(walks),
        marks=mark_records(walks),
        tempos=believable(tempo_records(walks), bars, findings),
    )
    for walk in walks:
        walk.let_go()
    return score


def _answer(walks: Sequence[PartWalk], answers: Mapping[str, str], instruments: Mapping[str, Instrument]) -> None:
    """Let parts sound as the arranger says; raises UsageError where a part or an instrument is unknown."""
    for part, said in answers.items():
        asked = [walk for walk in walks if walk.name == part]
        if not asked:
            raise UsageError(f"There is no part named {part!r}; the parts are {', '.join(walk.name for walk in walks)}.")
        if said != "as-written" and said not in instruments:
            close = difflib.get_close_matches(said, instruments, 1)
            raise UsageError(
                f"There is no instrument {said!r}{f'; did you mean {close[0]!r}?' if close else ' in rules/instruments.toml.'}"
            )
        for walk in asked:
            player = instruments.get(said)
            walk.tuning.answer(player.diatonic if player else 0, player.chromatic if player else 0)


def _plain_tags(root: etree._Element) -> None:
    """Take away a name space, which MusicXML does not use but some programs write."""
    if isinstance(root.tag, str) and root.tag.startswith("{"):
        for element in root.iter("*"):
            element.tag = etree.QName(element).localname


def _measures(root: etree._Element, name: str) -> tuple[list[str], Measures]:
    """Part ids and, for each part, its bars in order."""
    parts: list[str] = []
    measures: Measures = []
    if root.tag == "score-partwise":
        for part in root.iterfind("part"):
            parts.append(part.get("id") or f"P{len(parts) + 1}")
            measures.append(part.findall("measure"))
    elif root.tag == "score-timewise":
        order: dict[str, int] = {}
        for count, bar in enumerate(root.iterfind("measure")):
            for part in bar.iterfind("part"):
                identity = part.get("id") or "P1"
                if identity not in order:
                    order[identity] = len(parts)
                    parts.append(identity)
                    measures.append([])
                column = measures[order[identity]]
                while len(column) < count:
                    column.append(etree.Element("measure"))
                if len(column) == count:
                    for key, value in bar.attrib.items():
                        part.set(key, value)
                    column.append(part)
    else:
        raise InputError(f"{name} is XML but not a MusicXML score: it begins with {str(root.tag)[:40]!r}.")
    if not any(measures):
        raise InputError(f"{name} has no part with bars in it.")
    if len(parts) > MOST_PARTS or max(map(len, measures)) > MOST_BARS:
        raise InputError(f"{name} has {len(parts)} parts and {max(map(len, measures))} bars, more than any score of one work.")
    return parts, measures


def _resolution(root: etree._Element, findings: Findings) -> int:
    """Ticks to a quarter-note: the least common multiple of all divisions and of ``FINEST``."""
    resolution = FINEST
    texts: Any = root.xpath("*/*/attributes/divisions/text()", smart_strings=False)
    for text in set(texts):
        divisions = exact(text)
        if divisions is not None and divisions > 0:
            resolution = math.lcm(resolution, divisions.numerator)
        if resolution > FINEST_SHARED:
            findings.add(
                "note",
                "resolution",
                "The parts count time in units without a common measure; lengths were rounded to 1/100800 of a quarter.",
            )
            return FINEST_SHARED
    return resolution


def _names(parts: Sequence[str], listed: Mapping[str, ListedPart], findings: Findings) -> list[str]:
    names = []
    for count, identity in enumerate(parts, 1):
        entry = listed.get(identity)
        if entry is None:
            findings.add("doubt", "part-list", "The part is not in the score's list of parts.", f"Part {count}")
        names.append((entry.name if entry else "") or f"Part {count}")
    return names


def _walk(walks: Sequence[PartWalk], measures: Measures, plain: Sequence[bool], findings: Findings) -> list[Bar]:
    """Read all bars, side by side over the parts, since a bar begins where the longest part of the one before ends."""
    count = max(map(len, measures))
    for walk, column in zip(walks, measures, strict=True):
        if len(column) < count:
            last = column[-1].get("number") if column else "the beginning"
            findings.add("doubt", "ends-early", f"The part ends after bar {last}; it was left silent from there.", walk.name)
    bars: list[Bar] = []
    start, meter, key = 0, Meter(), Key()
    endings: tuple[int, ...] = ()
    known = False
    for index in range(count):
        elements = [column[index] if index < len(column) else None for column in measures]
        first = next(e for e in elements if e is not None)
        number = shown_number(clean(first.get("number"))) or str(index + 1)
        ends = [
            walk.measure(element, index, number, start) if element is not None else start
            for walk, element in zip(walks, elements, strict=True)
        ]
        if index == 0 or any(walk.meter_changed for walk in walks):
            meter = _common_meter(walks, meter, number, findings)
        if any(walk.tuning.key_changed for walk in walks):
            found = common_key(walks, plain) or common_key(walks, [False] * len(walks))
            key = found or key
            for walk in walks:
                walk.tuning.key_changed = False
        lines = read_barlines([line for walk in walks for line in walk.barlines])
        implicit = first.get("implicit") == "yes" or number.upper().startswith("X")
        if lines.ending_start:
            endings = lines.endings
        free = (
            index in (0, count - 1) or implicit or lines.sectional or lines.repeat_start or _completes(bars, ends, start, meter, walks[0])
        )
        length = bar_length(walks, ends, start, meter, free=free, number=number, findings=findings)
        short = length < meter.ticks(walks[0].resolution)
        if index == 0 and short and not implicit and count > 1:
            findings.add("note", "pickup", "The first bar is short and not marked as a pick-up; it was taken for one.", bar=number)
        pickup = short and (index == 0 or (implicit and bool(bars[-1].barline or bars[-1].repeat_end)))
        bars.append(make_bar(index, number, start, length, meter, key, pickup, lines, endings, ()))
        if lines.ending_stop:
            endings = ()
        start += length
        known = known or any(walk.meter is not None for walk in walks)
    if not known:
        findings.add("note", "meter", "The score has no time signature; bars are taken as common time where they are empty.")
    for walk in walks:
        walk.finish(start)
    return _with_jumps(bars, walks)


def _completes(bars: Sequence[Bar], ends: Sequence[int], start: int, meter: Meter, walk: PartWalk) -> bool:
    """Whether a short bar and the one before it make one full bar."""
    return bool(bars) and bars[-1].length + max(ends) - start == meter.ticks(walk.resolution)


def _common_meter(walks: Sequence[PartWalk], before: Meter, number: str, findings: Findings) -> Meter:
    meters = [walk.meter for walk in walks if walk.meter is not None]
    for walk in walks:
        walk.meter_changed = False
    if not meters:
        return before
    lengths = {sum(m.beats) * 64 // m.unit for m in meters}
    if len(lengths) > 1:
        findings.add("doubt", "meters", "The parts have different time signatures; the bar follows the longest.", bar=number)
        return max(meters, key=lambda m: sum(m.beats) * 64 // m.unit)
    return meters[0]


_PLAIN_SOUNDS = ("brass.natural-horn", "brass.french-horn", "brass.trumpet", "drum.", "metal.", "wood.", "rattle.")
_PLAIN_WORDS = frozenset(
    ("horn", "horns", "corno", "corni", "cor", "cors", "waldhorn", "hörner", "trumpet", "trumpets", "tromba", "trombe", "trompete",
     "trompeten", "trompette", "trompettes", "clarino", "clarini", "timpani", "timpano", "tympani", "pauken", "timbales", "kettledrums")
)  # fmt: skip


def _without_signature(entry: ListedPart) -> bool:
    """Whether custom leaves the part without a key signature: horns, trumpets, timpani (common practice), unpitched percussion."""
    words = set(entry.name.lower().replace(".", " ").split())
    if words & {"english", "anglais", "inglese", "bassetto", "basset"}:
        return False
    return entry.sound.startswith(_PLAIN_SOUNDS) or bool(words & _PLAIN_WORDS)


def _with_jumps(bars: list[Bar], walks: Sequence[PartWalk]) -> list[Bar]:
    jumps: dict[int, dict[str, None]] = {}
    for walk in walks:
        for jump in walk.directions.jumps:
            jumps.setdefault(jump.bar, {})[jump.name] = None
    return [replace(bar, jumps=tuple(sorted(jumps[bar.index]))) if bar.index in jumps else bar for bar in bars]


_VOICES = frozenset(("soprano", "alto", "tenor", "cantus", "canto", "altus", "sopran", "alt", "tenore", "superius", "contratenor"))


def _is_choir(names: Sequence[str]) -> bool:
    """Whether two parts at least are named as voices, so that a "Bass" beside them sings too."""
    return sum(bool(_VOICES & set(name.lower().split()) and len(name.split()) <= 2) for name in names) >= 2


def _instrument(walk: PartWalk, entry: ListedPart, choir: bool, instruments: Mapping[str, Instrument]) -> Instrument | None:
    first = walk.tuning.transpositions[0] if walk.tuning.transpositions else None
    interval = (first.diatonic, first.chromatic) if first else None
    sings = choir or any(sign.kind == "lyric" for sign in walk.signs)
    return find_instrument(walk.name, entry.short, entry.sound, interval, sings, instruments)


def _part(walk: PartWalk, entry: ListedPart, instrument: Instrument | None) -> Part:
    return Part(
        index=walk.index,
        id=entry.id,
        name=walk.name,
        short=entry.short or (instrument.short if instrument else ""),
        instrument=instrument.key if instrument else "",
        family=family_of(instrument, entry.sound),
        staves=walk.staves,
        transpositions=tuple(walk.tuning.transpositions),
    )
