"""The head of a MusicXML file: work, people, source, credits, page, part list."""

from __future__ import annotations

from collections.abc import Sequence

from reduce.model.draft import Draft
from reduce.notate.marks import attribute, text_xml
from reduce.notate.style import Style

TENTHS = 40
PAGE = (210.0, 297.0)  # A4 in millimetres, the page a reader assumes; `reduce.engrave` sets the real one


def document(draft: Draft, style: Style, parts: Sequence[tuple[str, str, str, int]], body: Sequence[str]) -> bytes:
    """The whole file.  ``parts``: id, name, short name, MIDI program from 0."""
    out = ['<?xml version="1.0" encoding="UTF-8"?>', '<score-partwise version="4.0">']
    if draft.title:
        out.append(f"<work><work-title>{text_xml(draft.title)}</work-title></work>")
    out += _identification(draft, style)
    out += _defaults(style)
    out += _credits(draft, style)
    out.append("<part-list>")
    if len(parts) > 1:
        out.append(
            '<part-group type="start" number="1"><group-symbol>bracket</group-symbol><group-barline>yes</group-barline></part-group>'
        )
    for part_id, name, short, program in parts:
        solo = len(parts) == 1
        hide = ' print-object="no"' if solo else ""
        out.append(
            f"<score-part id={attribute(part_id)}><part-name{hide}>{text_xml(name)}</part-name>"
            f"<part-abbreviation{hide}>{text_xml(short)}</part-abbreviation>"
            f'<score-instrument id="{part_id}-I1"><instrument-name>{text_xml(name)}</instrument-name></score-instrument>'
            f'<midi-instrument id="{part_id}-I1"><midi-program>{program + 1}</midi-program></midi-instrument></score-part>'
        )
    if len(parts) > 1:
        out.append('<part-group type="stop" number="1"/>')
    out.append("</part-list>")
    out += body
    out.append("</score-partwise>\n")
    return "\n".join(out).encode("utf-8")


def _identification(draft: Draft, style: Style) -> list[str]:
    out = ["<identification>"]
    for kind, name in (("composer", draft.composer), ("arranger", draft.arranger)):
        if name:
            out.append(f'<creator type="{kind}">{text_xml(name)}</creator>')
    if draft.rights:
        out.append(f"<rights>{text_xml(draft.rights)}</rights>")
    out.append("<encoding><software>Orchestral reduction assistant</software>")
    out.append('<supports element="accidental" type="yes"/><supports element="beam" type="yes"/><supports element="stem" type="yes"/>')
    if style.bars_a_line > 0:
        out.append('<supports attribute="new-system" element="print" type="yes" value="yes"/>')
    out.append("</encoding>")
    if draft.source:
        out.append(f"<source>{text_xml(draft.source)}</source>")
    fields = [("level", draft.level), ("subtitle", draft.subtitle)]
    fields += [("transposed", str(draft.transposed))] if draft.transposed else []
    fields += [("first-bar", str(draft.first_bar))] if draft.first_bar else []
    kept = [f'<miscellaneous-field name="{name}">{text_xml(text)}</miscellaneous-field>' for name, text in fields if text]
    if kept:
        out.append(f"<miscellaneous>{''.join(kept)}</miscellaneous>")
    out.append("</identification>")
    return out


def _defaults(style: Style) -> list[str]:
    scale = style.staff_height / TENTHS  # millimetres a tenth

    def tenths(millimetres: float) -> str:
        return f"{millimetres / scale:.2f}"

    width, height = PAGE
    sides = (("left", style.side), ("right", style.side), ("top", style.top), ("bottom", style.bottom))
    margins = "".join(f"<{side}-margin>{tenths(size)}</{side}-margin>" for side, size in sides)
    return [
        f"<defaults><scaling><millimeters>{style.staff_height:g}</millimeters><tenths>{TENTHS}</tenths></scaling>",
        f"<page-layout><page-height>{tenths(height)}</page-height><page-width>{tenths(width)}</page-width>"
        f'<page-margins type="both">{margins}</page-margins></page-layout></defaults>',
    ]


def _credits(draft: Draft, style: Style) -> list[str]:
    scale = style.staff_height / TENTHS
    width, height = (size / scale for size in PAGE)
    right, top, bottom = width - style.side / scale, height - style.top / scale, style.bottom / scale
    rows = (
        ("title", draft.title, width / 2, top, "center", "top", 22),
        ("subtitle", draft.subtitle, width / 2, top - 9 / scale, "center", "top", 13),
        ("composer", draft.composer, right, top - 16 / scale, "right", "top", 11),
        ("arranger", draft.arranger, right, top - 21 / scale, "right", "top", 11),
        ("rights", draft.rights, width / 2, bottom, "center", "bottom", 8),
    )
    return [
        f'<credit page="1"><credit-type>{kind}</credit-type><credit-words default-x="{x:.2f}" default-y="{y:.2f}" '
        f'justify="{justify}" valign="{valign}" font-size="{size}">{text_xml(text)}</credit-words></credit>'
        for kind, text, x, y, justify, valign, size in rows
        if text
    ]
