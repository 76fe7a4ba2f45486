"""What was heard in the whole piece, told for the bars that are played."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace

from reduce import pipeline
from reduce.arrange.told_inside import told_inside
from reduce.model.decision import Decision
from tests.arrange import lines

SAMPLE = Path(__file__).parents[2] / "samples" / "ferry-landing-waltz.musicxml"
PIECE = "meter 2/4\nkey C major\nOboe | c5:4 d5 | e5:4 f5 | g5:4 a5 | b5:4 c6 | c6:2 |\n"


def lead(name: str, notes: range, where: str) -> Decision:
    bars = (notes[0] // 2, notes[-1] // 2)
    ids = tuple(lines.score(PIECE).notes[place].id for place in notes)
    return Decision(id=name, kind="melody", bars=bars, sentence=f"{where}: the tune is in Oboe, as in bar 1.", source_notes=ids)


def test_a_reason_names_the_bars_of_the_draft_that_it_is_about() -> None:
    """Law: of bars 2 and 3 up to the rest in the middle of 3, reasons of notes before or after go, the others are told for what is left."""
    piece = lines.score(PIECE)
    heard = (lead("before", range(2), "Bar 1"), lead("across", range(1, 4), "Bars 1–2"), lead("all", range(9), "Bars 1–5"),
             lead("after", range(5, 9), "Bars 3–5"))  # fmt: skip
    rest = piece.bars[2].start + piece.bars[2].length // 2
    made = SimpleNamespace(draft=SimpleNamespace(first_bar=1, bars=piece.bars[1:3]), frame=SimpleNamespace(until=rest))
    found = told_inside(heard, piece, made)  # type: ignore[arg-type]
    assert [(told.id, told.bars, told.sentence) for told in found] == [
        ("across", (1, 1), "Bar 2: the tune is in Oboe, as in bar 1."),
        ("all", (1, 2), "Bars 2–3: the tune is in Oboe, as in bar 1."),
    ]
    made.draft = SimpleNamespace(first_bar=0, bars=piece.bars)
    assert told_inside(heard, piece, made) == heard  # type: ignore[arg-type]


def test_no_reason_of_the_tune_or_the_bass_leaves_the_draft() -> None:
    result = pipeline.draft(SAMPLE, level="intermediate", bars="5-10")
    numbers = [bar.number for bar in result.score.bars]
    told = [decision for decision in result.decisions if decision.kind in ("melody", "bass")]
    assert {decision.kind for decision in told} == {"melody", "bass"}
    for decision in told:
        first, last = decision.bars
        assert numbers.index("5") <= first <= last <= numbers.index("10")
        words = f"Bar {numbers[first]}:" if first == last else f"Bars {numbers[first]}–{numbers[last]}:"
        assert decision.sentence.startswith(words)
