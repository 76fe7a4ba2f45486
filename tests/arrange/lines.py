"""Tiny scores as records, for the planning acts."""

from __future__ import annotations

import tempfile
from functools import cache
from pathlib import Path

from reduce import read, rulebook
from reduce.arrange.line import Tone, line_of
from reduce.model.rules import Rules
from reduce.model.score import Score
from reduce.model.texture import Lead, Phrase, Stream, Texture
from tests import tiny

RESTATED = """
meter 2/4
key C major
Oboe  | c5:4 e5 | g5:2 | d5:4 f#5 | c5:4 e5 |
Viola | e3:2    | b3:2 | f#3:2    | e3:2    |
Cello | c3:2    | g2:2 | d3:2     | c3:2    |
"""  # bar 3 is bar 1 a step higher, bar 4 is bar 1


@cache
def rules(level: str) -> Rules:
    return rulebook.load(level)


def score(text: str) -> Score:
    """The tiny score as the reader gives it."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "tiny.musicxml"
        path.write_bytes(tiny.musicxml(text))
        return read.load(path, rules("advanced").instruments)


def line(piece: Score, part: int = 0) -> tuple[Tone, ...]:
    """The notes of one part as a line."""
    return line_of([note.id for note in piece.notes if note.part == part], piece.note_by_id)


def texture(piece: Score, part: int = 0, phrases: tuple[tuple[int, int], ...] = ()) -> Texture:
    """One part has the tune from beginning to end; phrases from bar to bar, last included (0-based)."""
    streams = tuple(Stream(id=p.index, part=p.index, staff=1, voice="1", name=p.name) for p in piece.parts)
    notes = tuple(note.id for note in piece.notes if note.part == part)
    return Texture(
        streams=streams,
        stream_of={note.id: note.part for note in piece.notes},
        tune=(Lead(start=0, end=piece.end, stream=part, notes=notes),),
        phrases=tuple(Phrase(start=piece.bars[a].start, end=piece.bars[b].end) for a, b in phrases),
    )


def told(tones: tuple[Tone, ...], resolution: int) -> list[tuple[float, float, str]]:
    """(onset, length, name) in quarter-notes."""
    return [(tone.onset / resolution, tone.duration / resolution, str(tone.pitch)) for tone in tones]
