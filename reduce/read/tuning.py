"""How a part sounds: its transposition staff by staff, its key signature, and its pitches, spelled and sounding."""

from __future__ import annotations

from collections.abc import Callable

from lxml import etree

from reduce.model.pitch import STEPS, Pitch, spelled
from reduce.model.problem import Severity
from reduce.model.score import Key, Transposition
from reduce.read.figures import exact, staff_number, whole
from reduce.read.signatures import enharmonic, read_key, shift_of_key, steps_for

WIDEST = 60  # semitones; no instrument sounds farther from what its player reads


class Tuning:
    """The pitches of one part.  ``doubt`` takes severity, code and sentence."""

    def __init__(self, doubt: Callable[[Severity, str, str], None]) -> None:
        self.transpositions: list[Transposition] = []
        self.keys: dict[int, Key] = {}  # written, by staff; 0 = all
        self.key_changed = False
        self.answered = False  # the arranger has said how the part sounds
        self._doubt = doubt
        self._intervals: dict[int, tuple[int, int]] = {0: (0, 0)}  # by staff; 0 = all others
        self._known: dict[int, dict[tuple[str | None, ...], tuple[Pitch, int] | None]] = {}

    def transpose(self, element: etree._Element, onset: int) -> None:
        """From ``onset`` on the part, or one staff of it, sounds as the ``transpose`` element says."""
        if self.answered:
            return
        octaves = whole(element.findtext("octave-change"), 0)
        chromatic = whole(element.findtext("chromatic"), 0)
        diatonic_text = element.findtext("diatonic")
        diatonic = whole(diatonic_text, 0) if diatonic_text is not None else steps_for(chromatic)
        staff = staff_number(element.get("number")) if element.get("number") else 0
        if element.find("double") is not None:
            self._doubt("note", "double", "The part is doubled an octave away; only the written line was read.")
        interval = (diatonic + 7 * octaves, chromatic + 12 * octaves)
        if abs(interval[1]) > WIDEST or abs(interval[0]) > WIDEST:
            self._doubt("fault", "transposition", f"A transposition of {interval[1]} semitones is not possible; it was not applied.")
            return
        self._intervals = {0: interval} if staff == 0 else {**self._intervals, staff: interval}
        self.transpositions.append(Transposition(onset=onset, staff=staff, diatonic=interval[0], chromatic=interval[1]))
        self._known.clear()
        self.key_changed = True

    def answer(self, diatonic: int, chromatic: int) -> None:
        """Let the part sound as the arranger says, whatever the file tells."""
        self.answered = True
        self._intervals = {0: (diatonic, chromatic)}
        self.transpositions.append(Transposition(onset=0, staff=0, diatonic=diatonic, chromatic=chromatic))

    @property
    def moves_key(self) -> bool:
        """Whether the part, at some time, reads another key than sounds; octaves do not count."""
        return any(t.chromatic % 12 for t in self.transpositions)

    def interval(self, staff: int) -> tuple[int, int]:
        """Steps and semitones from written to sounding on ``staff``, octaves included."""
        found = self._intervals.get(staff)
        return self._intervals[0] if found is None else found

    def key(self, element: etree._Element) -> None:
        """A new key signature, for the part or one staff of it."""
        key = read_key(element)
        if key is None:
            self._doubt("doubt", "key", "A key signature of its own kind is not read; the accidentals are.")
            return
        number = element.get("number")
        self.keys = {0: key} if number is None else {**self.keys, staff_number(number): key}
        self.key_changed = True

    def sounding_key(self) -> Key | None:
        """The part's signature as it sounds, or None where it has none of its own."""
        if not self.keys:
            return None
        staff = min(self.keys)
        key = self.keys[staff]
        return Key(enharmonic(key.fifths + shift_of_key(*self.interval(staff or 1))), key.mode)

    def pitch(self, element: etree._Element, staff: int) -> tuple[Pitch, int] | None:
        """The sounding pitch of a ``pitch`` element and its MIDI number; None where it cannot be read or played."""
        names = tuple([child.text for child in element])
        known = self._known.get(staff)
        if known is None:
            known = self._known[staff] = {}
        elif names in known:
            return known[names]
        found = known[names] = self._spell(element, staff)
        return found

    def _spell(self, element: etree._Element, staff: int) -> tuple[Pitch, int] | None:
        step = (element.findtext("step") or "").strip().upper()
        octave, alter = whole(element.findtext("octave"), 99), exact(element.findtext("alter") or "0")
        if len(step) != 1 or step not in STEPS or not -2 <= octave <= 11 or alter is None or abs(alter) > 4:
            return None
        if alter.denominator != 1:
            self._doubt("doubt", "quarter-tone", "Quarter-tones were moved to the nearest key of the piano.")
        pitch = spelled(step, round(alter), octave)
        interval = self.interval(staff)
        if interval != (0, 0):
            pitch = pitch.moved(*interval)
        return (pitch, pitch.midi) if 0 <= pitch.midi <= 127 else None
