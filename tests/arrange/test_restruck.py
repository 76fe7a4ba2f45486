"""One key that is left of two players in turn."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import reduce
from reduce import rulebook
from tests import tiny

SHIMMER = """
meter 2/4
tempo {quarters}
Oboe     | e4:2(mf) | d4:4 f4 | e4:2 | c4:4 d4 | e4:2 |
Violin 1 | e4:16 g3 e4 g3 e4 g3 e4 g3 | d4:16 g3 d4 g3 f4 g3 f4 g3 | e4:16 g3 e4 g3 e4 g3 e4 g3 | c4:16 g3 c4 g3 d4 g3 d4 g3 | e4:2 |
Violin 2 | g3:16 e4 g3 e4 g3 e4 g3 e4 | g3:16 d4 g3 d4 g3 f4 g3 f4 | g3:16 e4 g3 e4 g3 e4 g3 e4 | g3:16 c4 g3 c4 g3 d4 g3 d4 | g3:2 |
Cello    | c3:2 | b2:2 | c3:2 | g2:2 | c3:2 |
"""


def again(folder: Path, quarters: int, level: str) -> float:
    """The shortest time in seconds after which the left hand strikes the very same keys again; 99 where it never does within a beat."""
    path = folder / f"{quarters}.musicxml"
    path.write_bytes(tiny.musicxml(SHIMMER.format(quarters=quarters)))
    draft = reduce.draft(path, level=level).draft
    struck: dict[int, set[int]] = {}
    for note in draft.notes:
        if note.hand == "left":
            struck.setdefault(note.onset, set()).add(note.midi)
    onsets = sorted(struck)
    gaps = [b - a for a, b in pairwise(onsets) if struck[a] == struck[b]]
    return min(gaps, default=99 * draft.resolution) / draft.resolution * 60 / quarters


def test_no_keys_come_again_sooner_than_the_level_repeats_them(tmp_path: Path) -> None:
    """Two violins alternate in sixteenths (.15 s at quarter = 100); the hand that takes both repeats nothing within .18 s."""
    for level in ("late-intermediate", "advanced"):
        rules = rulebook.load(level)
        shortest = rules.numbers("voicing.pace.repeat")[rules.level.order - 1]
        assert again(tmp_path, 100, level) >= shortest
        assert again(tmp_path, 130, level) >= shortest
