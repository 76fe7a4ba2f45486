"""The figure of a section is one that its bars can bear."""

from __future__ import annotations

from pathlib import Path

from reduce import pipeline
from reduce.arrange.figures_sections import sections
from reduce.hands.check import check
from reduce.model.score import Meter
from tests import tiny
from tests.arrange import lines
from tests.arrange.test_figures import bars, figure

RUNNING = """
meter 3/4
key C major
tempo 60
Violin 1 | e5:4 d5 c5 | e5:8 d5 e5 f5 e5 d5 | c5 d5 e5 f5 e5 d5 | d5 c5 d5 e5 d5 c5 | c5 d5 e5 d5 e5 d5 | d5 e5 d5 c5 d5 e5 | c5:2. |
Viola    | g4:8 e4 c4 e4 g4 e4 | g4 e4 c4 e4 g4 e4 | g4 d4 b3 d4 g4 d4 | g4 d4 b3 d4 g4 d4 | g4 e4 c4 e4 g4 e4 | g4 d4 b3 d4 g4 d4 | e4:2. |
Cello    | c3:2.               | c3                | g2                | g2                | c3                | g2                | c3    |
"""


def test_a_figure_that_half_of_the_bars_would_leave_is_not_taken(tmp_path: Path) -> None:
    """Law: in the first year a tune in eighths lies over held notes all through, no bar leaves them, and the log says what was refused."""
    path = tmp_path / "running.musicxml"
    path.write_bytes(tiny.musicxml(RUNNING))
    made = pipeline.draft(path, level="first-year", key="auto", length="full")
    assert [] == [load.number for load in check(made.draft, made.rules.level, made.rules).load if load.over_budget]
    assert [] == [d.sentence for d in made.decisions if d.rule == "easing.bar" and d.kind == "figure"]
    (told,) = [d for d in made.decisions if d.kind == "figure"]
    assert "held bass notes" in told.sentence
    assert "too much at the limit" in told.sentence


def test_a_single_bar_does_not_decide_for_its_section() -> None:
    """Law: one bar of eight that cannot bear a figure leaves the section its figure; where none of them can, another is taken."""
    places = bars(8, Meter((3,), 4))
    rules = lines.rules("first-year")
    heard = [figure(places, "broken-chord")]
    for unfit, chosen in ((frozenset({3}), "root-and-fifth"), (frozenset(range(8)), "held-root")):
        found = sections(heard, places, rules, quarters=60, unfit={"root-and-fifth": unfit, "held-root": frozenset()})
        assert [chosen] == [part.figure for part in found]
    assert found[0].refused[0].why.startswith("8 of 8 bars")
