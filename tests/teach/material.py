"""Lessons to test with: tiny scores drafted in memory, the samples drafted into a folder once."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from tempfile import mkdtemp

import reduce
from reduce import drafting, packing
from reduce.teach import Lesson
from tests import tiny

SAMPLES = Path(__file__).parents[2] / "samples"
WALTZ, FERRY = SAMPLES / "ferry-landing-waltz.musicxml", SAMPLES / "the-last-ferry.musicxml"
WISHES = packing.Wishes()


@cache
def sample(path: Path, level: str) -> Lesson:
    """The lesson of a sample's draft, without its log."""
    result = reduce.draft(path, level=level, key="auto")
    return packing.lesson_of(result.draft, result.rules, WISHES)


def lesson(text: str, folder: Path, level: str = "intermediate", wishes: packing.Wishes = WISHES) -> Lesson:
    """The lesson of a tiny score's draft."""
    source = folder / "tiny.musicxml"
    source.write_bytes(tiny.musicxml(text, "Tiny"))
    result = reduce.draft(source, level=level, length="full")
    return packing.lesson_of(result.draft, result.rules, wishes)


def draft_folder(target: Path, score: Path = WALTZ, level: str = "late-beginner", **wishes: object) -> Path:
    """A draft folder as the command writes it, without page and sheet."""
    drafting.draft_into(target, score, drafting.Wishes(level=level, reviewed=False, **wishes), lambda _: None)  # type: ignore[arg-type]
    return target


@cache
def packed(score: Path, level: str, paper: str = "a4", language: str = "en") -> dict[str, bytes]:
    """The files of a sample's pack."""
    folder = draft_folder(Path(mkdtemp()) / "draft", score, level)
    return packing.pack(folder, packing.Wishes(paper=paper, language=language))
