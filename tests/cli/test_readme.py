"""The README's worked example does what the README says."""

from __future__ import annotations

import re
from pathlib import Path

import reduce

ROOT = Path(__file__).parents[2]
SAMPLE = ROOT / "samples" / "ferry-landing-waltz.musicxml"


def left_hand(result: reduce.Result) -> dict[str, list[int]]:
    """The keys of the left hand by printed bar, in the order struck."""
    draft = result.draft
    return {
        bar.number: [note.midi for note in draft.notes if note.hand == "left" and bar.start <= note.onset < bar.end] for bar in draft.bars
    }


def test_the_small_hand_of_the_readme(tmp_path: Path) -> None:
    """Bar 11: C4 over D3 gives way to A3; nothing else has changed but this chord in its other bars; the log names the reach."""
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    rules = re.search(r"```toml\n# small-hands/(levels/intermediate.toml)\n(.*?)```", text, re.S)
    assert rules
    (tmp_path / "levels").mkdir()
    (tmp_path / rules.group(1)).write_text(rules.group(2), encoding="utf-8")
    usual = reduce.draft(SAMPLE, level="intermediate")
    small = reduce.draft(SAMPLE, level="intermediate", rules_dir=tmp_path)
    before, after = left_hand(usual), left_hand(small)
    assert (set(before["11"]), set(after["11"])) == ({50, 54, 60}, {50, 54, 57})
    assert [bar for bar in before if before[bar] != after[bar] and set(after[bar]) != {50, 54, 57}] == []
    assert any("a reach of 9 semitones" in decision.sentence for decision in small.decisions)
