"""Tiny scores as text, for tests and rule cases.

One line a part: its name, then its bars after ``|`` signs.  Pitches sound as written, C4 is middle C::

    meter 3/4
    key A major
    tempo 96
    Violin 1        | r:2 e5:4            | c#5:4. d5:8 e5:4 |
    Horn in D       | <a3 e4>:2. (p)      | <a3 e4>:2.       |
    Cello, voice 2  | a2:8 b2 c#3 a2 e3:4 | a2:2.~           |

``c#5`` step, accidental (``# ## b bb``), octave; ``r`` rest; ``?`` anything (only where notes are expected).
``:4`` value: 1 2 4 8 16 32, dots behind (``4.``), ``t`` for triplets (``8t``), ``g`` for a grace note; left out, it is the value before.
``<c4 e4>`` chord; ``~`` behind a note or chord ties it on; words in brackets behind it are signs: articulations, ornaments and
``fermata`` by their MusicXML names, ``slur`` and ``slur-end``, ``tremolo-3`` strokes, a dynamic (``p``), ``solo`` or any other
word as text.
Head lines: ``meter``, ``key`` (default C major), ``tempo`` (quarters a minute), ``pickup`` (value of a first short bar).
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from fractions import Fraction
from xml.sax.saxutils import escape, quoteattr

DIVISIONS = 96
SEMITONES = {"c": 0, "d": 2, "e": 4, "f": 5, "g": 7, "a": 9, "b": 11}
ALTER = {"": 0, "#": 1, "##": 2, "b": -1, "bb": -2}
TONICS = ("Cb", "Gb", "Db", "Ab", "Eb", "Bb", "F", "C", "G", "D", "A", "E", "B", "F#", "C#", "G#", "D#", "A#")
MAJOR = {tonic: fifths for fifths, tonic in enumerate(TONICS, -7)}
TYPES = {1: "whole", 2: "half", 4: "quarter", 8: "eighth", 16: "16th", 32: "32nd"}
ARTICULATIONS = {"staccato", "accent", "tenuto", "strong-accent", "staccatissimo", "detached-legato"}
ORNAMENTS = {"trill-mark", "turn", "mordent", "inverted-mordent"}
SLURS = {"slur": "start", "slur-end": "stop"}
DYNAMICS = {"ppp", "pp", "p", "mp", "mf", "f", "ff", "fff", "sf", "sfz", "fp"}

_PITCH = re.compile(r"([a-g])(##|#|bb|b|)(-?\d)$")
_TOKEN = re.compile(r"(<[^>]*>|r|\?|[a-g][#b]*-?\d)(?::(\d+t?\.*|g))?(~?)((?:\([^)]*\))*)$")


@dataclass
class Item:
    """A note, chord, rest (no pitches) or wildcard on one line; times in quarter-notes."""

    onset: Fraction
    duration: Fraction
    pitches: tuple[str, ...]
    value: str
    tied: bool = False
    words: tuple[str, ...] = ()
    any: bool = False

    @property
    def midis(self) -> tuple[int, ...]:
        return tuple(midi(pitch) for pitch in self.pitches)


@dataclass
class Line:
    name: str
    voice: int
    bars: list[list[Item]]


@dataclass
class Tiny:
    beats: int = 4
    unit: int = 4
    fifths: int = 0
    mode: str = "major"
    tempo: int | None = None
    pickup: Fraction = Fraction(0)
    lines: list[Line] = field(default_factory=list)

    @property
    def bar(self) -> Fraction:
        return Fraction(4 * self.beats, self.unit)

    def struck(self, name: str) -> set[tuple[Fraction, Fraction, int]]:
        """What a part plays, its voices together and ties joined: (onset, duration, MIDI number), in quarter-notes."""
        out: set[tuple[Fraction, Fraction, int]] = set()
        for line in self.lines:
            if line.name != name:
                continue
            held: dict[int, tuple[Fraction, Fraction]] = {}
            for item in (item for bar in line.bars for item in bar):
                for pitch in item.midis:
                    onset, before = held.pop(pitch, (item.onset, Fraction(0)))
                    if item.tied:
                        held[pitch] = (onset, before + item.duration)
                    else:
                        out.add((onset, before + item.duration, pitch))
        return out

    def anything(self, name: str) -> list[tuple[Fraction, Fraction]]:
        """The stretches of a part written ``?``: (from, to)."""
        items = [item for line in self.lines if line.name == name for bar in line.bars for item in bar]
        return [(item.onset, item.onset + item.duration) for item in items if item.any]


def midi(pitch: str) -> int:
    """MIDI number of ``c#4``."""
    found = _PITCH.match(pitch)
    assert found, f"{pitch!r} is no pitch"
    step, sign, octave = found.groups()
    return 12 * (int(octave) + 1) + SEMITONES[step] + ALTER[sign]


def length(value: str) -> Fraction:
    """Quarter-notes of ``4.`` or ``8t``."""
    if value == "g":
        return Fraction(0)
    number = value.rstrip(".").rstrip("t")
    plain = Fraction(4, int(number)) * (Fraction(2, 3) if "t" in value else 1)
    return plain * (2 - Fraction(1, 2 ** value.count(".")))


def read(text: str) -> Tiny:
    """A tiny score from its text; raises AssertionError where a bar does not add up."""
    tiny = Tiny()
    for row in filter(None, (row.strip() for row in text.splitlines())):
        if "|" not in row:
            word, _, rest = row.partition(" ")
            _head(tiny, word, rest.strip())
            continue
        name, *bars = [cell.strip() for cell in row.split("|")]
        name, _, voice = name.partition(", voice ")
        line = Line(name=name, voice=int(voice or 1), bars=[])
        start, value = Fraction(0), "4"
        for index, bar in enumerate(bar for bar in bars if bar):
            items, value = _bar(bar, start, value)
            filled = sum((item.duration for item in items), Fraction(0))
            due = tiny.pickup if index == 0 and tiny.pickup else tiny.bar
            assert filled == due, f"{row!r}: bar {index + 1} lasts {filled} quarters, not {due}"
            line.bars.append(items)
            start += due
        tiny.lines.append(line)
    return tiny


def _head(tiny: Tiny, word: str, rest: str) -> None:
    if word == "meter":
        tiny.beats, tiny.unit = (int(part) for part in rest.split("/"))
    elif word == "key":
        tonic, tiny.mode = rest.split()
        tiny.fifths = MAJOR[tonic] - (3 if tiny.mode == "minor" else 0)
    elif word == "tempo":
        tiny.tempo = int(rest)
    elif word == "pickup":
        tiny.pickup = length(rest)
    else:
        raise AssertionError(f"{word!r} begins no line of a tiny score")


def _bar(text: str, start: Fraction, value: str) -> tuple[list[Item], str]:
    items = []
    for token in re.findall(r"(?:<[^>]*>|[^\s(<]+)(?:[^\s(]*)(?:\s*\([^)]*\))*", text):
        found = _TOKEN.match(re.sub(r"\s+(?=\()", "", token))
        assert found, f"{token!r} is no note"
        head, told, tie, signs = found.groups()
        grace = told == "g"
        if told and not grace:
            value = told
        pitches = () if head in "r?" else tuple(head.strip("<>").split())
        words = tuple(word for group in re.findall(r"\(([^)]*)\)", signs) for word in group.split())
        taken = "g" if grace else value
        items.append(Item(start, length(taken), pitches, taken, bool(tie), words, head == "?"))
        start += length(taken)
    return items, value


def musicxml(text: str, title: str = "Tiny") -> bytes:
    """The tiny score as a MusicXML 4.0 file at sounding pitch."""
    tiny = read(text)
    names = list(dict.fromkeys(line.name for line in tiny.lines))
    parts = "".join(f'<score-part id="P{i}"><part-name>{escape(name)}</part-name></score-part>' for i, name in enumerate(names, 1))
    body = "".join(_part(tiny, i, [line for line in tiny.lines if line.name == name]) for i, name in enumerate(names, 1))
    return (
        '<?xml version="1.0" encoding="UTF-8"?>'
        f'<score-partwise version="4.0"><work><work-title>{escape(title)}</work-title></work>'
        f"<part-list>{parts}</part-list>{body}</score-partwise>"
    ).encode()


def _part(tiny: Tiny, index: int, lines: list[Line]) -> str:
    low = min((m for line in lines for bar in line.bars for item in bar for m in item.midis), default=60) < 55
    out = [f'<part id="P{index}">']
    for i in range(max(len(line.bars) for line in lines)):
        short = i == 0 and tiny.pickup
        number = i if tiny.pickup else i + 1
        out.append(f'<measure number="{number}"{" implicit=" + quoteattr("yes") if short else ""}>')
        if i == 0:
            clef = "<sign>F</sign><line>4</line>" if low else "<sign>G</sign><line>2</line>"
            out.append(
                f"<attributes><divisions>{DIVISIONS}</divisions><key><fifths>{tiny.fifths}</fifths><mode>{tiny.mode}</mode></key>"
                f"<time><beats>{tiny.beats}</beats><beat-type>{tiny.unit}</beat-type></time><clef>{clef}</clef>"
                "<transpose><diatonic>0</diatonic><chromatic>0</chromatic></transpose></attributes>"
            )
            if tiny.tempo and index == 1:
                out.append(
                    '<direction placement="above"><direction-type><metronome><beat-unit>quarter</beat-unit>'
                    f"<per-minute>{tiny.tempo}</per-minute></metronome></direction-type>"
                    f"<sound tempo={quoteattr(str(tiny.tempo))}/></direction>"
                )
        length_here = tiny.pickup if short else tiny.bar
        for number, line in enumerate(lines):
            if number:
                out.append(f"<backup><duration>{int(length_here * DIVISIONS)}</duration></backup>")
            if i < len(line.bars):
                before = line.bars[i - 1][-1] if i else None
                out.append(_measure(line, line.bars[i], before))
        out.append("</measure>")
    return "".join((*out, "</part>"))


def _measure(line: Line, items: list[Item], before: Item | None) -> str:
    out = []
    for item in items:
        assert not item.any, "'?' stands for what is expected, not for what is given"
        for word in item.words:
            if word in DYNAMICS:
                out.append(f"<direction><direction-type><dynamics><{word}/></dynamics></direction-type></direction>")
            elif word not in ARTICULATIONS | ORNAMENTS | SLURS.keys() | {"fermata"} and not word.startswith("tremolo-"):
                out.append(f"<direction><direction-type><words>{escape(word)}</words></direction-type></direction>")
        held = set(before.pitches) if before and before.tied else set()
        for n, pitch in enumerate(item.pitches or ("",)):
            out.append(_note(item, pitch, n > 0, pitch in held, line.voice))
        before = item
    return "".join(out)


def _note(item: Item, pitch: str, chord: bool, tie_stop: bool, voice: int) -> str:
    out = ["<note>"]
    if item.value == "g":
        out.append('<grace slash="yes"/>')
    if chord:
        out.append("<chord/>")
    if pitch:
        step, sign, octave = _PITCH.match(pitch).groups()  # type: ignore[union-attr]
        alter = f"<alter>{ALTER[sign]}</alter>" if sign else ""
        out.append(f"<pitch><step>{step.upper()}</step>{alter}<octave>{octave}</octave></pitch>")
    else:
        out.append("<rest/>")
    if item.value != "g":
        out.append(f"<duration>{int(item.duration * DIVISIONS)}</duration>")
    starts = bool(item.tied and pitch)
    out.append('<tie type="stop"/>' * tie_stop + '<tie type="start"/>' * starts)
    number = 8 if item.value == "g" else int(item.value.rstrip(".").rstrip("t"))
    out.append(f"<voice>{voice}</voice><type>{TYPES[number]}</type>" + "<dot/>" * item.value.count("."))
    if "t" in item.value:
        out.append("<time-modification><actual-notes>3</actual-notes><normal-notes>2</normal-notes></time-modification>")
    signs = ['<tied type="stop"/>' * tie_stop, '<tied type="start"/>' * starts]
    if not chord:
        signs += [f'<slur type="{SLURS[word]}" number="1"/>' for word in item.words if word in SLURS]
        ornaments = "".join(f"<{word}/>" for word in item.words if word in ORNAMENTS)
        strokes = [word.removeprefix("tremolo-") for word in item.words if word.startswith("tremolo-")]
        ornaments += "".join(f'<tremolo type="single">{count}</tremolo>' for count in strokes)
        signs.append(f"<ornaments>{ornaments}</ornaments>" if ornaments else "")
        marks = "".join(f"<{word}/>" for word in item.words if word in ARTICULATIONS)
        signs.append(f"<articulations>{marks}</articulations>" if marks else "")
        signs.append("<fermata/>" if "fermata" in item.words else "")
    inside = "".join(signs)
    out.append(f"<notations>{inside}</notations>" if inside else "")
    return "".join((*out, "</note>"))
