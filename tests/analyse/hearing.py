"""Tiny scores, read and heard, for the tests of harmony, form and figures."""

from __future__ import annotations

import tempfile
from functools import lru_cache
from pathlib import Path

from reduce import rulebook
from reduce.analyse.harmony import harmony
from reduce.model.rules import Rules
from reduce.model.score import Score
from reduce.model.texture import Lead
from reduce.read import load
from tests import tiny


@lru_cache(maxsize=1)
def rules() -> Rules:
    return rulebook.load("advanced")


def score(text: str) -> Score:
    """The tiny score as the reader sees it."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "tiny.musicxml"
        path.write_bytes(tiny.musicxml(text))
        return load(path, rules().instruments)


def names(text: str) -> list[str]:
    """The chord names of a tiny score."""
    return [chord.name for chord in harmony(score(text), rules())[0]]


def numerals(text: str) -> list[str]:
    return [chord.roman for chord in harmony(score(text), rules())[0]]


def tune_of(heard: Score, part: int = 0) -> tuple[Lead, ...]:
    """A tune that one part plays throughout."""
    notes = [note.id for note in heard.notes if note.part == part and note.kind == "struck"]
    return (Lead(start=0, end=heard.end, stream=part, notes=tuple(notes)),)
