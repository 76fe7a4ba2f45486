"""The signs of a sample score: bar lines, tempo, and what hangs on a note."""

from __future__ import annotations

from typing import TYPE_CHECKING

from lines import Note
from lxml import etree

if TYPE_CHECKING:
    from compose import Score, Tempo

Element = etree._Element
VALUE_NAMES = {"w": "whole", "h": "half", "q": "quarter", "e": "eighth", "s": "16th", "t": "32nd"}
ARTICULATIONS = {"^": "strong-accent", ">": "accent", "'": "staccato", "-": "tenuto"}


def add(parent: Element, tag: str, text: object = None, **attributes: str) -> Element:
    """A child element; underscores in attribute names become hyphens."""
    child = etree.SubElement(parent, tag, {name.replace("_", "-"): value for name, value in attributes.items()})
    if text is not None:
        child.text = str(text)
    return child


def left_barline(measure: Element, score: Score, number: int) -> None:
    """Repeat sign or ending bracket that opens at bar ``number``."""
    for section, *endings in score.repeats:
        if number == section.start:
            barline = add(measure, "barline", location="left")
            add(barline, "bar-style", "heavy-light")
            add(barline, "repeat", direction="forward")
        for which, ending in enumerate(endings, 1):
            if number == ending.start:
                add(add(measure, "barline", location="left"), "ending", f"{which}.", number=str(which), type="start")


def right_barline(measure: Element, score: Score, number: int) -> None:
    """Repeat sign, end of an ending, double bar before a letter, or the last bar line."""
    for _, first, second in score.repeats:
        if number == first[-1]:
            barline = add(measure, "barline", location="right")
            add(barline, "bar-style", "light-heavy")
            add(barline, "ending", number="1", type="stop")
            add(barline, "repeat", direction="backward")
            return
        if number == second[-1]:
            barline = add(measure, "barline", location="right")
            add(barline, "bar-style", "light-light")
            add(barline, "ending", number="2", type="discontinue")
            return
    if number == score.last:
        add(add(measure, "barline", location="right"), "bar-style", "light-heavy")
    elif number + 1 in score.letters:
        add(add(measure, "barline", location="right"), "bar-style", "light-light")


def tempo_mark(measure: Element, tempo: Tempo, offset: int) -> None:
    """Tempo words with their metronome mark, ``offset`` ticks into the bar."""
    direction = add(measure, "direction", placement="above", system="only-top")
    add(add(direction, "direction-type"), "words", tempo.words, font_weight="bold")
    if tempo.unit:
        metronome = add(add(direction, "direction-type"), "metronome", parentheses="no")
        add(metronome, "beat-unit", VALUE_NAMES[tempo.unit[0]])
        if tempo.unit.endswith("."):
            add(metronome, "beat-unit-dot")
        add(metronome, "per-minute", tempo.a_minute)
    if offset:
        add(direction, "offset", offset)
    if tempo.unit:
        add(direction, "sound", tempo=f"{tempo.quarters:g}")


def notations(element: Element, note: Note, *, tied: list[str], tuplet: str, leads: bool, voice: int) -> None:
    """Ties, slurs, tuplet, ornaments and articulation of one head; ``leads`` for the first head of a chord."""
    group = etree.Element("notations")
    for kind in tied:
        add(group, "tied", type=kind)
    if leads:
        for mark, kind in ((")", "stop"), ("(", "start")):
            if mark in note.marks:
                add(group, "slur", type=kind, number=str(voice))
        if tuplet:
            add(group, "tuplet", type=tuplet)
        strokes = note.marks.count("/")
        if strokes or "*" in note.marks:
            ornaments = add(group, "ornaments")
            if "*" in note.marks:
                add(ornaments, "trill-mark")
            if strokes:
                add(ornaments, "tremolo", strokes, type="single")
        if signs := [name for mark, name in ARTICULATIONS.items() if mark in note.marks]:
            articulations = add(group, "articulations")
            for name in signs:
                add(articulations, name)
        if "!" in note.marks:
            add(group, "fermata")
    if "$" in note.marks:
        add(group, "arpeggiate")
    if len(group):
        element.append(group)
