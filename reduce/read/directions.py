"""Signs that stand over time: dynamics, hairpins, words, tempo, pedal, ottava, rehearsal letters, chord symbols, words sung."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from lxml import etree

from reduce.model.pitch import Pitch, spelled
from reduce.model.record import dataclass, replace
from reduce.model.score import MarkKind, Tempo
from reduce.read.figures import decimal, staff_number
from reduce.read.pieces import Piece, Sign
from reduce.read.words import changes_tempo, clean, could_set_tempo, jump_in, sets_tempo, without_empty_brackets

if TYPE_CHECKING:
    from reduce.read.measures import PartWalk

_UNITS = {"breve": 8.0, "whole": 4.0, "half": 2.0, "quarter": 1.0, "eighth": 0.5, "16th": 0.25, "32nd": 0.125}
_CHORD_ENDINGS = {
    "major": "", "minor": "m", "augmented": "+", "diminished": "°", "dominant": "7", "major-seventh": "maj7", "minor-seventh": "m7",
    "diminished-seventh": "°7", "augmented-seventh": "+7", "half-diminished": "ø7", "major-minor": "m(maj7)", "major-sixth": "6",
    "minor-sixth": "m6", "dominant-ninth": "9", "major-ninth": "maj9", "minor-ninth": "m9", "suspended-second": "sus2",
    "suspended-fourth": "sus4", "power": "5",
}  # fmt: skip


@dataclass(slots=True)
class Jump:
    """A sign that sends the player elsewhere."""

    bar: int
    name: str


class Directions:
    """Reads the directions of one part and pairs those that begin and end."""

    def __init__(self, walk: PartWalk) -> None:
        self.walk = walk
        self.signs: list[Sign] = []
        self.tempos: list[Tempo] = []
        self.jumps: list[Jump] = []
        self._open: dict[tuple[str, str], Sign] = {}

    def direction(self, element: etree._Element) -> None:
        """One ``direction``: all its signs stand at one moment."""
        walk = self.walk
        onset = walk.time
        offset = element.findtext("offset")
        if offset:
            onset = max(walk.bar_start, onset + walk.lengths.signed(offset))
        staff = staff_number(element.findtext("staff"))
        sound = element.find("sound")
        words: list[str] = []
        face = ""
        metronome: Tempo | None = None
        last_words: Sign | None = None
        for kind in element.iterfind("direction-type"):
            for sign in kind:
                tag = sign.tag
                if tag == "dynamics":
                    self.dynamics(sign, staff, onset)
                elif tag == "wedge":
                    self._wedge(sign, staff, onset)
                elif tag == "words":
                    text = clean(sign.text)
                    if text:
                        words.append(text)
                        face = face or _face(sign)
                elif tag == "metronome":
                    metronome = _metronome(sign, onset) or metronome
                elif tag == "rehearsal":
                    self._add("rehearsal", staff, onset, clean(sign.text))
                elif tag == "segno" or tag == "coda":
                    self.jumps.append(Jump(walk.bar, str(tag)))
                elif tag == "octave-shift":
                    self._octave_shift(sign, staff, onset)
                elif tag == "pedal":
                    self._pedal(sign, staff, onset)
                elif tag == "dashes" or tag == "bracket":
                    if sign.get("type") == "start" and words and tag == "dashes":
                        last_words = last_words or Sign("text", staff, walk.bar, onset, onset)
                        self._open["dashes", sign.get("number") or "1"] = last_words
                    elif sign.get("type") == "stop":
                        begun = self._open.pop((str(tag), sign.get("number") or "1"), None)
                        if begun is not None:
                            begun.end = max(onset, begun.onset)
        if words:
            last_words = last_words or Sign("text", staff, walk.bar, onset, onset)
            last_words.text, last_words.face = without_empty_brackets(" ".join(words)), face
            top = staff == 1 and walk.index == 0 and element.get("placement") == "above"
            self._words(last_words, metronome, sound, could_head=top and face == "bold")
        elif metronome is not None:
            self.tempos.append(metronome)
        if sound is not None:
            told = bool(self.tempos) and self.tempos[-1].onset == onset
            self.sound(sound, onset, silent_tempo=told)

    def _words(self, sign: Sign, metronome: Tempo | None, sound: etree._Element | None, *, could_head: bool) -> None:
        """Tell what words ask for; those that stand where a tempo stands (``could_head``) may be one in any language."""
        text, onset = sign.text, sign.onset
        jump = jump_in(text)
        if jump:
            self.jumps.append(Jump(self.walk.bar, jump))
        hint = decimal(sound.get("tempo")) if sound is not None else None
        bends = changes_tempo(text)
        sets = metronome is not None or sets_tempo(text) or (could_head and not bends and not jump and could_set_tempo(text))
        sign.kind = "tempo-text" if sets or bends else "text"
        self.signs.append(sign)
        if metronome is not None:
            self.tempos.append(replace(metronome, text=text))
        elif sets:
            self.tempos.append(Tempo(onset=onset, quarters=hint, text=text, sounding=hint is not None))

    def sound(self, element: etree._Element, onset: int, *, silent_tempo: bool = False) -> None:
        """Playback hints: a tempo nobody printed, and where the player jumps."""
        tempo = decimal(element.get("tempo"))
        if tempo is not None and tempo > 0 and not silent_tempo:
            self.tempos.append(Tempo(onset=onset, quarters=tempo, sounding=True))
        for attribute, name in (
            ("dacapo", "da-capo"), ("dalsegno", "dal-segno"), ("tocoda", "to-coda"), ("fine", "fine"), ("segno", "segno"), ("coda", "coda"),
        ):  # fmt: skip
            if element.get(attribute) and element.get(attribute) != "no":
                self.jumps.append(Jump(self.walk.bar, name))

    def dynamics(self, element: etree._Element, staff: int, onset: int) -> None:
        for sign in element:
            text = clean(sign.text) if sign.tag == "other-dynamics" else str(sign.tag)
            if text:
                self._add("dynamic", staff, onset, text)

    def lyric(self, element: etree._Element, piece: Piece) -> None:
        """One syllable under a note; a hyphen shows that the word goes on."""
        text = "".join(clean(t.text) or " " for t in element.findall("text"))
        if not text.strip():
            return
        more = "-" if element.findtext("syllabic") in ("begin", "middle") else ""
        self.signs.append(Sign("lyric", piece.staff, piece.bar, piece.onset, piece.end, text + more, (piece,)))

    def harmony(self, element: etree._Element) -> None:
        """A chord symbol, moved to sounding pitch like the part it stands in."""
        walk = self.walk
        root = element.find("root")
        kind = element.find("kind")
        if root is None or kind is None:
            walk.doubt("note", "chord-symbol", "A chord symbol without a root letter is not read.")
            return
        staff = staff_number(element.findtext("staff"))
        offset = element.findtext("offset")
        onset = max(walk.bar_start, walk.time + walk.lengths.signed(offset)) if offset else walk.time
        name = self._tone(root, "root", staff)
        if name is None:
            walk.doubt("note", "chord-symbol", "A chord symbol cannot be read.")
            return
        ending = _CHORD_ENDINGS.get((kind.text or "").strip())
        if (kind.text or "").strip() == "none":
            self._add("chord-symbol", staff, onset, "N.C.")
            return
        text = name + (ending if ending is not None else clean(kind.get("text")))
        for degree in element.findall("degree"):
            text += f"({_alteration(degree.findtext('degree-alter'))}{clean(degree.findtext('degree-value'))})"
        bass = element.find("bass")
        bass_name = self._tone(bass, "bass", staff) if bass is not None else None
        self._add("chord-symbol", staff, onset, f"{text}/{bass_name}" if bass_name else text)

    def _tone(self, element: etree._Element, prefix: str, staff: int) -> str | None:
        step = clean(element.findtext(f"{prefix}-step")).upper()
        if step not in {"A", "B", "C", "D", "E", "F", "G"}:
            return None
        alter = round(decimal(element.findtext(f"{prefix}-alter")) or 0)
        pitch: Pitch = spelled(step, max(-2, min(2, alter)), 4)
        return pitch.moved(*self.walk.tuning.interval(staff)).name

    def _wedge(self, element: etree._Element, staff: int, onset: int) -> None:
        kind, number = element.get("type"), element.get("number") or "1"
        if kind in ("crescendo", "diminuendo"):
            self._end("wedge", number, onset)
            self._begin("wedge", number, Sign("hairpin", staff, self.walk.bar, onset, onset, kind))
        elif kind == "stop":
            self._end("wedge", number, onset)

    def _octave_shift(self, element: etree._Element, staff: int, onset: int) -> None:
        kind, number = element.get("type"), element.get("number") or "1"
        if kind in ("up", "down"):
            size = element.get("size") or "8"
            text = {("down", "8"): "8va", ("up", "8"): "8vb", ("down", "15"): "15ma", ("up", "15"): "15mb"}.get((kind, size), "8va")
            self._begin("octave-shift", number, Sign("ottava", staff, self.walk.bar, onset, onset, text))
        elif kind == "stop":
            self._end("octave-shift", number, onset)

    def _pedal(self, element: etree._Element, staff: int, onset: int) -> None:
        kind, number = element.get("type"), element.get("number") or "1"
        if kind in ("start", "sostenuto", "change"):
            self._end("pedal", number, onset)
            self._begin("pedal", number, Sign("pedal", staff, self.walk.bar, onset, onset, "sostenuto" if kind == "sostenuto" else ""))
        elif kind == "stop":
            self._end("pedal", number, onset)

    def _begin(self, kind: str, number: str, sign: Sign) -> None:
        self._open[kind, number] = sign
        self.signs.append(sign)

    def _end(self, kind: str, number: str, onset: int) -> None:
        sign = self._open.pop((kind, number), None)
        if sign is not None:
            sign.end = max(onset, sign.onset)

    def _add(self, kind: MarkKind, staff: int, onset: int, text: str) -> None:
        self.signs.append(Sign(kind, staff, self.walk.bar, onset, onset, text))

    def finish(self, end: int) -> None:
        """Signs that never stop last to the end of the piece; a hairpin without an end is no hairpin."""
        for (kind, _), sign in self._open.items():
            if kind == "wedge":
                self.signs.remove(sign)
                self.walk.doubt("note", "hairpin", "A hairpin that never ends was left out.")
            elif kind != "dashes":
                sign.end = end
        self._open.clear()


def _face(element: etree._Element) -> str:
    return "bold" if element.get("font-weight") == "bold" else (element.get("font-style") or "")


def _alteration(text: str | None) -> str:
    return {1: "♯", -1: "♭"}.get(round(decimal(text) or 0), "")


def _metronome(element: etree._Element, onset: int) -> Tempo | None:
    """A printed metronome mark; None where it only relates two values or gives no number."""
    unit = clean(element.findtext("beat-unit")) or "quarter"
    figures = re.search(r"\d+(?:\.\d+)?", element.findtext("per-minute") or "")
    number = decimal(figures[0]) if figures else None
    if number is None or number <= 0 or unit not in _UNITS:
        return None
    dots = len(element.findall("beat-unit-dot"))
    length = _UNITS[unit] * (2 - 0.5**dots)
    return Tempo(onset=onset, quarters=number * length, unit=unit, dots=dots)
