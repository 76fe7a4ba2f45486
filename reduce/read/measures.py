"""Walks one part of a MusicXML score, bar by bar, and gathers its noteheads and signs.

The walk is the hot path of reading: each note's children are looked at once, and lengths and pitches are remembered.
"""

from __future__ import annotations

from fractions import Fraction

from lxml import etree

from reduce.model.pitch import STEPS, Pitch, spelled
from reduce.model.problem import Severity
from reduce.model.score import Key, Meter, Transposition
from reduce.read.directions import Directions
from reduce.read.findings import Findings
from reduce.read.notations import read_notations
from reduce.read.pieces import Piece, Sign

LONGEST_BAR = 1024  # quarter-notes; beyond it a length is a slip of the program that wrote the file

_TYPES = {
    "maxima": Fraction(32), "long": Fraction(16), "breve": Fraction(8), "whole": Fraction(4), "half": Fraction(2),
    "quarter": Fraction(1), "eighth": Fraction(1, 2), "16th": Fraction(1, 4), "32nd": Fraction(1, 8), "64th": Fraction(1, 16),
    "128th": Fraction(1, 32), "256th": Fraction(1, 64), "512th": Fraction(1, 128), "1024th": Fraction(1, 256),
}  # fmt: skip

_FIFTHS_OF_STEPS = {"F": -1, "C": 0, "G": 1, "D": 2, "A": 3, "E": 4, "B": 5}


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
        self.transpositions: list[Transposition] = []
        self.meter: Meter | None = None
        self.meter_changed = False
        self.barlines: list[etree._Element] = []  # of the present bar
        self.keys: dict[int, Key] = {}  # written, by staff; 0 = all
        self.key_changed = False
        self.directions = Directions(self)
        self.signs: list[Sign] = self.directions.signs
        self.bar = 0
        self.number = ""
        self.bar_start = 0
        self.time = 0
        self.sounding: dict[int, tuple[int, int]] = {0: (0, 0)}
        self.percussion: set[int] = set()
        self.octave_clef = False
        self.numbers: dict[int, str] = {}  # printed number of each bar
        self._divisions: Fraction | None = None
        self._lengths: dict[str, int] = {}
        self._pitches: dict[int, dict[tuple[str | None, ...], tuple[Pitch, int] | None]] = {}
        self._slurs: dict[str, Piece] = {}
        self._slur_ends: dict[str, Piece] = {}
        self._graces: dict[str, list[Piece]] = {}
        self._last: dict[str, Piece] = {}  # the last main note of each voice in this bar
        self._chord_onset = 0

    # bars

    def measure(self, element: etree._Element, bar: int, number: str, start: int) -> int:
        """Read one bar that begins at ``start``; returns the tick where its longest content ends."""
        self.bar, self.number, self.bar_start = bar, number, start
        self.numbers[bar] = number
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
                self.time -= self.length(child.findtext("duration"))
                if self.time < start:
                    self.time, slipped = start, True
            elif tag == "forward":
                self.time += self.length(child.findtext("duration"))
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
        if slipped:
            self.doubt("doubt", "backup", "A voice was set back to before the bar line; it was begun at the bar line.")
        if self._graces:
            self._close_graces()
        if self._slur_ends:
            self._slur_ends.clear()
        return longest

    def doubt(self, severity: Severity, code: str, sentence: str, *, place: bool = True) -> None:
        """Note a finding of this part, in the present bar where ``place`` matters."""
        self.findings.add(severity, code, sentence, self.name, self.number if place else "")

    # lengths

    def length(self, text: str | None) -> int:
        """Ticks of a duration given in the part's divisions."""
        if text is None:
            return 0
        ticks = self._lengths.get(text)
        if ticks is None:
            ticks = self._lengths[text] = self._work_out(text)
        return ticks

    def _work_out(self, text: str) -> int:
        if self._divisions is None:
            self._divisions = Fraction(1)
            self.doubt("doubt", "divisions", "The part does not say how it counts time; its lengths were taken as quarter-notes.")
        try:
            exact = Fraction(text.strip()) * self.resolution / self._divisions
        except (ValueError, ZeroDivisionError):
            self.doubt("fault", "duration", f"A length of {text.strip()[:20]!r} cannot be read; the note's shape was taken.")
            return 0
        if exact < 0 or exact > LONGEST_BAR * self.resolution:
            self.doubt("fault", "duration", f"A length of {text.strip()[:20]!r} is not possible; the note's shape was taken.")
            return 0
        ticks = round(exact)
        if ticks != exact:
            self.doubt("doubt", "rounded", "Some lengths fall between the smallest steps of time kept; they were rounded.", place=False)
        return ticks

    def _length_by_sight(self, element: etree._Element) -> int:
        """Ticks of a note without a duration: from its shape, dots and tuplet; a bar rest fills the bar."""
        rest = element.find("rest")
        kind = element.findtext("type")
        if kind in _TYPES:
            length = _TYPES[kind]
            dots = len(element.findall("dot"))
            length = length * 2 - length / 2**dots
            ratio = _ratio(element.find("time-modification"))
            if ratio is not None:
                length = length * ratio[1] / ratio[0]
            return int(length * self.resolution)
        if rest is not None:
            return (self.meter or Meter()).ticks(self.resolution) if element.find("duration") is None else 0
        self.doubt("fault", "duration", "A note has neither length nor shape; it was left out.")
        return 0

    # attributes

    def _attributes(self, element: etree._Element) -> None:
        for child in element:
            tag = child.tag
            if tag == "divisions":
                self._set_divisions(child.text or "")
            elif tag == "key":
                key = read_key(child)
                if key is None:
                    self.doubt("doubt", "key", "A key signature of its own kind is not read; the accidentals are.")
                else:
                    self.keys = {0: key} if child.get("number") is None else {**self.keys, _whole(child.get("number"), 1): key}
                    self.key_changed = True
            elif tag == "time":
                self._time(child)
            elif tag == "staves":
                self.staves = max(self.staves, min(_whole(child.text, 1), 16))
            elif tag == "clef":
                staff = _whole(child.get("number"), 1)
                if _whole(child.findtext("clef-octave-change"), 0):
                    self.octave_clef = True
                if child.findtext("sign") == "percussion":
                    self.percussion.add(staff)
                else:
                    self.percussion.discard(staff)
            elif tag == "transpose":
                self._transpose(child)

    def _set_divisions(self, text: str) -> None:
        try:
            divisions = Fraction(text.strip())
        except (ValueError, ZeroDivisionError):
            divisions = Fraction(0)
        if divisions <= 0:
            self.doubt("doubt", "divisions", f"The part counts time in {text.strip()[:20]!r}; its lengths were taken as quarter-notes.")
            divisions = Fraction(1)
        if divisions != self._divisions:
            self._divisions = divisions
            self._lengths.clear()

    def _time(self, element: etree._Element) -> None:
        if element.find("senza-misura") is not None:
            self.doubt("note", "free-time", "Free time: bars are as long as their notes.")
            return
        meter = read_meter(element)
        self.meter_changed = True
        if meter is None:
            self.doubt("doubt", "meter", "A time signature cannot be read; the one before it was kept.")
        elif self.time > self.bar_start:
            self.doubt("doubt", "meter", f"The time signature changes to {meter} inside the bar; it counts from the next bar on.")
            self.meter = meter
        else:
            self.meter = meter

    def _transpose(self, element: etree._Element) -> None:
        octaves = _whole(element.findtext("octave-change"), 0)
        chromatic = _whole(element.findtext("chromatic"), 0)
        diatonic_text = element.findtext("diatonic")
        diatonic = _whole(diatonic_text, 0) if diatonic_text is not None else _steps_for(chromatic)
        staff = _whole(element.get("number"), 0)
        if element.find("double") is not None:
            self.doubt("note", "double", "The part is doubled an octave away; only the written line was read.", place=False)
        interval = (diatonic + 7 * octaves, chromatic + 12 * octaves)
        if abs(interval[1]) > 60:
            self.doubt("fault", "transposition", f"A transposition of {interval[1]} semitones is not possible; it was not applied.")
            return
        self.sounding = {0: interval} if staff == 0 else {**self.sounding, staff: interval}
        self.transpositions.append(Transposition(onset=self.time, staff=staff, diatonic=interval[0], chromatic=interval[1]))
        self._pitches.clear()
        self.key_changed = True

    def sounding_of(self, staff: int) -> tuple[int, int]:
        """Steps and semitones from written to sounding on ``staff``, octaves included."""
        found = self.sounding.get(staff)
        return self.sounding[0] if found is None and 0 in self.sounding else found or (0, 0)

    def sounding_key(self) -> Key | None:
        """The part's signature as it sounds, or None where it has none of its own."""
        if not self.keys:
            return None
        staff = min(self.keys)
        key = self.keys[staff]
        fifths = key.fifths + shift_of_key(*self.sounding_of(staff or 1))
        return Key(_enharmonic(fifths), key.mode)

    # notes

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
                length = self._lengths.get(text)
                duration = self.length(text) if length is None else length
            elif tag == "voice":
                voice = child.text or "1"
            elif tag == "rest":
                rest = True
            elif tag == "notations":
                notations = [*(notations or ()), child]
            elif tag == "staff":
                staff = _whole(child.text, 1)
            elif tag == "chord":
                chord = True
            elif tag == "tie":
                if child.get("type") == "start":
                    tie_start = True
                elif child.get("type") == "stop":
                    tie_stop = True
            elif tag == "time-modification":
                tuplet = _ratio(child)
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
            duration = self._length_by_sight(element)
        if chord:
            onset = self._chord_onset
        else:
            onset = self._chord_onset = self.time
            self.time += duration
        end = onset + duration
        if staff > self.staves:
            self.staves = min(staff, 16)
        if rest:
            if notations:
                self._rest_signs(notations, staff, onset, end)
            return end
        if unpitched or (pitch is not None and staff in self.percussion):
            if not grace and not cue:
                self.strokes.append((element.get("id") or "", self.bar, onset, duration))
            if notations:
                self._rest_signs(notations, staff, onset, end)
            return end
        if pitch is None:
            self.doubt("fault", "pitch", "A note has no pitch; it was read as a rest.")
            return end
        found = self._pitch(pitch, staff)
        if found is None:
            self.doubt("fault", "pitch", "A note's pitch cannot be read; it was read as a rest.")
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

    def _pitch(self, element: etree._Element, staff: int) -> tuple[Pitch, int] | None:
        names = tuple([child.text for child in element])
        known = self._pitches.get(staff)
        if known is None:
            known = self._pitches[staff] = {}
        if names in known:
            return known[names]
        found = known[names] = self._spell(element, staff)
        return found

    def _spell(self, element: etree._Element, staff: int) -> tuple[Pitch, int] | None:
        step = (element.findtext("step") or "").strip().upper()
        try:
            octave = int(element.findtext("octave") or "")
            alter = Fraction((element.findtext("alter") or "0").strip())
        except ValueError:
            return None
        if step not in STEPS or len(step) != 1 or not -2 <= octave <= 11 or abs(alter) > 4:
            return None
        if alter.denominator != 1:
            self.doubt("doubt", "quarter-tone", "Quarter-tones were moved to the nearest key of the piano.")
        pitch = spelled(step, round(alter), octave)
        interval = self.sounding_of(staff)
        if interval != (0, 0):
            pitch = pitch.moved(*interval)
        return (pitch, pitch.midi) if 0 <= pitch.midi <= 127 else None

    def _rest_signs(self, notations: list[etree._Element], staff: int, onset: int, end: int) -> None:
        for group in notations:
            if group.find("fermata") is not None:
                self.signs.append(Sign("fermata", staff, self.bar, onset, end))

    def _close_graces(self) -> None:
        """Graces after the last note of a voice follow it, as the turn at the end of a trill does."""
        for voice, graces in self._graces.items():
            main = self._last.get(voice)
            if main is not None and main.onset + main.duration <= graces[0].onset:
                for grace in graces:
                    grace.onset, grace.rank = main.onset, 2
        self._graces.clear()

    # slurs

    def slur(self, element: etree._Element, piece: Piece) -> None:
        """Open or close a slur.  A slur that changes voice may close, in file order, before it opens."""
        number = element.get("number") or "1"
        kind = element.get("type")
        if kind == "start":
            end = self._slur_ends.get(number)
            if end is not None and end.onset > piece.onset and number not in self._slurs:
                del self._slur_ends[number]
                self._slurred(piece, end)
            else:
                self._slurs[number] = piece
        elif kind == "stop":
            begin = self._slurs.get(number)
            if begin is not None and begin.onset <= piece.onset:
                del self._slurs[number]
                self._slurred(begin, piece)
            else:
                self._slur_ends[number] = piece

    def _slurred(self, first: Piece, last: Piece) -> None:
        self.signs.append(Sign("slur", first.staff, first.bar, first.onset, last.onset + last.duration, pieces=(first, last)))

    def finish(self, end: int) -> None:
        """Close what the part left open."""
        self.directions.finish(end)


def _whole(text: str | None, default: int) -> int:
    try:
        return round(float(text)) if text else default
    except (ValueError, OverflowError):
        return default


def _ratio(element: etree._Element | None) -> tuple[int, int] | None:
    if element is None:
        return None
    actual, normal = _whole(element.findtext("actual-notes"), 0), _whole(element.findtext("normal-notes"), 0)
    return (actual, normal) if actual > 0 and normal > 0 and actual != normal else None


def _steps_for(chromatic: int) -> int:
    """The usual steps of an interval known by its semitones only: the plain name, flat side for the tritone."""
    octaves, rest = divmod(abs(chromatic), 12)
    steps = (0, 1, 1, 2, 2, 3, 4, 4, 5, 5, 6, 6)[rest] + 7 * octaves
    return steps if chromatic >= 0 else -steps


def shift_of_key(diatonic: int, chromatic: int) -> int:
    """Fifths by which a signature moves with the interval."""
    return spelled("C", 0, 4).moved(diatonic, chromatic).fifths


def _enharmonic(fifths: int) -> int:
    """The signature within seven accidentals that sounds the same."""
    while fifths > 7:
        fifths -= 12
    while fifths < -7:
        fifths += 12
    return fifths


def read_key(element: etree._Element) -> Key | None:
    """A key signature as written; None where it follows no circle of fifths."""
    text = element.findtext("fifths")
    mode = (element.findtext("mode") or "").strip()
    mode = mode if mode in ("major", "minor") else ""
    if text is not None:
        fifths = _whole(text, 99)
        return Key(fifths, mode) if abs(fifths) <= 11 else None
    steps = [(s.text or "").strip() for s in element.findall("key-step")]
    alters = [_whole(a.text, 9) for a in element.findall("key-alter")]
    for sign, order in ((1, "FCGDAEB"), (-1, "BEADGCF")):
        if sorted(steps) == sorted(order[: len(steps)]) and all(a == sign for a in alters):
            return Key(sign * len(steps), mode)
    return None


def read_meter(element: etree._Element) -> Meter | None:
    """A time signature; unlike denominators are brought to the smaller value."""
    tops = [t.text or "" for t in element.findall("beats")]
    units = [_whole(u.text, 0) for u in element.findall("beat-type")]
    if not tops or len(tops) != len(units) or any(u < 1 or u > 128 or u & (u - 1) for u in units):
        return None
    unit = max(units)
    beats: list[int] = []
    for top, own in zip(tops, units, strict=True):
        for figure in top.replace("+", " ").split():
            count = _whole(figure, 0)
            if not 1 <= count <= 128:
                return None
            beats.append(count * unit // own)
    symbol = element.get("symbol") or ""
    return Meter(tuple(beats), unit, symbol if symbol in ("common", "cut") else "") if beats else None
