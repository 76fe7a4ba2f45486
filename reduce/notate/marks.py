"""Signs over and between the staves: dynamics, hairpins, words, tempo, pedal, octave lines; slurs and signs on notes."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import field

from reduce.model.draft import DraftMark, DraftNote
from reduce.model.record import dataclass
from reduce.model.score import Tempo
from reduce.notate.clefs import Ottava

DYNAMICS = frozenset(
    [
        "p",
        "pp",
        "ppp",
        "pppp",
        "ppppp",
        "pppppp",
        "f",
        "ff",
        "fff",
        "ffff",
        "fffff",
        "ffffff",
        "mp",
        "mf",
        "sf",
        "sfp",
        "sfpp",
        "fp",
        "rf",
        "rfz",
        "sfz",
        "sffz",
        "fz",
        "n",
        "pf",
        "sfzp",
    ]
)
ARTICULATIONS = frozenset(
    [
        "accent",
        "strong-accent",
        "staccato",
        "tenuto",
        "detached-legato",
        "staccatissimo",
        "spiccato",
        "breath-mark",
        "caesura",
        "stress",
        "unstress",
        "soft-accent",
    ]
)
ORNAMENTS = frozenset(
    [
        "trill-mark",
        "turn",
        "delayed-turn",
        "inverted-turn",
        "delayed-inverted-turn",
        "vertical-turn",
        "inverted-vertical-turn",
        "shake",
        "mordent",
        "inverted-mordent",
        "schleifer",
        "haydn",
    ]
)
TEMPO_WORDS = (
    "rit", "rall", "accel", "a tempo", "tempo", "string", "allarg", "meno mosso", "più mosso", "piu mosso", "moderato", "andante",
    "allegr", "adagio", "largo", "presto", "vivace", "lento", "poco rit", "calando", "slower", "faster",
)  # fmt: skip
BEAT_UNITS = {
    "whole": 4.0, "half": 2.0, "quarter": 1.0, "eighth": 0.5, "16th": 0.25, "32nd": 0.125, "breve": 8.0,
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Direction:
    """One sign to be written at ``onset`` in the stream of ``staff``; ``closing`` ones belong to the bar that ends there."""

    onset: int
    order: int
    staff: int
    xml: str  # content of <direction> without offset and staff; or a bare <sound/> where ``bare``
    placement: str = ""
    closing: bool = False
    bare: bool = False
    own_stream: bool = False  # lines that readers follow in the order of the file: pedal, octave


@dataclass(slots=True)
class OnNotes:
    """Signs that hang on notes, by note id.  Slurs, from first to last note, are known by their place in ``slurs``."""

    slurs: list[tuple[DraftNote, DraftNote]] = field(default_factory=list)
    sides: dict[int, str] = field(default_factory=dict)  # above or below, where it matters
    begin: dict[str, list[int]] = field(default_factory=dict)
    finish: dict[str, list[int]] = field(default_factory=dict)
    breaths: dict[str, str] = field(default_factory=dict)
    fermatas: list[tuple[int, str]] = field(default_factory=list)  # onset, hand


class SlurNumbers:
    """Numbers 1 to 16 for slurs, given in the order of writing and free again when the bar of the second end is written."""

    def __init__(self) -> None:
        self.number: dict[int, int] = {}
        self.ends: dict[int, int] = {}

    def of(self, slur: int) -> int:
        """The number of a slur, 0 where more than sixteen are open at once."""
        if slur not in self.number:
            taken = set(self.number.values())
            self.number[slur] = next((k for k in range(1, 17) if k not in taken), 0)
        self.ends[slur] = self.ends.get(slur, 0) + 1
        return self.number[slur]

    def bar_written(self) -> None:
        for slur in [slur for slur, ends in self.ends.items() if ends == 2]:
            del self.number[slur], self.ends[slur]


def text_xml(text: str) -> str:
    """Text made safe for XML: control characters go, the rest is escaped."""
    return _escaped("".join(c for c in text if c >= " " or c in "\t\n"))


def attribute(text: str) -> str:
    """The same for an attribute, quotes included."""
    if text.isalnum():  # nearly all are ids
        return f'"{text}"'
    plain = _escaped("".join(c for c in text if c >= " "))
    if '"' not in plain:
        return f'"{plain}"'
    return f"'{plain}'" if "'" not in plain else '"' + plain.replace('"', "&quot;") + '"'


def _escaped(text: str) -> str:
    """As the standard library does, which loads its network modules with that."""
    return text.replace("&", "&amp;").replace(">", "&gt;").replace("<", "&lt;")


def words(text: str, *, style: str = "", weight: str = "", enclosure: str = "") -> str:
    extra = "".join(f' {name}="{val}"' for name, val in (("font-style", style), ("font-weight", weight), ("enclosure", enclosure)) if val)
    return f"<direction-type><words{extra}>{text_xml(text)}</words></direction-type>"


def dynamic(text: str) -> str:
    inner = f"<{text}/>" if text in DYNAMICS else f"<other-dynamics>{text_xml(text)}</other-dynamics>"
    return f"<direction-type><dynamics>{inner}</dynamics></direction-type>"


def _number(value: float) -> str:
    return f"{round(value, 3):g}" if round(value, 3) < 1e5 else str(round(value))


def tempo_directions(tempos: Iterable[Tempo]) -> list[Direction]:
    """All tempo marks; the playing speed goes with each."""
    found = []
    for tempo in tempos:
        unit = BEAT_UNITS.get(tempo.unit, 1.0) * (2 - 0.5**tempo.dots)
        sound = f'<sound tempo="{_number(tempo.quarters)}"/>' if tempo.quarters else ""
        xml = words(tempo.text, weight="bold") if tempo.text else ""
        if tempo.quarters and not tempo.sounding:
            name = tempo.unit if tempo.unit in BEAT_UNITS else "quarter"
            dots = "<beat-unit-dot/>" * tempo.dots
            per_minute = max(1, round(tempo.quarters / unit))  # metronomes know whole numbers; the sound keeps the exact one
            xml += (
                f'<direction-type><metronome parentheses="no"><beat-unit>{name}</beat-unit>{dots}'
                f"<per-minute>{per_minute}</per-minute></metronome></direction-type>"
            )
        if xml:
            found.append(Direction(tempo.onset, 0, 1, xml + "\0" + sound, placement="above"))
        elif sound:
            found.append(Direction(tempo.onset, 0, 1, sound, bare=True))
    return found


def mark_directions(marks: Sequence[DraftMark], own_ottavas: Sequence[tuple[int, Ottava]]) -> list[Direction]:
    """Everything that stands at a moment, with its staff and side."""
    found: list[Direction] = []
    wedges, pedals, lines = _Numbers(6), _Numbers(6), _Numbers(6)
    for mark in sorted(marks, key=lambda mark: (mark.onset, mark.kind, mark.end, mark.text)):
        staff = 2 if mark.hand == "left" else 1
        side = {"left": "below", "right": "above", "both": "below"}[mark.hand]
        if mark.kind == "dynamic":
            found.append(Direction(mark.onset, 3, staff, dynamic(mark.text), side))
        elif mark.kind == "hairpin" and mark.end > mark.onset:
            number = wedges.take(mark.onset, mark.end)
            kind = "diminuendo" if mark.text.startswith(("dim", "decresc")) else "crescendo"
            start = f'<direction-type><wedge type="{kind}" number="{number}"/></direction-type>'
            stop = f'<direction-type><wedge type="stop" number="{number}"/></direction-type>'
            found.append(Direction(mark.onset, 4, staff, start, side))
            found.append(Direction(mark.end, 1, staff, stop, side, closing=True))
        elif mark.kind == "text":
            tempo_like = mark.text.lower().lstrip("(").startswith(TEMPO_WORDS)
            place = "above" if tempo_like and staff == 1 else side
            found.append(Direction(mark.onset, 5, staff, words(mark.text, style="italic"), place))
        elif mark.kind == "instrument":
            found.append(Direction(mark.onset, 6, staff, words(mark.text, style="normal"), "above"))
        elif mark.kind == "rehearsal":
            xml = f'<direction-type><rehearsal enclosure="square">{text_xml(mark.text)}</rehearsal></direction-type>'
            found.append(Direction(mark.onset, 0, 1, xml, "above"))
        elif mark.kind == "pedal":
            number = pedals.take(mark.onset, mark.end)
            start = f'<direction-type><pedal type="start" line="yes" sign="yes" number="{number}"/></direction-type>'
            stop = f'<direction-type><pedal type="stop" line="yes" sign="yes" number="{number}"/></direction-type>'
            found.append(Direction(mark.onset, 4, 2, start, "below", own_stream=True))
            if mark.end > mark.onset:
                found.append(Direction(mark.end, 0, 2, stop, "below", closing=True, own_stream=True))
        elif mark.kind == "ottava" and mark.end > mark.onset:
            up = "b" not in mark.text.lower() and "bassa" not in mark.text.lower()
            _ottava(found, lines, staff, mark.onset, mark.end, up, 15 if "15" in mark.text else 8)
    for staff, line in own_ottavas:
        _ottava(found, lines, staff, line.start, line.end, line.up, 8)
    return found


def _ottava(found: list[Direction], lines: _Numbers, staff: int, start: int, end: int, up: bool, size: int) -> None:
    number = lines.take(start, end)
    kind, side = ("down", "above") if up else ("up", "below")
    shift = f'<direction-type><octave-shift type="{kind}" size="{size}" number="{number}"/></direction-type>'
    stop = f'<direction-type><octave-shift type="stop" size="{size}" number="{number}"/></direction-type>'
    found.append(Direction(start, 2, staff, shift, side, own_stream=True))
    found.append(Direction(end, 0, staff, stop, side, closing=True, own_stream=True))


class _Numbers:
    """Numbers for lines that may overlap: a number is free again once its line has ended."""

    def __init__(self, most: int) -> None:
        self.busy: list[int] = []
        self.most = most

    def take(self, start: int, end: int) -> int:
        for k, until in enumerate(self.busy):
            if until <= start:
                self.busy[k] = end
                return k + 1
        if len(self.busy) >= self.most:
            return self.most
        self.busy.append(end)
        return len(self.busy)


def signs_on_notes(marks: Sequence[DraftMark], notes: Sequence[DraftNote]) -> OnNotes:
    """Slurs from note to note, breath marks after a note, fermatas over notes and silences."""
    found = OnNotes()
    by_id = {note.id: note for note in notes}
    for mark in sorted(marks, key=lambda mark: (mark.onset, mark.end, mark.notes)):
        if mark.kind == "slur":
            first, last = _slur_ends(mark, by_id, notes)
            if first is None or last is None or first is last or (first.onset == last.onset and first.grace == last.grace is False):
                continue
            if last.onset < first.onset:
                first, last = last, first
            found.begin.setdefault(first.id, []).append(len(found.slurs))
            found.finish.setdefault(last.id, []).append(len(found.slurs))
            found.slurs.append((first, last))
        elif mark.kind == "breath":
            before = [note for note in notes if note.onset <= mark.onset and not note.grace and mark.hand in ("both", note.hand)]
            if before:
                top = max(before, key=lambda note: (note.onset, note.hand == "right", note.midi))
                found.breaths[top.id] = "caesura" if mark.text == "caesura" else "breath-mark"
        elif mark.kind == "fermata":
            found.fermatas.append((mark.onset, mark.hand))
    return found


def _slur_ends(mark: DraftMark, by_id: dict[str, DraftNote], notes: Sequence[DraftNote]) -> tuple[DraftNote | None, DraftNote | None]:
    if len(mark.notes) >= 2:
        return by_id.get(mark.notes[0]), by_id.get(mark.notes[-1])
    inside = [note for note in notes if mark.onset <= note.onset < max(mark.end, mark.onset + 1) and mark.hand in ("both", note.hand)]
    outer = [note for note in inside if note.strand == 1] or inside
    return (outer[0], outer[-1]) if outer else (None, None)
