"""The rhythm of a line cut into cells: stretches from one beat that is struck to the next.

A cell depends on nothing outside it, so equal cells at equal places of the bar can be written alike throughout a piece.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Literal

from reduce.arrange.line import Tone
from reduce.model.record import dataclass
from reduce.model.score import Bar, Meter

PieceKind = Literal["tone", "held", "rest"]


@dataclass(frozen=True, slots=True)
class Piece:
    """What sounds, or is silent, in a bar: a tone struck there, one held over the bar line, or a rest; places in the full bar."""

    start: int
    end: int
    kind: PieceKind


@dataclass(frozen=True, slots=True)
class Shape:
    """The rhythm of a cell with its place in the bar: equal shapes are written alike.  ``calm``: without short values."""

    meter: Meter
    start: int
    end: int
    pieces: tuple[Piece, ...]
    calm: bool = False


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell in the piece: ``origin`` is the tick of place 0 of its bar, ``tones`` the index of each piece's tone (-1 = rest)."""

    bar: int
    origin: int
    shape: Shape
    tones: tuple[int, ...]


def pieces_of(tones: Sequence[Tone], bars: Sequence[Bar], resolution: int) -> list[tuple[Bar, int, list[Piece], list[int]]]:
    """For each bar its origin tick, its pieces in order and the tone of each; rests fill the gaps."""
    out = []
    at = 0
    for bar in bars:
        full = bar.meter.ticks(resolution)
        origin = bar.end - full if bar.pickup and bar.length < full else bar.start
        pieces: list[Piece] = []
        owners: list[int] = []
        time = bar.start
        while at < len(tones) and tones[at].end <= bar.start:
            at += 1
        index = at
        while index < len(tones) and tones[index].onset < bar.end:
            tone = tones[index]
            start, end = max(tone.onset, bar.start), min(tone.end, bar.end)
            if start > time:
                pieces.append(Piece(time - origin, start - origin, "rest"))
                owners.append(-1)
            pieces.append(Piece(start - origin, end - origin, "tone" if tone.onset >= bar.start else "held"))
            owners.append(index)
            time = end
            index += 1
        if time < bar.end:
            pieces.append(Piece(time - origin, bar.end - origin, "rest"))
            owners.append(-1)
        out.append((bar, origin, pieces, owners))
    return out


def cells_of(tones: Sequence[Tone], bars: Sequence[Bar], resolution: int, calm: Collection[int] = ()) -> tuple[Cell, ...]:
    """The cells of a line, in order, those of the bars (indices) of ``calm`` as calm ones; bars of silence give one cell of one rest."""
    cells: list[Cell] = []
    for bar, origin, pieces, owners in pieces_of(tones, bars, resolution):
        beat = bar.meter.beat_ticks(resolution)
        first = 0
        for index in range(1, len(pieces) + 1):
            if index == len(pieces) or pieces[index].start % beat == 0:
                group = tuple(pieces[first:index])
                shape = Shape(bar.meter, group[0].start, group[-1].end, group, bar.index in calm)
                cells.append(Cell(bar.index, origin, shape, tuple(owners[first:index])))
                first = index
    return tuple(cells)


def bar_rhythms(tones: Sequence[Tone], bars: Sequence[Bar], resolution: int) -> list[tuple[Bar, tuple[int, ...]]]:
    """Each bar's rhythm as lengths in ticks, rests negative: what a listener would clap."""
    return [
        (bar, tuple((piece.end - piece.start) * (-1 if piece.kind == "rest" else 1) for piece in pieces))
        for bar, _, pieces, _ in pieces_of(tones, bars, resolution)
    ]
