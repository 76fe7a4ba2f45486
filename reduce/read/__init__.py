"""The only door in: score files into the records of ``reduce.model``."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from reduce.model.errors import InputError
from reduce.model.rules import Instrument
from reduce.model.score import Score
from reduce.read.findings import Findings
from reduce.read.musicxml import read_musicxml
from reduce.read.opening import open_score, parse_markup
from reduce.read.piano import as_draft

__all__ = ["as_draft", "load"]


def load(path: str | Path, instruments: Mapping[str, Instrument], *, movement: int | None = None) -> Score:
    """Read a score as it sounds.

    ``path`` names a MusicXML file (1.1 to 4.0, plain or .mxl).  ``instruments`` are the rows of ``rules/instruments.toml``.
    Returns the score with what was doubtful in ``problems``.  Raises InputError, with one sentence, where it cannot be read.
    """
    opened = open_score(Path(path))
    findings = Findings()
    for remark in opened.remarks:
        findings.add("note", "archive", remark)
    if not opened.markup:
        raise InputError(f"{opened.name!r} is not a score format this program reads.")
    score = read_musicxml(parse_markup(opened), instruments, findings)
    return replace(score, file_name=opened.name, file_hash=opened.digest, file_format="MusicXML", problems=findings.problems())
