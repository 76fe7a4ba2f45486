"""The tune's notes on the strong beats alone."""

from __future__ import annotations

from reduce.arrange.rhythm_strong import strong_beats
from tests.arrange import lines

TEXT = "meter 4/4\nkey C major\nOboe | c5:4 d5 e5 f5 | g5:4 f5 e5 d5 | c5:1 |\n"


def _after(steps: dict[int, int]) -> list[tuple[float, float, str]]:
    piece = lines.score(TEXT)
    return lines.told(strong_beats(lines.line(piece), piece.bars, steps, piece.resolution), piece.resolution)


def test_only_named_bars_lose_notes() -> None:
    """Law: the bars not named come through unchanged; where nothing is named, nothing changes."""
    piece = lines.score(TEXT)
    whole = lines.told(lines.line(piece), piece.resolution)
    assert whole == _after({}) == _after({1: 1})
    assert whole[:4] == _after({1: 2})[:4]


def test_step_by_step() -> None:
    """Half bars first, then one note; the bar stays filled."""
    assert [(4.0, 2.0, "G5"), (6.0, 2.0, "E5")] == _after({1: 2})[4:6]
    assert [(4.0, 4.0, "G5"), (8.0, 4.0, "C5")] == _after({1: 3})[4:]
