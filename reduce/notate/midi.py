"""The draft as a standard MIDI file, for listening (format 1: signs, right hand, left hand)."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from reduce.model.draft import Draft, DraftNote, Hand
from reduce.model.pitch import STEPS
from reduce.model.record import dataclass, replace
from reduce.model.score import Bar, Tempo
from reduce.notate.accidentals import signature
from reduce.notate.loudness import Loudness
from reduce.notate.playing_order import playing_order

QUARTER = 480  # MIDI ticks
QUIET_TEMPO = 100.0  # quarters a minute where the draft names none
HOLD = 2.0  # a fermata makes its last two beats this much longer
GRACE = QUARTER // 8
SPREAD = QUARTER // 24  # between the notes of a rolled chord
LENGTHS = {"staccatissimo": 0.25, "staccato": 0.5, "spiccato": 0.4, "detached-legato": 0.75}
FIGURES = {"mordent": (0, -1), "inverted-mordent": (0, 1), "turn": (1, 0, -1), "inverted-turn": (-1, 0, 1)}  # steps before the note itself


class Event(NamedTuple):
    """One MIDI event at an absolute MIDI tick; ``order`` lets keys go up before they come down."""

    tick: int
    order: int
    data: bytes


@dataclass(frozen=True, slots=True)
class Stretch:
    """Ticks ``start``..``end`` of the draft, heard from ``heard`` (draft ticks of the unfolded piece) on."""

    start: int
    end: int
    heard: int


def midi(draft: Draft) -> bytes:
    """The draft as heard: tempo, dynamics, repeats unfolded, fermatas held, ornaments and tremolos played out.

    Returns a format 1 file of three tracks: tempo and signatures, right hand, left hand (MIDI 1.0, Standard MIDI Files).
    """
    stretches = _stretches(draft.bars)
    clock = _Clock(draft.resolution)
    tracks = [_track(_signs(draft, stretches, clock))]
    for hand, name in (("right", "Right hand"), ("left", "Left hand")):
        tracks.append(_track(_hand(draft, hand, name, stretches, clock)))  # type: ignore[arg-type]
    head = b"MThd" + (6).to_bytes(4, "big") + (1).to_bytes(2, "big") + len(tracks).to_bytes(2, "big") + QUARTER.to_bytes(2, "big")
    return head + b"".join(tracks)


class _Clock:
    """Draft ticks to MIDI ticks."""

    def __init__(self, resolution: int) -> None:
        self.resolution = resolution

    def __call__(self, tick: int) -> int:
        return (2 * tick * QUARTER + self.resolution) // (2 * self.resolution)


def _stretches(bars: Sequence[Bar]) -> list[Stretch]:
    """The played order as stretches of bars that follow each other."""
    found: list[Stretch] = []
    heard = 0
    for k in playing_order(bars):
        bar = bars[k]
        if found and found[-1].end == bar.start:
            last = found[-1]
            found[-1] = Stretch(last.start, bar.end, last.heard)
        else:
            found.append(Stretch(bar.start, bar.end, heard))
        heard += bar.length
    return found


def _signs(draft: Draft, stretches: Sequence[Stretch], clock: _Clock) -> list[Event]:
    """Title, time and key signatures, tempo with held fermatas."""
    found = [Event(0, 0, _meta(3, (draft.title or "Piano draft").encode("utf-8")))]
    if draft.rights:
        found.append(Event(0, 0, _meta(2, draft.rights.encode("utf-8"))))
    holds = _holds(draft)
    meter, key = None, None
    for stretch in stretches:
        shift = stretch.heard - stretch.start
        for bar in draft.bars:
            if not stretch.start <= bar.start < stretch.end:
                continue
            if bar.meter != meter:
                meter = bar.meter
                beats, power = min(sum(meter.beats), 255), meter.unit.bit_length() - 1
                found.append(Event(clock(bar.start + shift), 1, _meta(0x58, bytes((beats, power, 24, 8)))))
            if bar.key != key:
                key = bar.key
                fifths = max(-7, min(7, key.fifths)) & 0xFF
                found.append(Event(clock(bar.start + shift), 1, _meta(0x59, bytes((fifths, key.mode == "minor")))))
        for tick, quarters in _tempo_map(draft.tempos, holds, stretch.start, stretch.end):
            micros = max(1, min(0xFFFFFF, round(60_000_000 / quarters)))
            found.append(Event(clock(tick + shift), 2, _meta(0x51, micros.to_bytes(3, "big"))))
    return found


def _holds(draft: Draft) -> list[tuple[int, int]]:
    """Stretches (draft ticks) that a fermata makes longer, merged."""
    spans = []
    for note in draft.notes:
        if note.fermata and note.duration:
            spans.append((max(note.onset, note.end - 2 * draft.resolution), note.end))
    onsets = {note.onset: note.end for note in draft.notes if note.duration}
    for mark in draft.marks:
        if mark.kind == "fermata":
            end = onsets.get(mark.onset, mark.onset + draft.resolution)
            spans.append((max(mark.onset, end - 2 * draft.resolution), end))
    merged: list[tuple[int, int]] = []
    for start, end in sorted(spans):
        if merged and start < merged[-1][1]:
            merged[-1] = (merged[-1][0], max(end, merged[-1][1]))
        else:
            merged.append((start, end))
    return merged


def _tempo_map(tempos: Sequence[Tempo], holds: Iterable[tuple[int, int]], start: int, end: int) -> list[tuple[int, float]]:
    """Tempo from each tick on inside ``start``..``end``: (draft tick, quarters a minute)."""
    named = [(tempo.onset, tempo.quarters) for tempo in sorted(tempos, key=lambda tempo: tempo.onset) if tempo.quarters]

    def plain(tick: int) -> float:
        return next((quarters for onset, quarters in reversed(named) if onset <= tick), QUIET_TEMPO)

    edges = {start, *(onset for onset, _ in named), *(edge for hold in holds for edge in hold)}
    found = []
    for tick in sorted(edge for edge in edges if start <= edge < end):
        held = any(low <= tick < high for low, high in holds)
        found.append((tick, plain(tick) / HOLD if held else plain(tick)))
    return [item for k, item in enumerate(found) if k == 0 or item[1] != found[k - 1][1]]


def _hand(draft: Draft, hand: Hand, name: str, stretches: Sequence[Stretch], clock: _Clock) -> list[Event]:
    found = [Event(0, 0, _meta(3, name.encode())), Event(0, 1, bytes((0xC0, 0)))]
    loud = Loudness(draft.marks, hand)
    notes = _each_key_once([note for note in draft.notes if note.hand == hand])
    graces: dict[int, list[DraftNote]] = {}
    chords: dict[int, list[DraftNote]] = {}
    for note in notes:
        (graces if note.grace or not note.duration else chords).setdefault(note.onset, []).append(note)
    keys = {bar.start: signature(bar.key.fifths) for bar in draft.bars}
    starts = sorted(keys)
    for stretch in stretches:
        shift = stretch.heard - stretch.start
        for onset in sorted(chords):
            if not stretch.start <= onset < stretch.end:
                continue
            before = graces.get(onset, [])
            for k, grace in enumerate(before):
                at = clock(onset + shift) + k * GRACE
                found += _strike(at, at + GRACE, grace.midi, loud.of(grace))
            rolled = sorted(note.midi for note in chords[onset] if note.arpeggio)
            key = keys[max((start for start in starts if start <= onset), default=0)] if any(n.ornaments for n in chords[onset]) else {}
            for note in chords[onset]:
                late = len(before) * GRACE + (rolled.index(note.midi) * SPREAD if note.arpeggio else 0)
                start = clock(onset + shift) + late
                end = clock(min(note.end, stretch.end) + shift)
                found += _play(note, start, end, loud.of(note), key)
        if hand == "left":
            found += _pedal(draft, stretch, clock)
    return found


def _each_key_once(notes: Sequence[DraftNote]) -> list[DraftNote]:
    """A key can be down only once: where both strands of a hand hold it, the later stroke ends the earlier note."""
    found: list[DraftNote] = []
    down: dict[int, int] = {}  # key -> place in `found`
    for note in sorted(notes, key=lambda note: (note.onset, -note.duration)):
        if note.grace or not note.duration:
            found.append(note)
            continue
        before = down.get(note.midi)
        if before is not None and found[before].end > note.onset:
            if found[before].onset == note.onset:
                continue
            found[before] = replace(found[before], duration=note.onset - found[before].onset)
        down[note.midi] = len(found)
        found.append(note)
    return found


def _play(note: DraftNote, start: int, end: int, velocity: int, key: dict[str, int]) -> list[Event]:
    """One note with what its signs add: shortening, tremolo strokes, ornaments."""
    end = max(end, start + GRACE)
    for name, share in LENGTHS.items() if note.articulations else ():
        if name in note.articulations:
            return _strike(start, start + max(GRACE, int((end - start) * share)), note.midi, velocity)
    if note.tremolo:
        size = max(QUARTER >> min(note.tremolo, 4), QUARTER // 16)
        return [event for at in range(start, end, size) for event in _strike(at, min(at + size, end), note.midi, velocity)]
    size = QUARTER // 8
    if "trill-mark" in note.ornaments and end - start >= 4 * size:
        upper = _neighbour(note, 1, key)
        pitches = (note.midi, upper)
        return [
            event for k, at in enumerate(range(start, end, size)) for event in _strike(at, min(at + size, end), pitches[k % 2], velocity)
        ]
    for name, steps in FIGURES.items() if note.ornaments else ():
        if name in note.ornaments and end - start > 2 * size * len(steps):
            found = []
            for step in steps:
                found += _strike(start, start + size, _neighbour(note, step, key), velocity)
                start += size
            return found + _strike(start, end, note.midi, velocity)
    return _strike(start, end, note.midi, velocity)


def _neighbour(note: DraftNote, step: int, key: dict[str, int]) -> int:
    """The scale step above (1) or below (-1) a note, MIDI number; the note itself for 0."""
    if not step:
        return note.midi
    place = note.pitch.diatonic + step
    octave, index = divmod(place, 7)
    name = STEPS[index]
    return 12 * (octave + 1) + (0, 2, 4, 5, 7, 9, 11)[index] + key.get(name, 0)


def _pedal(draft: Draft, stretch: Stretch, clock: _Clock) -> list[Event]:
    found = []
    for mark in draft.marks:
        if mark.kind == "pedal" and stretch.start <= mark.onset < stretch.end and mark.end > mark.onset:
            shift = stretch.heard - stretch.start
            found.append(Event(clock(mark.onset + shift), 4, bytes((0xB0, 64, 127))))
            found.append(Event(clock(min(mark.end, stretch.end) + shift), 3, bytes((0xB0, 64, 0))))
    return found


def _strike(start: int, end: int, key: int, velocity: int) -> list[Event]:
    key = max(0, min(127, key))
    return [Event(start, 5, bytes((0x90, key, velocity))), Event(max(end, start + 1), 2, bytes((0x80, key, 0)))]


def _meta(kind: int, data: bytes) -> bytes:
    return bytes((0xFF, kind)) + _length(len(data)) + data


def _length(number: int) -> bytes:
    """A variable-length quantity: seven bits a byte, all but the last marked."""
    out = [number & 0x7F]
    while number := number >> 7:
        out.append(0x80 | number & 0x7F)
    return bytes(reversed(out))


def _track(events: Iterable[Event]) -> bytes:
    body = bytearray()
    at = 0
    for event in sorted(events):
        body += _length(event.tick - at) + event.data
        at = event.tick
    body += _length(0) + b"\xff\x2f\x00"
    return b"MTrk" + len(body).to_bytes(4, "big") + bytes(body)
