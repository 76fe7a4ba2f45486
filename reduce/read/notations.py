"""Signs that belong to one note: ties drawn but not counted, slurs, ornaments, tremolos, articulation."""

from __future__ import annotations

from typing import TYPE_CHECKING

from lxml import etree

from reduce.read.figures import whole
from reduce.read.pieces import Piece, Sign

if TYPE_CHECKING:
    from reduce.read.measures import PartWalk

_BREATHS = ("breath-mark", "caesura")


def read_notations(walk: PartWalk, piece: Piece, element: etree._Element, *, found_tie: bool) -> None:
    """Put the signs of one ``notations`` element on ``piece`` (or, where they span notes, into the walk)."""
    for child in element:
        tag = child.tag
        if tag == "slur":
            walk.slurs.read(child, piece)
        elif tag == "tied":
            if not found_tie:
                kind = child.get("type")
                piece.tie_start = piece.tie_start or kind in ("start", "continue")
                piece.tie_stop = piece.tie_stop or kind in ("stop", "continue")
        elif tag == "articulations":
            names = []
            for sign in child:
                if sign.tag in _BREATHS:
                    walk.signs.append(Sign("breath", piece.staff, piece.bar, piece.end, piece.end, str(sign.tag), (piece,)))
                elif sign.tag == "other-articulation":
                    if sign.text:
                        names.append(sign.text.strip())
                else:
                    names.append(str(sign.tag))
            piece.articulations += tuple(names)
        elif tag == "ornaments":
            _ornaments(piece, child)
        elif tag == "fermata":
            piece.fermata = True
        elif tag == "arpeggiate":
            piece.arpeggio = True
        elif tag == "technical":
            for sign in child:
                if sign.tag == "fingering":
                    piece.fingers += ((sign.text or "").strip(),)
                elif sign.tag in ("up-bow", "down-bow", "harmonic", "snap-pizzicato", "stopped", "open-string"):
                    piece.articulations += (str(sign.tag),)
        elif tag == "dynamics":
            walk.directions.dynamics(child, piece.staff, piece.onset)
        elif tag in ("glissando", "slide") and child.get("type") == "start":
            piece.ornaments += ("glissando",)


def _ornaments(piece: Piece, element: etree._Element) -> None:
    for sign in element:
        tag = str(sign.tag)
        if tag == "tremolo":
            strokes = min(max(whole(sign.text, 3), 0), 8)
            kind = sign.get("type") or "single"
            if kind == "start" or kind == "stop":
                piece.tremolo_pair = "start" if kind == "start" else "stop"
                if piece.tuplet is not None and piece.tuplet[0] == 2 * piece.tuplet[1]:
                    piece.tuplet = None  # the sign for "each shows the time of both", no tuplet
            piece.tremolo = strokes
        elif tag == "wavy-line":
            if sign.get("type") == "start" and "trill-mark" not in piece.ornaments:
                piece.ornaments += ("wavy-line",)
        elif tag == "accidental-mark":
            piece.ornaments += (f"accidental-{(sign.text or '').strip()}",)
        elif tag != "other-ornament":
            piece.ornaments += (tag,)
        elif sign.text and sign.text.strip():
            piece.ornaments += (sign.text.strip(),)
