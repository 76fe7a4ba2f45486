"""Tiny piano sheets written as text.

A hand is a line of tokens ``C4:1`` (pitch and length in quarters), ``C4+E4:1/2`` (together), ``r:1`` (rest); ``|`` is only for the eye.
Signs after the length: ``'`` staccato, ``~`` rolled.
"""

from __future__ import annotations

import re
from fractions import Fraction

from reduce.model.draft import Draft, DraftMark, DraftNote, Hand
from reduce.model.pitch import Pitch, spelled
from reduce.model.score import Bar, Key, Meter, Tempo

QUARTER = 48
_ALTER = {"": 0, "#": 1, "b": -1}


def pitch(text: str) -> Pitch:
    found = re.fullmatch(r"([A-G])([#b]?)(\d)", text)
    assert found is not None, text
    return spelled(found[1], _ALTER[found[2]], int(found[3]))


def line(text: str, hand: Hand, strand: int = 1, mark: str = "") -> list[DraftNote]:
    notes: list[DraftNote] = []
    onset = Fraction(0)
    for token in text.replace("|", " ").split():
        keys, rest = token.split(":")
        length = Fraction(rest.rstrip("'~"))
        if keys != "r":
            for key in keys.split("+"):
                p = pitch(key)
                notes.append(
                    DraftNote(
                        id=f"{hand[0]}{mark}{len(notes)}",
                        hand=hand,
                        strand=1 if strand == 1 else 2,
                        onset=int(onset * QUARTER),
                        duration=int(length * QUARTER),
                        pitch=p,
                        midi=p.midi,
                        articulations=("staccato",) if "'" in rest else (),
                        arpeggio="~" in rest,
                    )
                )
        onset += length
    return notes


def sheet(
    right: str = "",
    left: str = "",
    *,
    inner: str = "",
    beats: int = 4,
    unit: int = 4,
    fifths: int = 0,
    mode: str = "major",
    quarters: float | None = 96.0,
    level: str = "",
    marks: tuple[DraftMark, ...] = (),
) -> Draft:
    """A sheet for two hands; ``inner`` is a second voice of the right hand."""
    notes = [*line(right, "right"), *line(left, "left"), *line(inner, "right", 2, "i")]
    length = beats * 4 * QUARTER // unit
    end = max((n.end for n in notes), default=0)
    count = max(1, -(-end // length))
    bars = tuple(
        Bar(index=i, number=str(i + 1), start=i * length, length=length, meter=Meter((beats,), unit), key=Key(fifths, mode))
        for i in range(count)
    )
    tempos = (Tempo(onset=0, quarters=quarters),) if quarters else ()
    return Draft(resolution=QUARTER, bars=bars, notes=tuple(notes), tempos=tempos, marks=marks, level=level)
