"""The only door in: score files into the records of ``reduce.model``."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from reduce.model.errors import InputError
from reduce.model.record import replace
from reduce.model.rules import Instrument
from reduce.model.score import Score
from reduce.read.findings import Findings
from reduce.read.foreign import as_musicxml
from reduce.read.foreign import format_of as foreign_format
from reduce.read.movements import choose_movement
from reduce.read.musicxml import read_musicxml
from reduce.read.opening import open_score, parse_markup
from reduce.read.piano import as_draft

__all__ = ["as_draft", "load"]


def load(
    path: str | Path, instruments: Mapping[str, Instrument], *, movement: int | None = None, sounds: Mapping[str, str] | None = None
) -> Score:
    """Read a score as it sounds.

    Args:
        path: a MusicXML file (1.1 to 4.0, partwise or timewise, plain or .mxl), or a MIDI, kern, ABC, MEI, MuseData or Noteworthy text
            file, which music21 reads.
        instruments: the rows of ``rules/instruments.toml`` by key.
        sounds: answers to doubts about transposition: part name to a key of ``instruments`` ('horn-in-eb') or 'as-written'.
        movement: which movement to take, from 1, where the file holds several; None for all of it.

    Returns:
        The score; what was doubtful or lost stands in its ``problems``.

    Raises:
        InputError: with one sentence, where the file cannot be read.
        UsageError: where there is no such movement, or an answer names an unknown part or instrument.
    """
    opened = open_score(Path(path))
    findings = Findings()
    for remark in opened.remarks:
        findings.add("note", "archive", remark)
    root = parse_markup(opened) if opened.markup else None
    foreign = foreign_format(opened)
    if foreign is not None:
        root, format_name, within = as_musicxml(opened, foreign, movement, findings), foreign.name, None
    elif root is not None:
        format_name, within = "MusicXML", movement
    else:
        raise InputError(f"{opened.name!r} is not in a score format that can be read; export it as MusicXML.")
    score = choose_movement(
        read_musicxml(root, instruments, findings, name=repr(opened.name), sounds=foreign is not None and foreign.sounds, answers=sounds),
        within,
        findings,
    )
    return replace(score, file_name=opened.name, file_hash=opened.digest, file_format=format_name, problems=findings.problems())
