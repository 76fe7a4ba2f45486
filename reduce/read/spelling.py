"""Names of sounding pitches: players of transposing instruments often read the enharmonic key, and the other parts say which is meant."""

from __future__ import annotations

from collections.abc import Sequence

from reduce.model.pitch import respell
from reduce.model.score import Bar
from reduce.read.pieces import Piece

_FLATWARD, _SHARPWARD = -6, 10  # from the tonic-major on the line of fifths: lowered second of minor, raised sixth (common practice)


def agree(parts: Sequence[Sequence[Piece]], transposing: Sequence[bool], bars: Sequence[Bar]) -> None:
    """Call the notes of transposing parts as the others call the same key in that bar; far from the bar's key, by its nearer name.

    A horn in B that reads E under five flats sounds D♯: E♭ for everybody else.  ``parts``: the pieces of each, in any order.
    """
    if not any(transposing):
        return
    names: dict[tuple[int, int], int | None] = {}  # bar and pitch class to the place on the line of fifths; None where two are in use
    for pieces, moved in zip(parts, transposing, strict=True):
        if not moved:
            for piece in pieces:
                at, place = (piece.bar, piece.midi % 12), piece.pitch.fifths
                if names.setdefault(at, place) != place:
                    names[at] = None
    for pieces, moved in zip(parts, transposing, strict=True):
        if moved:
            for piece in pieces:
                place, key = piece.pitch.fifths, bars[piece.bar].key.fifths
                meant = names.get((piece.bar, piece.midi % 12))
                if meant is None:
                    meant = place + 12 * ((place - key < _FLATWARD) - (place - key > _SHARPWARD))
                if meant != place:
                    piece.pitch = respell(piece.pitch, (meant - place) // 12)
