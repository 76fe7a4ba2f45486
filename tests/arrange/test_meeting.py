"""The fifth comes with a note of the tune in the first year."""

from __future__ import annotations

from pathlib import Path

from reduce import pipeline
from reduce.hands.check import check
from tests import tiny

ROWING = """
meter 4/4
key C major
tempo 80
Violin 1 | c5:2. d5:4 | e5:2 d5 | c5:1 | e5:4 d5:2. | r:2 e5 | d5:4 c5 e5 d5 | c5:1 |
Viola    | <e4 g4>:2 <e4 g4> | <e4 g4> <e4 g4> | <e4 g4> <e4 g4> | <e4 g4> <e4 g4> | <e4 g4> <e4 g4> | <e4 g4> <e4 g4> | e4:1 |
Cello    | c3:1 | c3 | c3 | c3 | c3 | c3 | c3 |
"""


def _strokes(folder: Path, level: str, more: str = "") -> list[list[float]]:
    """For each bar the beats on which the left hand strikes."""
    path = folder / "rowing.musicxml"
    path.write_bytes(tiny.musicxml(ROWING))
    (folder / "rules").mkdir(exist_ok=True)
    (folder / "rules" / "accompaniment.toml").write_text(more, encoding="utf-8")
    made = pipeline.draft(path, level=level, key="keep", length="full", rules_dir=folder / "rules")
    assert [] == [load.number for load in check(made.draft, made.rules.level, made.rules).load if load.over_budget]
    quarter = made.draft.resolution
    return [
        sorted({(n.onset - bar.start) / quarter for n in made.draft.notes if n.hand == "left" and bar.start <= n.onset < bar.end})
        for bar in made.draft.bars
    ]


def test_hands_strike_together_or_take_turns(tmp_path: Path) -> None:
    """Law: under a held note the fifth waits for the next one; it stays on its beat where the tune strikes, rests, or holds to the end."""
    assert [[0, 3], [0, 2], [0, 2], [0, 1], [0, 2], [0, 2], [0]] == _strokes(tmp_path, "first-year")


def test_the_setting_gives_the_fifth_its_beat_back(tmp_path: Path) -> None:
    """Law: without it the figure is the same in every bar."""
    found = _strokes(tmp_path, "first-year", "[root-and-fifth.settings.with-the-tune-up-to-level]\nvalue = 0\n")
    assert [[0, 2]] * 6 == found[:6]
