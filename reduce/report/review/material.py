"""What the review page is made from: the files of a draft folder as records, and the music as drawings."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Protocol

from reduce.model.draft import Draft
from reduce.model.score import Score

Row = Mapping[str, Any]


class Drawn(Protocol):
    """A line of music as SVG in units of ``view``; millimetres; indices of its bars, end exclusive.

    Groups of the class ``note`` carry ``data-n``: 'd' or 's' (draft, source) and the note's place in the ids of the material.
    """

    @property
    def body(self) -> str: ...
    @property
    def view(self) -> tuple[int, int]: ...
    @property
    def width(self) -> float: ...
    @property
    def height(self) -> float: ...
    @property
    def bars(self) -> tuple[int, int]: ...


@dataclass(frozen=True, kw_only=True)
class Material:
    """Everything the page shows.

    Attributes:
        facts: ``report.json``.
        decisions: the rows of ``decisions.jsonl``.
        fates: the rows of ``notes.jsonl``.
        draft: the draft as its file has it.
        source: the condensed source, the draft's bars only, from tick 0.
        draft_ids, source_ids: note ids by their place in the drawings.
        opening: the first line of the draft alone.
        lines: source above draft, line by line.
        glyphs: the signs the drawings use, SVG by code.
        space: units of the drawings between two staff lines.
        order: indices of the bars as they are played.
        figures: what the left hand may be asked to play at this level, by the name it has in a choice, in words.
        served: the page may write choices back, because 'reduce review --serve' shows it.
    """

    facts: Mapping[str, Any]
    decisions: tuple[Row, ...]
    fates: tuple[Row, ...]
    draft: Draft
    source: Score
    draft_ids: tuple[str, ...]
    source_ids: tuple[str, ...]
    opening: Drawn | None
    lines: tuple[Drawn, ...]
    glyphs: Mapping[str, str]
    space: float
    order: tuple[int, ...]
    figures: Mapping[str, str]
    served: bool = False
