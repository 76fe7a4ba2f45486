"""Draft to notation: voices, values, beams, clefs, accidentals, marks; MusicXML and MIDI.

`musicxml` writes the draft as one piano part on two staves.  Everything is derived from the draft's ticks and pitches, so
that reading the file again gives the same draft, and the same draft always gives the same bytes.
"""

from __future__ import annotations

from reduce.model.draft import Draft
from reduce.model.level import Level
from reduce.model.rules import Rules
from reduce.notate.condensed import condensed
from reduce.notate.engine import Line, slur_sides, write
from reduce.notate.excerpt import together
from reduce.notate.header import document
from reduce.notate.layout import system_breaks
from reduce.notate.marks import mark_directions, signs_on_notes, tempo_directions
from reduce.notate.midi import midi
from reduce.notate.partwise import part_xml, unit_of
from reduce.notate.style import style_of
from reduce.notate.ticks import finer

__all__ = ["condensed", "midi", "musicxml", "together"]


def musicxml(draft: Draft, level: Level, rules: Rules | None = None) -> bytes:
    """The draft as MusicXML 4.0: part "Piano", two staves, voices 1-2 for the right hand and 5-6 for the left, from the top.

    ``level`` gives ottava lines, bars a line and what a learner may be shown; ``rules`` (the loaded rule book) moves the
    settings of ``rules/notation.toml``, whose shipped values hold without it.
    """
    draft = finer(draft)
    style = style_of(level, rules)
    right = tuple(note for note in draft.notes if note.hand == "right")
    left = tuple(note for note in draft.notes if note.hand == "left")
    given = frozenset(2 if mark.hand == "left" else 1 for mark in draft.marks if mark.kind == "ottava")
    lines = (
        Line(staff=1, first_voice=1, home="G", low_first=False, notes=right),
        Line(staff=2, first_voice=5, home="F", low_first=True, notes=left),
    )
    page = write(lines, draft.bars, draft.resolution, style, given)
    own = [(staff, line) for staff, found in enumerate(page.ottavas, 1) for line in found]
    directions = tempo_directions(draft.tempos) + mark_directions(draft.marks, own)
    signs = [sign for voices in page.bars for voice in voices for sign in voice.written]
    ticks = [sign.ticks for sign in signs] + [sign.start for sign in signs] + [item.onset for item in directions]
    unit = unit_of(draft.resolution, ticks)
    on_notes = signs_on_notes(draft.marks, draft.notes)
    on_notes.sides = slur_sides(on_notes.slurs, page, draft.bars)
    part = part_xml("P1", page, draft.bars, draft.resolution, unit, directions, on_notes, system_breaks(draft.bars, style))
    return document(draft, style, [("P1", "Piano", "Pno.", 0)], part)
