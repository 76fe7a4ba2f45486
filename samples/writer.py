"""Write a sample score as MusicXML 4.0, the parts at written pitch."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING

from lines import QUARTER, Bar, Note, Pitch, Sign, Voice
from lxml import etree
from players import PLAYERS, Player
from rhythm import beams, tuplets
from signs import VALUE_NAMES, Element, add, left_barline, notations, right_barline, tempo_mark

if TYPE_CHECKING:
    from compose import Score

ACCIDENTALS = {-2: "flat-flat", -1: "flat", 0: "natural", 1: "sharp", 2: "double-sharp"}
DOCTYPE = '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" "http://www.musicxml.org/dtds/partwise.dtd">'
Tie = tuple[frozenset[Pitch], frozenset[Pitch]]  # heads tied from the note before, to the note after


def document(score: Score) -> bytes:
    """The score as a MusicXML file, the same bytes for the same score."""
    root = etree.Element("score-partwise", version="4.0")
    add(add(root, "work"), "work-title", score.title)
    identification = add(root, "identification")
    add(identification, "creator", score.composer, type="composer")
    add(identification, "rights", score.rights)
    for kind, words, place in (
        ("title", score.title, "center"),
        ("subtitle", score.subtitle, "center"),
        ("composer", score.composer, "right"),
    ):
        credit = add(root, "credit", page="1")
        add(credit, "credit-type", kind)
        add(credit, "credit-words", words, justify=place)
    listing = add(root, "part-list")
    numbered = [(f"P{number}", name) for number, name in enumerate(score.players, 1)]
    for group, (_, members) in enumerate(groupby(numbered, lambda entry: PLAYERS[entry[1]].family), 1):
        start = add(listing, "part-group", type="start", number=str(group))
        add(start, "group-symbol", "bracket")
        add(start, "group-barline", "yes")
        for identity, name in members:
            _listed(listing, identity, PLAYERS[name])
        add(listing, "part-group", type="stop", number=str(group))
    for identity, name in numbered:
        PartWriter(score, name, leads=identity == "P1").write(add(root, "part", id=identity))
    etree.indent(root, " ")
    return bytes(etree.tostring(root, xml_declaration=True, encoding="UTF-8", doctype=DOCTYPE)) + b"\n"


def _listed(listing: Element, identity: str, player: Player) -> None:
    entry = add(listing, "score-part", id=identity)
    add(entry, "part-name", player.name)
    add(entry, "part-abbreviation", player.short)
    instrument = add(entry, "score-instrument", id=f"{identity}-I1")
    add(instrument, "instrument-name", player.name)
    add(instrument, "instrument-sound", player.sound)
    midi = add(entry, "midi-instrument", id=f"{identity}-I1")
    number = int(identity[1:])
    if player.pitched:
        add(midi, "midi-channel", number if number < 10 else min(number + 1, 16))
        add(midi, "midi-program", player.program)
    else:
        add(midi, "midi-channel", 10)
        add(midi, "midi-unpitched", player.program)


class PartWriter:
    """Writes one part bar by bar and remembers what carries over: open hairpins and accidentals."""

    def __init__(self, score: Score, name: str, *, leads: bool) -> None:
        self.score = score
        self.player = PLAYERS[name]
        self.staves = score.staves[name]
        self.leads = leads  # carries the signs that belong to the whole score
        self.fifths = score.fifths + self.player.fifths if self.player.signature else 0
        self.ties = [_ties(bars) for bars in self.staves]
        self.hairpins: set[int] = set()  # staves with an open one
        self.altered: dict[tuple[int, int], dict[tuple[str, int], int]] = {}  # by staff and voice, the last bar's

    def write(self, part: Element) -> None:
        for index in range(len(self.staves[0])):
            number = self.score.first + index
            measure = add(part, "measure", number=str(number), **({} if number else {"implicit": "yes"}))
            left_barline(measure, self.score, number)
            if not index:
                self._attributes(measure)
            if self.leads:
                self._leading_signs(measure, number)
            voices = [(staff, voice, items) for staff, bars in enumerate(self.staves, 1) for voice, items in enumerate(bars[index], 1)]
            for place, (staff, voice, items) in enumerate(voices):
                if place:
                    add(add(measure, "backup"), "duration", _length(items))
                self._voice(measure, index, staff, voice, items)
            right_barline(measure, self.score, number)

    def _attributes(self, measure: Element) -> None:
        attributes = add(measure, "attributes")
        add(attributes, "divisions", QUARTER)
        key = add(attributes, "key")
        add(key, "fifths", self.fifths)
        if self.player.signature:
            add(key, "mode", self.score.mode)
        time = add(attributes, "time")
        add(time, "beats", self.score.beats)
        add(time, "beat-type", self.score.unit)
        if len(self.staves) > 1:
            add(attributes, "staves", len(self.staves))
        for number, name in enumerate(self.player.clefs, 1):
            self._clef(attributes, name, number)
        if not self.player.pitched:
            add(add(attributes, "staff-details"), "staff-lines", 1)
        if self.player.semitones:
            octaves = int(self.player.steps / 7)
            transpose = add(attributes, "transpose")
            add(transpose, "diatonic", self.player.steps - 7 * octaves)
            add(transpose, "chromatic", self.player.semitones - 12 * octaves)
            if octaves:
                add(transpose, "octave-change", octaves)

    def _clef(self, attributes: Element, name: str, number: int) -> None:
        clef = add(attributes, "clef", **({"number": str(number)} if len(self.staves) > 1 else {}))
        if name == "percussion":
            add(clef, "sign", name)
        else:
            add(clef, "sign", name[0])
            add(clef, "line", name[1])

    def _leading_signs(self, measure: Element, number: int) -> None:
        """Rehearsal letters and tempo, above the first part."""
        if number in self.score.letters:
            direction = add(measure, "direction", placement="above", system="only-top")
            add(add(direction, "direction-type"), "rehearsal", self.score.letters[number])
        for tempo in self.score.tempos:
            if tempo.bar == number:
                tempo_mark(measure, tempo, (tempo.beat - 1) * 4 * QUARTER // self.score.unit)

    def _voice(self, measure: Element, index: int, staff: int, voice: int, items: Voice) -> None:
        notes = [item for item in items if isinstance(item, Note)]
        beam_of, tuplet_of = beams(notes, 4 * QUARTER // self.score.unit), tuplets(notes)
        accidental_of = self._accidentals(staff, voice, notes)
        ties = iter(self.ties[staff - 1][index, voice])
        stem = "" if len(self.staves[staff - 1][index]) == 1 else ("up", "down")[voice - 1]
        at = 0
        for item in items:
            if isinstance(item, Sign):
                self._sign(measure, item, staff)
                continue
            for grace in item.graces:
                self._grace(measure, item, grace, staff, voice, accidental_of.get((at, grace), ""))
            before, after = next(ties)
            heads: tuple[Pitch | None, ...] = item.pitches or (None,)
            for place, head in enumerate(heads):
                element = add(measure, "note")
                if place:
                    add(element, "chord")
                self._head(element, item, head)
                add(element, "duration", item.ticks)
                tied = [kind for kind, those in (("stop", before), ("start", after)) if head in those]
                for kind in tied:
                    add(element, "tie", type=kind)
                add(element, "voice", 4 * (staff - 1) + voice)
                self._value(element, item, accidental_of.get((at, head), "") if head else "")
                if stem and item.pitches:
                    add(element, "stem", stem)
                self._staff(element, staff)
                if not place:
                    for level, state in enumerate(beam_of.get(at, ()), 1):
                        add(element, "beam", state, number=str(level))
                notations(element, item, tied=tied, tuplet=tuplet_of.get(at, ""), leads=not place, voice=voice)
            at += item.ticks

    def _grace(self, measure: Element, note: Note, head: Pitch, staff: int, voice: int, accidental: str) -> None:
        element = add(measure, "note")
        single = len(note.graces) == 1
        add(element, "grace", **({"slash": "yes"} if single else {}))
        self._head(element, note, head)
        add(element, "voice", 4 * (staff - 1) + voice)
        add(element, "type", "eighth" if single else "16th")
        if accidental:
            add(element, "accidental", accidental)
        self._staff(element, staff)
        if not single:
            state = "begin" if head is note.graces[0] else "end" if head is note.graces[-1] else "continue"
            for level in ("1", "2"):
                add(element, "beam", state, number=level)

    def _head(self, element: Element, note: Note, head: Pitch | None) -> None:
        if head is None:
            add(element, "rest", **({} if note.value else {"measure": "yes"}))
        elif not self.player.pitched:
            unpitched = add(element, "unpitched")
            add(unpitched, "display-step", "E")  # the only line of a staff of one
            add(unpitched, "display-octave", 4)
        else:
            written = self.player.written(head)
            pitch = add(element, "pitch")
            add(pitch, "step", written.step)
            if written.alter:
                add(pitch, "alter", written.alter)
            add(pitch, "octave", written.octave)

    def _value(self, element: Element, note: Note, accidental: str) -> None:
        if note.value:
            add(element, "type", VALUE_NAMES[note.value[0]])
            for _ in range(note.value.count(".")):
                add(element, "dot")
        if accidental:
            add(element, "accidental", accidental)
        if note.triplet:
            modification = add(element, "time-modification")
            add(modification, "actual-notes", 3)
            add(modification, "normal-notes", 2)

    def _staff(self, element: Element, staff: int) -> None:
        if len(self.staves) > 1:
            add(element, "staff", staff)

    def _accidentals(self, staff: int, voice: int, notes: list[Note]) -> dict[tuple[int, Pitch], str]:
        """Accidentals to print, by tick and sounding pitch; one from the bar before is cancelled as a reminder."""
        before = self.altered.get((staff, voice), {})
        state: dict[tuple[str, int], int] = {}
        shown: dict[tuple[int, Pitch], str] = {}
        at = 0
        for note in notes:
            for head in (*note.graces, *note.pitches) if self.player.pitched else ():
                written = self.player.written(head)
                place = (written.step, written.octave)
                if written.alter != state.get(place, before.get(place, _signature(written.step, self.fifths))) or (
                    place not in state and written.alter != _signature(written.step, self.fifths)
                ):
                    shown[at, head] = ACCIDENTALS[written.alter]
                state[place] = written.alter
            at += note.ticks
        self.altered[staff, voice] = state
        return shown

    def _sign(self, measure: Element, sign: Sign, staff: int) -> None:
        if sign.kind == "clef":
            self._clef(add(measure, "attributes"), sign.text, staff)
        elif sign.kind == "words":
            self._direction(measure, staff, "above", "words", sign.text, font_style="italic")
        elif staff in self.hairpins:
            self._direction(measure, staff, "below", "wedge", type="stop")
            self.hairpins.remove(staff)
        if sign.kind == "dynamic":
            add(self._direction(measure, staff, "below", "dynamics"), sign.text)
        elif sign.kind == "hairpin" and sign.text != "stop":
            self._direction(measure, staff, "below", "wedge", type=sign.text)
            self.hairpins.add(staff)

    def _direction(self, measure: Element, staff: int, placement: str, tag: str, text: str | None = None, **attributes: str) -> Element:
        direction = add(measure, "direction", placement=placement)
        element = add(add(direction, "direction-type"), tag, text, **attributes)
        self._staff(direction, staff)
        return element


def _length(items: Voice) -> int:
    return sum(item.ticks for item in items if isinstance(item, Note))


def _signature(step: str, fifths: int) -> int:
    """Alteration of a step in a key signature of up to seven sharps or flats."""
    place = "FCGDAEB".index(step)
    return int(place < fifths) - int(6 - place < -fifths)


def _ties(bars: tuple[Bar, ...]) -> dict[tuple[int, int], list[Tie]]:
    """The ties of each note, listed by bar index and voice.

    Raises:
        ValueError: where a tie leads to no equal pitch.
    """
    result: dict[tuple[int, int], list[Tie]] = {}
    for voice in (1, 2):
        played = [(i, item) for i, bar in enumerate(bars) if len(bar) >= voice for item in bar[voice - 1] if isinstance(item, Note)]
        before: frozenset[Pitch] = frozenset()
        for place, (index, note) in enumerate(played):
            following = played[place + 1][1].pitches if place + 1 < len(played) else ()
            after = frozenset(note.pitches) & frozenset(following) if "~" in note.marks else frozenset()
            if "~" in note.marks and not after:
                raise ValueError(f"bar index {index}: nothing to tie to")
            result.setdefault((index, voice), []).append((before, after))
            before = after
    return result
