"""Walks one part of a MusicXML score, bar by bar, and gathers its noteheads and signs.

The walk is the hot path of reading: each note's children are looked at once, and lengths and pitches are remembered.
"""

from __future__ import annotations

import copy

from lxml import etree

from reduce.model.problem import Severity
from reduce.model.score import Meter
from reduce.read.directions import Directions
from reduce.read.figures import staff_number, whole
from reduce.read.findings import Findings
from reduce.read.lengths import Lengths, ratio_of
from reduce.read.notations import read_notations
from reduce.read.pieces import Piece, Sign
from reduce.read.signatures import read_meter
from reduce.read.slurs import Slurs
from reduce.read.tuning import Tuning

_FOR_THE_EYE = frozenset(("type", "stem", "beam", "accidental", "dot", "notehead"))  # a note's children that say nothing new to the ear


class PartWalk:
    """The state of one part between its bars.  All times are ticks from the start of the piece."""

    def __init__(self, index: int, name: str, resolution: int, findings: Findings) -> None:
        self.index = index
        self.name = name
        self.resolution = resolution
        self.findings = findings
        self.staves = 1
        self.pieces: list[Piece] = []
        self.strokes: list[tuple[str, int, int, int]] = []  # id, bar, onset, duration
        self.meter: Meter | None = None
        self.meter_changed = False
        self.octave_clef = False
        self.bar = 0
        self.number = ""  # of the bar, as printed
        self.numbers: dict[int, str] = {}
        self.bar_start = 0
        self.time = 0
        self.barlines: list[etree._Element] = []  # of the present bar
        self.lengths = Lengths(resolution, self.doubt)
        self.tuning = Tuning(self.doubt)
        self.directions = Directions(self)
        self.signs: list[Sign] = self.directions.signs
        self.slurs = Slurs(self.signs)
        self._percussion: set[int] = set()  # staves
        self._graces: dict[str, list[Piece]] = {}
        self._last: dict[str, Piece] = {}  # the last main note of each voice in this bar
        self._chord_onset = 0
        self._repeated = 0  # bars that a bar-repeat sign repeats
        self._starts: list[int] = []

    def doubt(self, severity: Severity, code: str, sentence: str, *, place: bool = True) -> None:
        """Note a finding of this part, in the present bar where ``place`` matters."""
        self.findings.add(severity, code, sentence, self.name, self.number if place else "")

    def measure(self, element: etree._Element, bar: int, number: str, start: int) -> int:
        """Read one bar that begins at ``start``; returns the tick where its longest content ends."""
        self.bar, self.number, self.bar_start = bar, number, start
        self.numbers[bar] = number
        self._starts.append(start)
        before = len(self.pieces) + len(self.strokes)
        self.time = self._chord_onset = longest = start
        self._last.clear()
        self.barlines.clear()
        note, slipped = self._note, False
        for child in element:
            tag = child.tag
            if tag == "note":
                end = note(child)
                if end > longest:
                    longest = end
            elif tag == "backup":
                self.time -= self.lengths.ticks(child.findtext("duration"))
                if self.time < start:
                    self.time, slipped = start, True
            elif tag == "forward":
                self.time += self.lengths.ticks(child.findtext("duration"))
                longest = max(longest, self.time)
            elif tag == "attributes":
                self._attributes(child)
            elif tag == "direction":
                self.directions.direction(child)
            elif tag == "barline":
                self.barlines.append(child)
            elif tag == "harmony":
                self.directions.harmony(child)
            elif tag == "sound":
                self.directions.sound(child, self.time)
            elif tag == "figured-bass":
                self.doubt("note", "figured-bass", "Figured bass is not read; the notes around it are.", place=False)
        if self._repeated and len(self.pieces) + len(self.strokes) == before:
            longest = max(longest, self._repeat_bar(bar, start))
        if slipped:
            self.doubt("doubt", "backup", "A voice was set back to before the bar line; it was begun at the bar line.")
        if self._graces:
            self._close_graces()
        self.slurs.bar_over()
        return longest

    def _attributes(self, element: etree._Element) -> None:
        for child in element:
            tag = child.tag
            if tag == "divisions":
                self.lengths.set_divisions(child.text)
            elif tag == "key":
                self.tuning.key(child)
            elif tag == "time":
                self._time(child)
            elif tag == "staves":
                self.staves = max(self.staves, staff_number(child.text))
            elif tag == "clef":
                if whole(child.findtext("clef-octave-change"), 0):
                    self.octave_clef = True
                staff = staff_number(child.get("number"))
                if child.findtext("sign") == "percussion":
                    self._percussion.add(staff)
                else:
                    self._percussion.discard(staff)
            elif tag == "measure-style":
                sign = child.find("measure-repeat")
                if sign is not None:
                    self._repeated = min(max(whole(sign.text, 1), 1), 8) if sign.get("type") == "start" else 0
            elif tag == "transpose":
                self.tuning.transpose(child, self.time)

    def _time(self, element: etree._Element) -> None:
        if element.find("senza-misura") is not None:
            self.doubt("note", "free-time", "Free time: bars are as long as their notes.")
            return
        if element.get("print-object") == "no" and self.meter is not None:
            return  # the true length of one long bar: the metre that is seen goes on
        meter = read_meter(element)
        if meter is None:
            self.doubt("doubt", "meter", "A time signature cannot be read; the one before it was kept.")
            return
        if self.time > self.bar_start:
            self.doubt("doubt", "meter", f"The time signature changes to {meter} inside the bar; the whole bar was counted so.")
        self.meter, self.meter_changed = meter, True

    def _note(self, element: etree._Element) -> int:
        """Read one note, chord note, rest or stroke; returns where it ends."""
        duration = -1
        pitch: etree._Element | None = None
        notations: list[etree._Element] | None = None
        lyrics: list[etree._Element] | None = None
        voice, staff = "1", 1
        tie_start = tie_stop = rest = unpitched = chord = cue = slash = grace = False
        tuplet: tuple[int, int] | None = None
        for child in element:
            tag = child.tag
            if tag == "pitch":
                pitch = child
            elif tag == "duration":
                text = child.text or ""
                length = self.lengths.known.get(text)
                duration = self.lengths.ticks(text) if length is None else length
            elif tag == "voice":
                voice = child.text or "1"
            elif tag in _FOR_THE_EYE:  # most children
                continue
            elif tag == "rest":
                rest = True
            elif tag == "notations":
                notations = [*(notations or ()), child]
            elif tag == "staff":
                staff = staff_number(child.text)
            elif tag == "chord":
                chord = True
            elif tag == "tie":
                if child.get("type") == "start":
                    tie_start = True
                elif child.get("type") == "stop":
                    tie_stop = True
            elif tag == "time-modification":
                tuplet = ratio_of(child)
            elif tag == "grace":
                grace = True
                slash = child.get("slash") == "yes"
            elif tag == "cue":
                cue = True
            elif tag == "unpitched":
                unpitched = True
            elif tag == "lyric":
                lyrics = [*(lyrics or ()), child]

        if grace:
            duration = 0
        elif duration <= 0:
            duration = self.lengths.by_sight(element, (self.meter or Meter()).ticks(self.resolution))
        if chord:
            onset = self._chord_onset
        else:
            onset = self._chord_onset = self.time
            self.time += duration
        end = onset + duration
        if staff > self.staves:
            self.staves = staff
        if rest:
            if notations:
                self._rest_signs(notations, staff, onset, end)
            return end
        if unpitched or (pitch is not None and staff in self._percussion):
            if not grace and not cue:
                self.strokes.append((element.get("id") or "", self.bar, onset, duration))
            if notations:
                self._rest_signs(notations, staff, onset, end)
            return end
        found = None if pitch is None else self.tuning.pitch(pitch, staff)
        if found is None:
            self.doubt("fault", "pitch", "A note's pitch is missing or cannot be read; it was read as a rest.")
            return end
        if not duration and not grace:
            return end

        piece = Piece()
        piece.pitch, piece.midi = found
        piece.bar = self.bar
        piece.onset = onset
        piece.duration = duration
        if voice != "1":
            piece.voice = voice.strip() or "1"
        if staff != 1:
            piece.staff = staff
        if tie_start:
            piece.tie_start = True
        if tie_stop:
            piece.tie_stop = True
        if tuplet is not None:
            piece.tuplet = tuplet
        identity = element.get("id")
        if identity:
            piece.id = identity
        if cue:
            piece.kind = "cue"
        elif element.get("print-object") == "no":
            piece.kind = "hidden"
        if grace:
            if not cue:
                piece.kind = "grace"
            piece.rank = 0
            piece.grace_slash = slash
            self._graces.setdefault(piece.voice, []).append(piece)
        else:
            if self._graces:
                self._graces.pop(piece.voice, None)
            self._last[piece.voice] = piece
        self.pieces.append(piece)
        if notations:
            for group in notations:
                read_notations(self, piece, group, found_tie=tie_start or tie_stop)
        if lyrics:
            for lyric in lyrics:
                self.directions.lyric(lyric, piece)
        return end

    def _rest_signs(self, notations: list[etree._Element], staff: int, onset: int, end: int) -> None:
        for group in notations:
            if group.find("fermata") is not None:
                self.signs.append(Sign("fermata", staff, self.bar, onset, end))

    def _repeat_bar(self, bar: int, start: int) -> int:
        """Play an empty bar under a bar-repeat sign as the bars it repeats; returns where that ends."""
        source = len(self._starts) - 1 - self._repeated
        if source < 0:
            return start
        shift, from_bar = start - self._starts[source], bar - self._repeated
        end = start
        for piece in [p for p in self.pieces if p.bar == from_bar]:
            again = copy.copy(piece)
            again.id, again.bar, again.onset, again.tie_start, again.tie_stop = "", bar, piece.onset + shift, False, False
            self.pieces.append(again)
            end = max(end, again.end)
        for _, place, onset, duration in [s for s in self.strokes if s[1] == from_bar]:
            self.strokes.append(("", place + self._repeated, onset + shift, duration))
            end = max(end, onset + shift + duration)
        return end

    def _close_graces(self) -> None:
        """Graces after the last note of a voice follow it, as the turn at the end of a trill does."""
        for voice, graces in self._graces.items():
            main = self._last.get(voice)
            if main is not None and main.onset + main.duration <= graces[0].onset:
                for grace in graces:
                    grace.onset, grace.rank = main.onset, 2
        self._graces.clear()

    def finish(self, end: int) -> None:
        """Close what the part left open at ``end``, the end of the score."""
        self.directions.finish(end)

    def let_go(self) -> None:
        """Drop all that was gathered: a walk and its helpers hold one another, and nothing sweeps such rings during a run."""
        vars(self).clear()
