"""A rhythm to clap as MusicXML: one line, a neutral clef, no key."""

from __future__ import annotations

import re

from reduce.model.booklet import Rhythm
from reduce.model.level import Level
from reduce.model.pitch import spelled
from reduce.model.record import replace
from reduce.model.rules import Rules
from reduce.notate.engine import Line, write
from reduce.notate.header import document
from reduce.notate.marks import signs_on_notes
from reduce.notate.partwise import part_xml, unit_of
from reduce.notate.style import style_of
from reduce.notate.ticks import finer

_LINE = spelled("E", 0, 4)  # the only line is the lowest one; unpitched notes are placed as in the treble clef (MusicXML 4.0)
_CLEF = "<clef><sign>percussion</sign></clef><staff-details><staff-lines>1</staff-lines></staff-details>"


def rhythm_xml(rhythm: Rhythm, level: Level, rules: Rules | None = None) -> bytes:
    """The rhythm on its bars as MusicXML 4.0: one staff of one line, notes without pitch (`unpitched`)."""
    about = rhythm.about
    start = about.bars[rhythm.first].start
    bars = tuple(
        replace(bar, start=bar.start - start, repeat_start=False, repeat_end=0, endings=(), ending_start=False, ending_stop="", jumps=())
        for bar in about.bars[rhythm.first : rhythm.last + 1]
    )
    notes = tuple(
        replace(
            note, hand="right", strand=1, onset=note.onset - start, pitch=_LINE, midi=_LINE.midi, articulations=(), ornaments=(),
            finger="", staff=0, arpeggio=False, tremolo=0,
        )
        for note in rhythm.notes
    )  # fmt: skip
    draft = finer(replace(about, bars=bars, notes=notes, marks=(), tempos=()))
    style = style_of(level, rules)
    line = Line(staff=1, first_voice=1, home="G", low_first=False, notes=draft.notes)
    page = write((line,), draft.bars, draft.resolution, style)
    signs = [sign for voices in page.bars for voice in voices for sign in voice.written]
    unit = unit_of(draft.resolution, [sign.ticks for sign in signs] + [sign.start for sign in signs])
    part = part_xml("P1", page, draft.bars, draft.resolution, unit, [], signs_on_notes((), draft.notes))
    return document(draft, style, [("P1", "Clap", "", 0)], [_unpitched(text) for text in part])


def _unpitched(text: str) -> str:
    text = re.sub(r"<pitch><step>(.)</step><octave>(\d)</octave></pitch>", _placed, text)
    text = re.sub(r"<key>.*?</key>", "", text)
    text = re.sub(r"<clef>.*?</clef>", _CLEF, text)
    return re.sub(r"<accidental[^>]*>.*?</accidental>", "", text)


def _placed(found: re.Match[str]) -> str:
    return f"<unpitched><display-step>{found[1]}</display-step><display-octave>{found[2]}</display-octave></unpitched>"
