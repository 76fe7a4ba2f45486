"""A part as MusicXML: bars, attributes, directions, barlines."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from math import gcd

from reduce.model.score import Bar, Key, Meter
from reduce.notate.clefs import ClefChange
from reduce.notate.engine import Page
from reduce.notate.marks import Direction, OnNotes, attribute
from reduce.notate.notes_xml import NoteWriter
from reduce.notate.written import Voice

CLEF_LINE = {"G": 2, "F": 4}


def unit_of(resolution: int, ticks: Iterable[int]) -> int:
    """The largest number of ticks that divides a quarter-note and all ``ticks``: one MusicXML division."""
    unit = resolution
    for tick in set(ticks):
        unit = gcd(unit, tick)
        if unit == 1:
            break
    return unit


def part_xml(
    part_id: str, page: Page, bars: Sequence[Bar], resolution: int, unit: int, directions: Sequence[Direction], on_notes: OnNotes,
    breaks: frozenset[int] = frozenset(), page_breaks: frozenset[int] = frozenset(),
) -> list[str]:  # fmt: skip
    """The ``<part>`` element in lines.  ``breaks``: indices of bars that begin a system (and a page)."""
    staves = len(page.clefs)
    writer = NoteWriter(unit, staves, on_notes)
    by_bar = _by_bar(directions, bars)
    clefs = [_clefs_by_bar(changes, bars) for changes in page.clefs]
    out = [f'<part id="{part_id}">']
    key: Key | None = None
    meter: Meter | None = None
    long = False
    signs = frozenset(jump for bar in bars for jump in bar.jumps)
    for k, bar in enumerate(bars):
        implicit = ' implicit="yes"' if bar.pickup else ""
        out.append(f"<measure number={attribute(bar.number or '0')}{implicit}>")
        if k in page_breaks:
            out.append('<print new-page="yes"/>')
        elif k in breaks:
            out.append('<print new-system="yes"/>')
        _left_barline(bar, out)
        inside = [changes.get(k, []) for changes in clefs]
        was_long, long = long, bar.length > bar.meter.ticks(resolution)
        time = _hidden_time(bar, resolution) if long else _time(bar.meter, hidden=was_long and bar.meter == meter)
        wanted = long or was_long or bar.meter != meter
        _attributes(bar, k, staves, resolution // unit, key, time if wanted else "", inside, out)
        key, meter = bar.key, bar.meter
        _jumps(bar, signs, out, at_end=False)
        _voices(page.bars[k], bar, unit, writer, by_bar.get(k, []), inside, staves, out)
        _jumps(bar, signs, out, at_end=True)
        _right_barline(bar, k == len(bars) - 1, out)
        out.append("</measure>")
        writer.slurs.bar_written()
    out.append("</part>")
    return out


def _by_bar(directions: Sequence[Direction], bars: Sequence[Bar]) -> dict[int, list[Direction]]:
    starts = [bar.start for bar in bars]
    found: dict[int, list[Direction]] = {}
    for direction in sorted(directions, key=lambda item: (item.onset, item.order)):
        k = bisect_right(starts, direction.onset) - 1
        if direction.closing and k > 0 and direction.onset == starts[k]:
            k -= 1
        k = max(0, min(k, len(bars) - 1))
        found.setdefault(k, []).append(direction)
    return found


def _clefs_by_bar(changes: Sequence[ClefChange], bars: Sequence[Bar]) -> dict[int, list[ClefChange]]:
    starts = [bar.start for bar in bars]
    found: dict[int, list[ClefChange]] = {}
    for change in changes:
        found.setdefault(bisect_right(starts, change.onset) - 1, []).append(change)
    return found


def _clef(sign: str, staff: int, staves: int) -> str:
    number = f' number="{staff}"' if staves > 1 else ""
    return f"<clef{number}><sign>{sign}</sign><line>{CLEF_LINE[sign]}</line></clef>"


def _time(meter: Meter, *, hidden: bool = False) -> str:
    symbol = f' symbol="{meter.symbol}"' if meter.symbol in ("common", "cut") else ""
    unseen = ' print-object="no"' if hidden else ""
    beats = "+".join(map(str, meter.beats))
    return f"<time{symbol}{unseen}><beats>{beats}</beats><beat-type>{meter.unit}</beat-type></time>"


def _hidden_time(bar: Bar, resolution: int) -> str:
    """The true length of a bar that is longer than its metre (a cadenza), so that every program counts it right; nothing is printed."""
    for unit in (bar.meter.unit, 8, 16, 32, 64):
        beats, rest = divmod(bar.length * unit, 4 * resolution)
        if not rest:
            return _time(Meter((beats,), unit), hidden=True)
    return _time(bar.meter)


def _attributes(
    bar: Bar, k: int, staves: int, divisions: int, key: Key | None, time: str,
    changes: Sequence[Sequence[ClefChange]], out: list[str],
) -> None:  # fmt: skip
    parts = []
    if k == 0:
        parts.append(f"<divisions>{divisions}</divisions>")
    if bar.key != key:
        mode = f"<mode>{bar.key.mode}</mode>" if bar.key.mode else ""
        parts.append(f"<key><fifths>{bar.key.fifths}</fifths>{mode}</key>")
    if time:
        parts.append(time)
    if k == 0 and staves > 1:
        parts.append(f"<staves>{staves}</staves>")
    for staff, found in enumerate(changes, 1):
        parts += [_clef(change.sign, staff, staves) for change in found if change.onset <= bar.start]
    if parts:
        out.append(f"<attributes>{''.join(parts)}</attributes>")


def _voices(
    voices: Sequence[Voice], bar: Bar, unit: int, writer: NoteWriter, directions: Sequence[Direction],
    changes: Sequence[Sequence[ClefChange]], staves: int, out: list[str],
) -> None:  # fmt: skip
    length = bar.length // unit
    done: set[int] = set()
    streams = _streams(voices, directions)
    for k, voice in enumerate(voices):
        if k:
            out.append(f"<backup><duration>{length}</duration></backup>")
        first = voice.staff not in done
        done.add(voice.staff)
        waiting = streams[k]
        clefs = [change for change in changes[voice.staff - 1] if change.onset > bar.start] if first else []
        for sign in voice.written:
            while clefs and clefs[0].onset <= sign.start:
                out.append(f"<attributes>{_clef(clefs.pop(0).sign, voice.staff, staves)}</attributes>")
            end = sign.start + sign.ticks
            while waiting and waiting[0].onset < end:
                item = waiting.pop(0)
                out.append(_direction(item, (item.onset - sign.start) // unit, staves))
            writer.sign(sign, voice, out)
        for item in waiting:
            out.append(_direction(item, 0, staves))


def _streams(voices: Sequence[Voice], directions: Sequence[Direction]) -> list[list[Direction]]:
    """Which voice each sign is written with: one that begins something at its moment, on its own staff if possible."""
    found: list[list[Direction]] = [[] for _ in voices]
    if not directions:
        return found
    starts = [{sign.start for sign in voice.written} for voice in voices]
    for item in directions:
        own = [k for k, voice in enumerate(voices) if voice.staff == item.staff]
        there = [] if item.own_stream else [k for k in (*own, *range(len(voices))) if item.onset in starts[k]]
        found[there[0] if there else own[-1 if item.closing and item.own_stream else 0]].append(item)
    return found


def _direction(item: Direction, offset: int, staves: int) -> str:
    shift = f"<offset>{offset}</offset>" if offset > 0 else ""
    if item.bare:
        return item.xml.replace("/>", f">{shift}</sound>") if shift else item.xml
    body, _, sound = item.xml.partition("\0")
    side = f' placement="{item.placement}"' if item.placement else ""
    staff = f"<staff>{item.staff}</staff>" if staves > 1 else ""
    return f"<direction{side}>{body}{shift}{staff}{sound}</direction>"


AT_START = {"segno": "<direction-type><segno/></direction-type>", "coda": "<direction-type><coda/></direction-type>"}
AT_END = {
    "to-coda": ("To Coda", 'tocoda="coda"'),
    "da-capo": ("D.C.", 'dacapo="yes"'),
    "dal-segno": ("D.S.", 'dalsegno="segno"'),
    "fine": ("Fine", 'fine="yes"'),
}


GOAL = {"to-coda": "coda", "dal-segno": "segno"}


def _jumps(bar: Bar, signs: frozenset[str], out: list[str], *, at_end: bool) -> None:
    """The signs and words of a bar; ``signs``: all that the piece has, since a jump to nowhere is printed but not played."""
    for jump in bar.jumps:
        if at_end and jump in AT_END:
            text, sound = AT_END[jump]
            goal = GOAL.get(jump)
            if goal is not None and goal not in signs:
                sound = ""
            out.append(
                f'<direction placement="above"><direction-type><words font-style="italic" justify="right">{text}</words></direction-type>'
                + (f"<sound {sound}/>" if sound else "")
                + "</direction>"
            )
        elif not at_end and jump in AT_START:
            out.append(f'<direction placement="above">{AT_START[jump]}<sound {jump}="{jump}"/></direction>')


def _left_barline(bar: Bar, out: list[str]) -> None:
    ending = f'<ending number="{_numbers(bar)}" type="start"/>' if bar.endings and bar.ending_start else ""
    if bar.repeat_start:
        out.append(f'<barline location="left"><bar-style>heavy-light</bar-style>{ending}<repeat direction="forward"/></barline>')
    elif ending:
        out.append(f'<barline location="left">{ending}</barline>')


def _right_barline(bar: Bar, last: bool, out: list[str]) -> None:
    ending = f'<ending number="{_numbers(bar)}" type="{bar.ending_stop}"/>' if bar.endings and bar.ending_stop else ""
    style = "light-heavy" if last and not bar.barline else bar.barline
    repeat = ""
    if bar.repeat_end:
        times = f' times="{bar.repeat_end}"' if bar.repeat_end > 2 else ""
        repeat = f'<repeat direction="backward"{times}/>'
    if style or ending or repeat:
        line = f"<bar-style>{style}</bar-style>" if style else ""
        out.append(f'<barline location="right">{line}{ending}{repeat}</barline>')


def _numbers(bar: Bar) -> str:
    return ", ".join(map(str, bar.endings))
