"""The tune without the ornamental notes that need a sign."""

from __future__ import annotations

from reduce.arrange.plain_notes import without_signed
from tests.arrange import lines

NEIGHBOUR = "meter 3/4\nkey A minor\nOboe | a4:4. b4:16 a4 g#4:8 a4 | b4:4 c5 c#5 | d5:2. |\n"
PASSING = "meter 3/4\nkey C major\nOboe | g4:4 g#4:8 a4 b4:4 | c5:2. |\n"


def _after(text: str, *places: int) -> tuple[list[tuple[float, float, str]], list[str]]:
    piece = lines.score(text)
    tones, decided = without_signed(lines.line(piece), piece.bars, places, piece.resolution)
    return lines.told(tones, piece.resolution), [item.sentence for item in decided]


def test_only_named_bars_lose_notes() -> None:
    """Law: where no bar is named nothing changes, and a bar whose signs are no ornaments comes through unchanged."""
    piece = lines.score(NEIGHBOUR)
    whole = lines.told(lines.line(piece), piece.resolution)
    assert (whole, []) == _after(NEIGHBOUR)
    assert (whole, []) == _after(NEIGHBOUR, 1)


def test_a_neighbour_gives_its_time_to_the_note_that_returns() -> None:
    """A-B-A-G sharp-A becomes A-B-A-A: the beat stays struck."""
    tones, said = _after(NEIGHBOUR, 0)
    assert [(0.0, 1.5, "A4"), (1.5, 0.25, "B4"), (1.75, 0.25, "A4"), (2.0, 1.0, "A4"), (3.0, 1.0, "B4")] == tones[:5]
    assert [
        "Bar 1: the tune goes without G♯, a note beside the tune's own that needs a sign, "
        "because the bar would have two things at the limit at once."
    ] == said


def test_a_passing_note_gives_its_time_to_the_note_before() -> None:
    tones, _ = _after(PASSING, 0)
    assert [(0.0, 1.5, "G4"), (1.5, 0.5, "A4"), (2.0, 1.0, "B4")] == tones[:3]
