"""Notes that are not printed: music where nothing else stands in the bar, a playback aid elsewhere."""

from __future__ import annotations

from collections.abc import Sequence

from reduce.read.findings import Findings
from reduce.read.pieces import Piece


def let_sound(pieces: Sequence[Piece], part: str, findings: Findings) -> None:
    """Hidden notes become struck ones in bars where the part prints no note of its own.

    Scores that say "as the first violin" carry the copied notes unprinted; an unprinted note beside printed ones only tells
    a program how to play them (common practice of exports).
    """
    hidden = {piece.bar for piece in pieces if piece.kind == "hidden"}
    printed = {piece.bar for piece in pieces if piece.kind != "hidden"}
    bars = hidden - printed
    if not bars:
        return
    for piece in pieces:
        if piece.kind == "hidden" and piece.bar in bars:
            piece.kind = "struck"
    findings.add("note", "unprinted", f"The part prints nothing in {len(bars)} bars but carries notes there; they sound.", part)
