"""Laws 6 and 7: our own output, read again, is the same draft, and a playable piano piece comes through `advanced` unchanged."""

from __future__ import annotations

from pathlib import Path

import pytest

import reduce.read
from reduce import pipeline
from reduce.hands.check import check
from reduce.model.draft import Draft

SAMPLE = Path(__file__).parents[2] / "samples" / "ferry-landing-waltz.musicxml"


def skeleton(draft: Draft) -> list[tuple[object, ...]]:
    """What a player reads: hand, when, how long (in quarters), which key, graces."""
    unit = draft.resolution
    return sorted((n.hand, n.onset / unit, n.duration / unit, n.midi, str(n.pitch), n.grace) for n in draft.notes)


@pytest.mark.parametrize("level", ("first-year", "early-intermediate", "late-intermediate", "advanced"))
def test_law_6_reading_our_own_output_gives_the_same_draft(level: str, tmp_path: Path) -> None:
    """Bars, keys, notes, hands, spelling and lengths survive writing and reading, and so does what the check says of each bar."""
    result = pipeline.draft(SAMPLE, level=level)
    written = tmp_path / "draft.musicxml"
    written.write_bytes(result.musicxml)
    score = reduce.read.load(written, result.rules.instruments)
    again = reduce.read.as_draft(score)
    assert again is not None
    assert skeleton(again) == skeleton(result.draft)
    assert [(b.number, b.key) for b in again.bars] == [(b.number, b.key) for b in result.draft.bars]
    checked = [check(draft, result.rules.level, result.rules).load for draft in (again, result.draft)]
    assert checked[0] == checked[1]
    assert not [p for p in score.problems if p.severity == "fault"]


def test_law_7_a_playable_piano_piece_is_left_alone(tmp_path: Path) -> None:
    """A late-intermediate draft, taken as a score at `advanced`, comes out note for note, and says so."""
    first = pipeline.draft(SAMPLE, level="late-intermediate")
    source = tmp_path / "piano.musicxml"
    source.write_bytes(first.musicxml)
    second = pipeline.draft(source, level="advanced")
    assert skeleton(second.draft) == skeleton(first.draft)
    assert [d.id for d in second.decisions if d.weight == "big"][:1] == ["as-it-is"]
    assert {f.kind for f in second.fates} == {"kept"}
