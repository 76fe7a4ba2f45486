"""Drafts for tests: from the text of tiny scores, and at random."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Any

from hypothesis import strategies as st
from lxml import etree

from reduce.model.draft import Draft, DraftMark, DraftNote
from reduce.model.level import Level
from reduce.model.pitch import in_key, spelled
from reduce.model.score import Bar, Key, Meter, Tempo
from reduce.notate import musicxml
from tests import tiny

RESOLUTION = 96
ORNAMENTS = {"trill-mark", "turn", "mordent", "inverted-mordent"}


def level(order: int = 6, **changes: Any) -> Level:
    """A level that limits nothing, as ``order`` (1 easiest .. 6) shows it."""
    free = Level(
        name="any", title="Any", order=order, signature_max=7, lowest=21, highest=108, ledger_max=9, meters=(), shortest=Fraction(0),
        eighths="free", triplets=True, dotted_eighth=True, sixteenths="free", syncopation="free", cross_rhythm="any",
        tempo_min=20.0, tempo_max=300.0, hand_span=200.0, span_right=14, span_left=14, rolled_max=16, notes_right=5, notes_left=5,
        voices_right=2, voices_left=2, black_in_chord=5, step_max=24, moves_per_8_bars=99, octave_seconds=0.2,
        notes_per_second_both=8.0, notes_per_second_one=12.0, chords_per_bar=9, figures=(), dynamics=(), hairpins=True,
        articulations=(), pedal="free", ornaments="all", fingering="rare", instrument_names=True, ottava=True, bars_min=1, bars_max=0,
        bars_a_line=0, staff_height=7.0, at_limit_per_bar=9,
    )  # fmt: skip
    return replace(free, **changes)


def draft(text: str, marks: tuple[DraftMark, ...] = (), **facts: Any) -> Draft:
    """A draft from the text of a tiny score with lines ``right`` and ``left``; voice 2 is strand 2 (the inner line).

    Notes are named n1, n2 ... in the order of the text.
    """
    read = tiny.read(text)
    notes: list[DraftNote] = []
    for line in read.lines:
        held: dict[str, int] = {}
        for item in (item for bar in line.bars for item in bar):
            for name in item.pitches:
                if name in held:
                    index = held.pop(name)
                    notes[index] = _longer(notes[index], int(item.duration * RESOLUTION))
                else:
                    index = len(notes)
                    notes.append(_note(f"n{index + 1}", line, item, name))
                if item.tied:
                    held[name] = index
    meter, key = Meter((read.beats,), read.unit), Key(read.fifths, read.mode)
    full, first = int(read.bar * RESOLUTION), int(read.pickup * RESOLUTION)
    count = max(len(line.bars) for line in read.lines)
    starts = [first + (k - 1) * full if first and k else k * full for k in range(count)]
    bars = tuple(
        Bar(
            index=k, number=str(k if first else k + 1), start=start, length=first if first and not k else full, meter=meter, key=key,
            pickup=bool(first) and not k, barline="light-heavy" if k == count - 1 else "",
        )
        for k, start in enumerate(starts)
    )  # fmt: skip
    tempos = (Tempo(onset=0, quarters=float(read.tempo)),) if read.tempo else ()
    notes.sort(key=lambda note: note.onset)
    return Draft(resolution=RESOLUTION, bars=bars, notes=tuple(notes), marks=marks, tempos=tempos, **facts)


def _note(id: str, line: tiny.Line, item: tiny.Item, name: str) -> DraftNote:
    sign = name[1:-1]
    pitch = spelled(name[0].upper(), tiny.ALTER[sign], int(name[-1]))
    tremolo = next((int(word[-1]) for word in item.words if word.startswith("tremolo-")), 0)
    return DraftNote(
        id=id, hand="right" if line.name == "right" else "left", strand=2 if line.voice == 2 else 1, onset=int(item.onset * RESOLUTION),
        duration=int(item.duration * RESOLUTION), pitch=pitch, midi=pitch.midi, grace=item.value == "g", tremolo=tremolo,
        articulations=tuple(word for word in item.words if word in tiny.ARTICULATIONS),
        ornaments=tuple(word for word in item.words if word in ORNAMENTS),
        fermata="fermata" in item.words, arpeggio="roll" in item.words,
        finger=next((word for word in item.words if word.isdecimal()), ""),
    )  # fmt: skip


def _longer(note: DraftNote, ticks: int) -> DraftNote:
    return replace(note, duration=note.duration + ticks)


def written(text: str, marks: tuple[DraftMark, ...] = (), order: int = 6, **facts: Any) -> etree._Element:
    """The MusicXML of a tiny score."""
    return etree.fromstring(musicxml(draft(text, marks, **facts), level(order)))


def rhythm(root: etree._Element, voice: int = 1, bar: int = 1) -> str:
    """One voice of a bar in short: '4 8. r8 (16)' - value, dots, rest, hidden in brackets; '~' tied on, '/3' in a tuplet."""
    found = []
    for note in root.findall(f"part/measure[{bar}]/note"):
        if note.findtext("voice") != str(voice) or note.find("chord") is not None:
            continue
        names = {"whole": "1", "half": "2", "quarter": "4", "eighth": "8", "breve": "b", None: "bar"}
        kind = note.findtext("type")
        text = names.get(kind, (kind or "").rstrip("thnds")) + "." * len(note.findall("dot"))
        if note.find("grace") is not None:
            text = "g"
        if note.find("time-modification") is not None:
            text += "/" + (note.findtext("time-modification/actual-notes") or "")
        if note.find("rest") is not None:
            text = f"({text})" if note.get("print-object") == "no" else f"r{text}"
        if note.find("tie[@type='start']") is not None:
            text += "~"
        found.append(text)
    return " ".join(found)


def beams(root: etree._Element, voice: int = 1, bar: int = 1) -> str:
    """The first beam of a voice in a bar: '[' begins, ']' ends, '-' goes on, '.' none."""
    signs = {"begin": "[", "end": "]", "continue": "-", None: "."}
    notes = [note for note in root.findall(f"part/measure[{bar}]/note") if note.findtext("voice") == str(voice)]
    return "".join(signs[note.findtext("beam[@number='1']")] for note in notes if note.find("chord") is None)


METERS = (
    Meter((4,), 4), Meter((3,), 4), Meter((2,), 4), Meter((6,), 8), Meter((9,), 8), Meter((12,), 8), Meter((3,), 8), Meter((5,), 4),
    Meter((5,), 8), Meter((7,), 8), Meter((2, 3), 8), Meter((2,), 2), Meter((3,), 2), Meter((6,), 4), Meter((4,), 4, "common"),
)  # fmt: skip


@st.composite
def drafts(draw: st.DrawFn) -> Draft:
    """Any small draft that the model allows: odd ticks, tuplets of any kind, two strands a hand, changing metres and keys."""
    resolution = draw(st.sampled_from((1, 2, 12, 60, 240, 480, 10080)))
    meter, bars, at = draw(st.sampled_from(METERS)), [], 0
    count = draw(st.integers(1, 4))
    for k in range(count):
        if draw(st.integers(0, 3)) == 0:
            meter = draw(st.sampled_from(METERS))
        if 4 * resolution * sum(meter.beats) % meter.unit:  # a bar of whole ticks is all that a reader promises
            meter = Meter((4,), 4)
        length = meter.ticks(resolution)
        short = k == 0 and count > 1 and length > 1 and draw(st.booleans())
        if short:
            length = draw(st.integers(1, length - 1))
        key = Key(draw(st.integers(-7, 7)), draw(st.sampled_from(("major", "minor", ""))))
        line = "light-heavy" if k == count - 1 else draw(st.sampled_from(("", "", "light-light")))
        bars.append(Bar(index=k, number=str(k + 1), start=at, length=length, meter=meter, key=key, pickup=short, barline=line))
        at += length
    notes: list[DraftNote] = []
    for hand, low in (("right", 60), ("left", 36)):
        for strand in (1, 2):
            lift = 13 if (hand == "right") == (strand == 1) else 0  # the outer line stays outside
            notes += draw(_strand(hand, strand, low + lift, at, resolution, len(notes) + 1000 * strand))
    notes.sort(key=lambda note: note.onset)
    marks = draw(st.lists(_mark(at), max_size=4))
    return Draft(resolution=resolution, title="Any", bars=tuple(bars), notes=tuple(notes), marks=tuple(marks))


@st.composite
def _strand(draw: st.DrawFn, hand: Any, strand: Any, low: int, end: int, resolution: int, number: int) -> list[DraftNote]:
    notes: list[DraftNote] = []
    at = 0
    if draw(st.integers(0, 3)) == 0:
        return notes
    shares = ((4, 1), (2, 1), (1, 1), (1, 2), (1, 4), (3, 2), (3, 4), (7, 4), (1, 3), (2, 3), (1, 5), (1, 6), (2, 7), (1, 9))
    while at < end and len(notes) < 30:
        top, bottom = draw(st.sampled_from(shares))
        length = draw(st.integers(1, 4 * resolution)) if draw(st.integers(0, 7)) == 0 else max(1, resolution * top // bottom)
        for _ in range(draw(st.integers(1, 3))):
            length = min(length, end - at)
            if length <= 0:
                break
            for midi in sorted(draw(st.sets(st.integers(low, low + 12), max_size=2))):
                pitch = in_key(midi, 0)
                notes.append(
                    DraftNote(
                        id=f"{hand[0]}{number + len(notes)}", hand=hand, strand=strand, onset=at, duration=length, pitch=pitch,
                        midi=pitch.midi, finger=draw(st.sampled_from(("", "", "2"))),
                    )
                )  # fmt: skip
            at += length
    return notes


@st.composite
def _mark(draw: st.DrawFn, end: int) -> DraftMark:
    kind = draw(st.sampled_from(("dynamic", "hairpin", "text", "rehearsal", "pedal")))
    onset = draw(st.integers(0, end - 1))
    last = draw(st.integers(onset + 1, end)) if kind == "hairpin" else end if kind == "pedal" else onset
    text = {"dynamic": "mf", "hairpin": "crescendo", "text": "dolce & <light>", "rehearsal": "A"}.get(kind, "")
    hand = "right" if kind == "text" else "both"
    return DraftMark(kind=kind, onset=onset, end=last, text=text, hand=hand)  # type: ignore[arg-type]
