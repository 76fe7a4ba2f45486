"""What the composer calls the tune is the tune of the draft.

Source: the line ``tune`` of each score text, written by the composer of the piece and unknown to the analysis.
"""

from __future__ import annotations

from pathlib import Path

import pytest

import reduce
from tests.samples.ear import FOLDER, TEXTS, Ear, compose, lines


@pytest.mark.parametrize("text", TEXTS, ids=lambda path: path.stem)
@pytest.mark.parametrize("level", ["late-beginner", "advanced"])
def test_the_draft_has_the_tune(text: Path, level: str) -> None:
    """At least nineteen in twenty notes of the tune sound at their moment in the bars that the draft keeps, nine in ten on top."""
    ear = Ear(compose.load(text))
    draft = reduce.draft(FOLDER / f"{text.stem}.musicxml", level=level, key="auto").draft
    struck: dict[int, list[int]] = {}
    for note in draft.notes:
        if not note.grace:
            struck.setdefault(note.onset * lines.QUARTER // draft.resolution, []).append(note.midi - draft.transposed)
    first = ear.score.first + draft.first_bar
    begin, end = ear.start(first), ear.start(first + len(draft.bars) - 1) + ear.score.bar_ticks
    tune = [
        (ear.place(s.start), max(s.heads) % 12, sorted(struck.get(s.start - begin, ())))
        for s in ear.tune_struck()
        if begin <= s.start < end
    ]
    lost = [place for place, head, keys in tune if head not in {key % 12 for key in keys}]
    under = [place for place, head, keys in tune if keys and keys[-1] % 12 != head]
    assert len(lost) <= 0.05 * len(tune), lost
    assert len(under) <= 0.1 * len(tune), under
