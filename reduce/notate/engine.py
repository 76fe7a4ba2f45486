"""From hands to written bars: every step of the engraver's craft in its order."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import field

from reduce.model.draft import DraftNote
from reduce.model.record import dataclass
from reduce.model.score import Bar
from reduce.notate.accidentals import Memory
from reduce.notate.beams import beam_voice, set_stems
from reduce.notate.clefs import MIDDLE, ClefChange, Ottava, clef_changes, ottavas
from reduce.notate.style import Style
from reduce.notate.values import Ruler, write_voice
from reduce.notate.voices import Chord, lanes_of, voices_of_hand
from reduce.notate.written import Span, Voice, Written


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """What one hand (or one staff of a condensed score) plays, before it is written.

    ``home`` is the usual clef; ``low_first``: strand 1 is the lower line.
    """

    staff: int
    first_voice: int
    home: str
    low_first: bool
    notes: tuple[DraftNote, ...]
    lanes: list[list[Chord]] | None = None  # where the strands were already laid out


@dataclass(slots=True)
class Page:
    """Written bars: ``bars[k]`` lists the voices of bar k, upper staff first."""

    bars: list[list[Voice]] = field(default_factory=list)
    clefs: list[list[ClefChange]] = field(default_factory=list)  # by staff
    ottavas: list[list[Ottava]] = field(default_factory=list)


def counts_from_right(bars: Sequence[Bar], resolution: int) -> list[bool]:
    """Which short bars are the end of a full one: pick-ups, and the second half of a bar that a repeat divides."""
    found = []
    before = 0  # what the short bar before left open
    for bar in bars:
        full = bar.meter.ticks(resolution)
        short = bar.length < full
        right = short and (bar.pickup or bar.index == bars[0].index or (before > 0 and before == bar.length))
        found.append(right)
        before = full - bar.length if short and not right else 0
    return found


def write(lines: Sequence[Line], bars: Sequence[Bar], resolution: int, style: Style, given_ottavas: frozenset[int] = frozenset()) -> Page:
    """Write all lines on ``bars``.

    ``given_ottavas``: staves whose octave lines are set by marks, so that none are added.
    """
    page = Page()
    staves = len(lines)
    on_staff: list[list[DraftNote]] = [[] for _ in range(staves)]
    for line in lines:
        for note in line.notes:
            on_staff[(note.staff or line.staff) - 1].append(note)
    for line, printed in zip(lines, on_staff, strict=True):
        struck = sorted((note for note in printed if not note.grace), key=lambda note: note.onset)
        page.clefs.append(clef_changes(struck, bars, resolution, line.home, style))
        page.ottavas.append([] if line.staff in given_ottavas else ottavas(struck, page.clefs[-1], style))
    by_line = []
    for line in lines:
        lanes, graces = lanes_of(line.notes) if line.lanes is None else (line.lanes, {})
        by_line.append(voices_of_hand(lanes, graces, bars, resolution, line.staff, line.first_voice, line.low_first))
    for k, line in enumerate(lines):
        page.ottavas[k] = _at_bar_lines(page.ottavas[k], by_line[k], bars, line.notes, style)
    position = _Position(page)
    memory = Memory(staves, style)
    from_right = counts_from_right(bars, resolution)
    for k, bar in enumerate(bars):
        ruler = Ruler(bar, resolution, from_right[k])
        voices = [voice for written in by_line for voice in written[k]]
        for voice in voices:
            _open_for_clefs(voice, page.clefs[voice.staff - 1])
            write_voice(voice, ruler, style)
            groups = beam_voice(voice, ruler, style)
            position.home = voice.staff
            set_stems(voice, groups, position)
        memory.bar(_in_time(voices), bar.key.fifths)
        page.bars.append(voices)
    return page


def _at_bar_lines(
    lines: Sequence[Ottava], voices: Sequence[Sequence[Voice]], bars: Sequence[Bar], notes: Sequence[DraftNote], style: Style
) -> list[Ottava]:
    """Octave lines that begin and end at bar lines wherever the hand has two voices there: files cannot say it otherwise."""
    if not lines:
        return []
    starts = [bar.start for bar in bars]
    found = []
    for line in lines:
        start, end = line.start, line.end
        first, last = bisect_right(starts, start) - 1, bisect_right(starts, end - 1) - 1
        if len(voices[first]) > 1 and start > bars[first].start:
            start = bars[first].end
        if len(voices[last]) > 1 and end < bars[last].end:
            end = bars[last].start
        if len({note.onset for note in notes if start <= note.onset < end}) >= style.ottava_notes:
            found.append(Ottava(start, end, line.up))
    return found


def _open_for_clefs(voice: Voice, changes: Sequence[ClefChange]) -> None:
    """Divide a silence in which the clef changes, so that the clef has a place to stand."""
    if len(changes) == 1:
        return
    for change in changes:
        for k, span in enumerate(voice.spans):
            if span.start < change.onset < span.end and not span.notes:
                voice.spans.insert(k + 1, Span(change.onset, span.end, hidden=span.hidden))
                span.end = change.onset
                break


def slur_sides(slurs: Sequence[tuple[DraftNote, DraftNote]], page: Page, bars: Sequence[Bar]) -> dict[int, str]:
    """The side of each slur that passes a bar in which its hand has two voices: outside, where its own stems point.

    Slurs in one voice are left to the engraver, who puts them on the side of the heads.
    """
    starts = [bar.start for bar in bars]
    divided = [{voice.staff for voice in voices if voice.direction} for voices in page.bars]
    found = {}
    for k, (first, last) in enumerate(slurs):
        staff = 1 if first.hand == "right" else 2
        span = range(max(bisect_right(starts, first.onset) - 1, 0), bisect_right(starts, last.onset))
        if first.hand == last.hand and any(staff in divided[bar] for bar in span):
            found[k] = "above" if (first.hand == "right") == (first.strand == 1) else "below"
    return found


def _in_time(voices: Sequence[Voice]) -> Iterator[tuple[int, Written]]:
    signs = [(sign.start, k, sign) for k, voice in enumerate(voices) for sign in voice.written if sign.notes or sign.graces]
    signs.sort(key=lambda item: item[:2])
    return ((voices[k].staff, sign) for _, k, sign in signs)


class _Position:
    """Steps of a note above the middle line, by the clef and octave line in force (asked in order of time)."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.home = 1
        self.at = [0] * len(page.clefs)
        self.line_at = [0] * len(page.ottavas)

    def __call__(self, note: DraftNote, tick: int) -> int:
        staff = (note.staff or self.home) - 1
        changes = self.page.clefs[staff]
        k = self.at[staff]
        while k + 1 < len(changes) and changes[k + 1].onset <= tick:
            k += 1
        while k and changes[k].onset > tick:
            k -= 1
        self.at[staff] = k
        place = note.pitch.diatonic - MIDDLE[changes[k].sign]
        lines = self.page.ottavas[staff]
        if lines:
            k = self.line_at[staff]
            while k + 1 < len(lines) and lines[k + 1].start <= tick:
                k += 1
            while k and lines[k].start > tick:
                k -= 1
            self.line_at[staff] = k
            if lines[k].start <= tick < lines[k].end:
                place += -7 if lines[k].up else 7
        return place
