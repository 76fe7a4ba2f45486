"""Where the orchestra plays the same again, the draft is the same again."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable

import pytest

import reduce
from reduce.model.score import Bar
from tests.samples.ear import FOLDER, TEXTS

LEVELS = ("intermediate", "late-intermediate", "advanced")


def by_bar(notes: Iterable[tuple[int, int, int, str]], bars: tuple[Bar, ...]) -> list[frozenset[tuple[int, int, int, str]]]:
    """What is struck in each bar: place, length, key and who plays it, counted from the bar's own beginning."""
    starts = [bar.start for bar in bars]
    rows: list[set[tuple[int, int, int, str]]] = [set() for _ in bars]
    for onset, length, key, who in notes:
        place = bisect_right(starts, onset) - 1
        rows[place].add((onset - starts[place], length, key, who))
    return [frozenset(row) for row in rows]


@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize("text", TEXTS, ids=lambda path: path.stem)
def test_the_same_again_is_the_same_again(text: object, level: str) -> None:
    """Bars whose neighbours too are alike in the score (so that nothing else is held into them) are alike in the draft."""
    made = reduce.draft(FOLDER / f"{text.stem}.musicxml", level=level)  # type: ignore[attr-defined]
    source = by_bar(((n.onset, n.duration, n.midi, str(n.part)) for n in made.score.notes if n.duration), made.score.bars)
    played = by_bar(((n.onset, n.duration, n.midi, n.hand) for n in made.draft.notes if not n.grace), made.draft.bars)
    pairs = [
        (one, other)
        for other in range(1, len(source) - 1)
        for one in range(1, other)
        if source[one] and all(source[one + k] == source[other + k] for k in (-1, 0, 1))
    ]
    assert [(made.score.bars[a].number, made.score.bars[b].number) for a, b in pairs if played[a] != played[b]] == []
