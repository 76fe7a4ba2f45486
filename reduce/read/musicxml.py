"""MusicXML, partwise or timewise, into the score as it sounds."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from fractions import Fraction

from lxml import etree

from reduce.model.errors import InputError
from reduce.model.rules import Instrument
from reduce.model.score import Bar, Key, Mark, Meter, Note, Part, Score, Stroke, Tempo
from reduce.read.bars import bar_length, common_key, make_bar, read_barlines
from reduce.read.findings import Findings
from reduce.read.header import ListedPart, read_part_list, read_titles
from reduce.read.instruments import family_of, find_instrument
from reduce.read.measures import PartWalk
from reduce.read.pieces import Piece, join_ties

FINEST = 48  # ticks to a quarter at least: thirty-seconds and their triplets
FINEST_SHARED = 100_800  # ticks to a quarter at most, divisible by 2^6, 3^2, 5^2 and 7
MOST_PARTS = 400
MOST_BARS = 20_000

Measures = list[list[etree._Element]]  # by part, by bar


def read_musicxml(root: etree._Element, instruments: Mapping[str, Instrument], findings: Findings) -> Score:
    """The score in the element tree ``root``.

    Raises InputError where it is not MusicXML or holds no part with bars.
    """
    _plain_tags(root)
    parts, measures = _measures(root)
    listed = read_part_list(root)
    resolution = _resolution(root, findings)
    names = _names(parts, listed, findings)
    walks = [PartWalk(i, name, resolution, findings) for i, name in enumerate(names)]
    bars = _walk(walks, measures, [listed.get(p) for p in parts], findings)
    records = [
        _part(walk, identity, listed.get(identity), instruments) for walk, identity in zip(walks, parts, strict=True)
    ]
    joined = []
    for walk in walks:
        pieces, lost = join_ties(walk.pieces)
        starts = {bar.index for bar in bars if bar.ending_start}
        for piece in lost:
            if piece.bar not in starts:
                findings.add("note", "tie", "A tie comes from nowhere; its note is struck.", walk.name, bars[piece.bar].number)
        joined.append(pieces)
    notes = _notes(joined)
    titles = read_titles(root)
    return Score(
        resolution=resolution,
        title=titles.title,
        subtitle=titles.subtitle,
        composer=titles.composer,
        rights=titles.rights,
        source=titles.source,
        parts=tuple(records),
        bars=tuple(bars),
        notes=notes,
        strokes=_strokes(walks),
        marks=_marks(walks),
        tempos=_tempos(walks),
    )


def _plain_tags(root: etree._Element) -> None:
    """Take away a name space, which MusicXML does not use but some programs write."""
    if isinstance(root.tag, str) and root.tag.startswith("{"):
        for element in root.iter("*"):
            element.tag = etree.QName(element).localname


def _measures(root: etree._Element) -> tuple[list[str], Measures]:
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
                    for name, value in bar.attrib.items():
                        part.set(name, value)
                    column.append(part)
    else:
        raise InputError(f"This is XML but not a MusicXML score: it begins with {str(root.tag)[:40]!r}.")
    if not any(measures):
        raise InputError("The score has no part with bars in it.")
    if len(parts) > MOST_PARTS or max(map(len, measures)) > MOST_BARS:
        raise InputError(f"The score has {len(parts)} parts and {max(map(len, measures))} bars, more than any score of one work.")
    return parts, measures


def _resolution(root: etree._Element, findings: Findings) -> int:
    """Ticks to a quarter-note: the least common multiple of all divisions and of ``FINEST``."""
    resolution = FINEST
    for text in {element.text for element in root.iter("divisions")}:
        try:
            divisions = Fraction((text or "").strip())
        except (ValueError, ZeroDivisionError):
            continue
        if divisions > 0:
            resolution = math.lcm(resolution, divisions.numerator)
        if resolution > FINEST_SHARED:
            findings.add("note", "resolution", "The parts count time in units without a common measure; lengths were rounded to 1/100800 of a quarter.")
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


def _walk(walks: Sequence[PartWalk], measures: Measures, listed: Sequence[ListedPart | None], findings: Findings) -> list[Bar]:
    """Read all bars, side by side over the parts, since a bar begins where the longest part of the one before ends."""
    count = max(map(len, measures))
    for walk, column in zip(walks, measures, strict=True):
        if len(column) < count:
            last = column[-1].get("number") if column else "the beginning"
            findings.add("doubt", "ends-early", f"The part ends after bar {last}; it was left silent from there.", walk.name)
    without = [_without_signature(walk.name, entry.sound if entry else "") for walk, entry in zip(walks, listed, strict=True)]
    bars: list[Bar] = []
    start, meter, key, endings = 0, Meter(), Key(), ()
    known = False
    for index in range(count):
        elements = [column[index] if index < len(column) else None for column in measures]
        first = next(e for e in elements if e is not None)
        number = (first.get("number") or str(index + 1)).strip()
        ends = [
            walk.measure(element, index, number, start) if element is not None else start
            for walk, element in zip(walks, elements, strict=True)
        ]
        if index == 0 or any(walk.meter_changed for walk in walks):
            meter = _common_meter(walks, meter, number, findings)
        if any(walk.key_changed for walk in walks):
            found = common_key(walks, without) or common_key(walks, [False] * len(walks))
            key = found or key
            for walk in walks:
                walk.key_changed = False
        lines = read_barlines([line for walk in walks for line in walk.barlines])
        implicit = first.get("implicit") == "yes" or number.upper().startswith("X")
        if lines.ending_start:
            endings = lines.endings
        free = index in (0, count - 1) or implicit or lines.sectional or lines.repeat_start or _completes(bars, ends, start, meter, walks[0])
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


def _without_signature(name: str, sound: str) -> bool:
    """Whether custom leaves the part without a key signature: natural horns, trumpets, timpani, unpitched percussion."""
    low = f" {name.lower()}"
    return sound.startswith(("brass.natural-horn", "brass.french-horn", "brass.trumpet", "drum.", "metal.", "wood.", "rattle.")) or any(
        word in low for word in (" horn", "corn", " cor ", "trumpet", "tromb", "tromp", "clarin", "timpan", "pauke", "timbal")
        if not (word == "clarin" and "clarinet" in low) and not (word == " horn" and "english" in low) and not (word == "tromb" and "trombon" in low)
    )  # fmt: skip


def _with_jumps(bars: list[Bar], walks: Sequence[PartWalk]) -> list[Bar]:
    jumps: dict[int, dict[str, None]] = {}
    for walk in walks:
        for jump in walk.directions.jumps:
            jumps.setdefault(jump.bar, {})[jump.name] = None
    return [replace(bar, jumps=tuple(sorted(jumps[bar.index]))) if bar.index in jumps else bar for bar in bars]


def _part(walk: PartWalk, identity: str, entry: ListedPart | None, instruments: Mapping[str, Instrument]) -> Part:
    sound = entry.sound if entry else ""
    short = entry.short if entry else ""
    first = walk.transpositions[0] if walk.transpositions else None
    interval = (first.diatonic, first.chromatic) if first else None
    instrument = find_instrument(walk.name, short, sound, interval, instruments)
    return Part(
        index=walk.index,
        id=identity,
        name=walk.name,
        short=short or (instrument.short if instrument else ""),
        instrument=instrument.key if instrument else "",
        family=family_of(instrument, sound),
        staves=walk.staves,
        transpositions=tuple(walk.transpositions),
    )


def _notes(parts: Sequence[list[Piece]]) -> tuple[Note, ...]:
    """The records, in the score's order: onset, part, staff, playing order of graces, descending pitch."""
    _name_all(parts)
    ordered = [(p.onset, i, p.staff, p.rank, 0 if p.rank != 1 else -p.midi, n, p) for i, part in enumerate(parts) for n, p in enumerate(part)]
    ordered.sort(key=lambda entry: entry[:6])
    return tuple(
        [
            Note(
                id=p.id, part=part, staff=p.staff, voice=p.voice, bar=p.bar, onset=p.onset,
                duration=p.duration if p.lengths is None else sum(p.lengths), pitch=p.pitch, midi=p.midi, kind=p.kind,
                written=(p.duration,) if p.lengths is None else tuple(p.lengths), tuplet=p.tuplet, tremolo=p.tremolo,
                tremolo_pair=p.tremolo_pair, articulations=p.articulations, ornaments=p.ornaments, fermata=p.fermata,
                arpeggio=p.arpeggio, grace_slash=p.grace_slash, fingers=p.fingers,
            )
            for _, part, _, _, _, _, p in ordered
        ]
    )  # fmt: skip


def _name_all(parts: Sequence[list[Piece]]) -> None:
    """Keep the file's ids where they are unique; name the others by part, bar and place."""
    taken: set[str] = set()
    for pieces in parts:
        for piece in pieces:
            if piece.id in taken:
                piece.id = ""
            elif piece.id:
                taken.add(piece.id)
    for index, pieces in enumerate(parts, 1):
        bar = place = -1
        for piece in pieces:
            if piece.bar != bar:
                bar, place = piece.bar, 0
            place += 1
            if not piece.id:
                name = f"p{index}b{bar + 1}n{place}"
                while name in taken:
                    name += "x"
                piece.id = name


def _strokes(walks: Sequence[PartWalk]) -> tuple[Stroke, ...]:
    strokes = []
    for walk in walks:
        for count, (identity, bar, onset, duration) in enumerate(walk.strokes, 1):
            name = identity or f"p{walk.index + 1}s{count}"
            strokes.append(Stroke(id=name, part=walk.index, bar=bar, onset=onset, duration=duration))
    return tuple(sorted(strokes, key=lambda s: (s.onset, s.part)))


def _marks(walks: Sequence[PartWalk]) -> tuple[Mark, ...]:
    marks = [
        Mark(
            kind=sign.kind, part=walk.index, staff=sign.staff, bar=sign.bar, onset=sign.onset, end=sign.end, text=sign.text,
            notes=tuple(piece.struck.id for piece in sign.pieces),
        )
        for walk in walks
        for sign in walk.signs
    ]  # fmt: skip
    return tuple(sorted(marks, key=lambda mark: (mark.onset, mark.part, mark.staff)))


def _tempos(walks: Sequence[PartWalk]) -> tuple[Tempo, ...]:
    """One tempo a moment: printed before hinted, numbered before words alone; parts repeat each other's."""
    at: dict[int, Tempo] = {}
    for walk in walks:
        for tempo in walk.directions.tempos:
            known = at.get(tempo.onset)
            if known is None:
                at[tempo.onset] = tempo
                continue
            better, other = sorted((known, tempo), key=lambda t: (t.quarters is None, t.sounding))
            at[tempo.onset] = replace(better, text=better.text or other.text)
    return tuple(at[onset] for onset in sorted(at))
