"""What the review page is made from: the files of a draft folder as records, and the music as drawings."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Protocol

from reduce.model.draft import Draft
from reduce.model.record import dataclass
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
        decisions: the rows of ``decisions.jsonl`` that speak of the draft's bars.
        fates: the rows of ``notes.jsonl``.
        draft: the draft as its file has it.
        source: the condensed source, the draft's bars only, from tick 0.
        source_numbers: printed numbers of all bars of the source.
        first_bar: which of them is the draft's first.
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
    source_numbers: tuple[str, ...]
    first_bar: int
    draft_ids: tuple[str, ...]
    source_ids: tuple[str, ...]
    opening: Drawn | None
    lines: tuple[Drawn, ...]
    glyphs: Mapping[str, str]
    space: float
    order: tuple[int, ...]
    figures: Mapping[str, str]
    served: bool = False


def places(bars: Sequence[str], numbers: Sequence[str], first_bar: int, count: int) -> tuple[int, int] | None:
    """First and last of printed bars as places in a draft of ``count`` bars; None where it has none of them.

    A number that is printed twice means its first bar as a beginning and its last as an end.
    """
    if bars[0] not in numbers or bars[1] not in numbers:
        return None
    low = numbers.index(bars[0]) - first_bar
    high = len(numbers) - 1 - list(numbers)[::-1].index(bars[1]) - first_bar
    return (max(low, 0), min(high, count - 1)) if low < count and high >= 0 else None
