"""Lines of music for a screen: small SVGs that share their signs, and whose notes can be asked by name."""

from __future__ import annotations

import re

from reduce.engrave.verovio_layout import Engraver
from reduce.model.record import dataclass

_GLYPH = re.compile(r'<g id="(E[0-9A-F]{3,4})-[^"]*">(.*?)</g>', re.DOTALL)
_USE = re.compile(r'href="#(E[0-9A-F]{3,4})-[^"]*"')
_SIZE = re.compile(r'<svg viewBox="0 0 ([\d.]+) ([\d.]+)"')
_BODY = re.compile(r'<svg class="definition-scale"[^>]*viewBox="0 0 ([\d.]+) ([\d.]+)"[^>]*>(.*)</svg>\s*</svg>', re.DOTALL)
_NAMED = re.compile(r'<g id="([a-z]\d+)" class="note"([^>]*)>')
_GROUP = re.compile(r'<g (?:id="[^"]*" )?class="([^"]*)"([^>]*)>')
_EMPTY = re.compile(r"<g[^>]*/>|<g[^>]*></g>|<text[^>]*/>")
_PLACEHOLDER = re.compile(r'<g (?:id="[^"]*" )?class="[^"]*placeholder[^"]*"[^>]*>(?:<ellipse[^>]*/>|<rect[^>]*/>)*</g>')
_SPAN_ID = re.compile(r'<tspan id="[^"]*"')
_SPAN_CLASS = re.compile(r'<tspan class="[^"]*"')
_MUSIC_TEXT = re.compile(r' font-family="Leipzig"')
_LETTERING = {"ending": "bold", "fing": "bold", "reh": "bold", "tempo": "bold", "dir": "slant", "dynam": "slant", "mNum": "slant"}
"""How verovio letters the words of a kind of sign; the page has a rule for each."""
_TEXT_SIGNS = str.maketrans({
    "\ueca2": "whole", "\ueca3": "half", "\ueca4": "half", "\ueca5": "\u2669", "\ueca6": "\u2669",
    "\ueca7": "\u266a", "\ueca8": "\u266a", "\ueca9": "16th", "\uecaa": "16th", "\uecb7": ".",
    "\ue260": "\u266d", "\ue261": "\u266e", "\ue262": "\u266f",
})  # fmt: skip
"""Note values and accidentals inside running words (SMuFL code points) as signs that text fonts have, or as words."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ScreenLine:
    """One line of music.

    ``body`` is SVG in units of ``view`` (width, height); ``width`` and ``height`` in millimetres; ``bars`` indices, end exclusive.  Notes
    are groups of the class ``note`` with ``data-n``, bars groups of the class ``measure`` with ``data-b``, staves groups ``staff``.
    """

    body: str
    view: tuple[int, int]
    width: float
    height: float
    bars: tuple[int, int]


@dataclass(frozen=True, slots=True)
class Screen:
    """A piece for the screen: its signs by code, as SVG, and its lines."""

    glyphs: dict[str, str]
    lines: tuple[ScreenLine, ...]


def screen(musicxml: bytes, staff_height: float, width: float, bars: int = 0) -> Screen:
    """Engrave a piece in lines for the screen.

    Notes whose id is a small letter and a number ('d12') can be asked; others are drawn only.

    Args:
        musicxml: the piece, of any number of parts.
        staff_height: millimetres.
        width: millimetres of a line.
        bars: lines wanted, 0 = all; the first is as wide as it would be in the whole piece.
    """
    engraver = Engraver(
        staff_height, width,
        {
            "breaks": "auto", "pageHeight": 100, "adjustPageHeight": True, "svgFormatRaw": True, "svgRemoveXlink": True,
            "smuflTextFont": "none", "minLastJustification": 0.6, "mnumInterval": 1,
        },
    )  # fmt: skip
    glyphs: dict[str, str] = {}
    lines: list[ScreenLine] = []
    at = 0
    for svg in engraver.render(musicxml):
        for code, drawing in _GLYPH.findall(svg):
            glyphs.setdefault(code, drawing)
        size, body = _SIZE.search(svg), _BODY.search(svg)
        if size is None or body is None:
            raise ValueError("verovio's SVG is not as expected")
        slim, count = _slim(body[3], at)
        view = (round(float(body[1])), round(float(body[2])))
        lines.append(ScreenLine(body=slim, view=view, width=float(size[1]) / 10, height=float(size[2]) / 10, bars=(at, at + count)))
        at += count
        if len(lines) == bars:
            break
    return Screen(glyphs, tuple(lines))


def _slim(svg: str, at: int) -> tuple[str, int]:
    """The drawing without what only a music editor needs; and its number of bars, counted on from ``at``."""
    svg = _USE.sub(r'href="#\1"', svg)
    svg = _NAMED.sub(r'<g class="note" data-n="\1"\2>', svg)
    svg = _PLACEHOLDER.sub("", svg)
    count = 0

    def group(found: re.Match[str]) -> str:
        nonlocal count
        name, rest = found[1], found[2]
        if name == "measure":
            count += 1
            return f'<g class="measure" data-b="{at + count - 1}">'
        if name == "note" and "data-n" in rest:
            return f'<g class="note"{rest}>'
        if name == "staff":
            return '<g class="staff">'
        lettering = _LETTERING.get(name.split(" ", 1)[0])
        return f'<g class="{lettering}"{rest}>' if lettering else f"<g{rest}>"

    svg = _GROUP.sub(group, svg)
    svg = _SPAN_CLASS.sub("<tspan", _SPAN_ID.sub("<tspan", svg)).replace(' class="text"', "").replace(' class="rend"', "")
    svg = _MUSIC_TEXT.sub("", svg).translate(_TEXT_SIGNS)
    slimmer = _EMPTY.sub("", svg)
    while slimmer != svg:
        svg, slimmer = slimmer, _EMPTY.sub("", slimmer)
    return svg, count
