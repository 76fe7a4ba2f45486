"""The table of speed for DEVELOPERS.md.

    python -m tests.bench.table [SCORE ...]

Without scores: generated movements of 100, 200, 500 and 1000 bars.  Times are processor
seconds, the fewest of three, so that a busy machine matters little.
"""

from __future__ import annotations

import gc
import sys
import tempfile
from pathlib import Path

from tests.bench.bench_stages import ACTS, LENGTHS
from tests.bench.generated import orchestra
from tests.bench.stages import Stages, by_music21, whole

HEAD = ("score", "bars", "parts", "notes", *ACTS, "whole", "times bare", "music21 parse + chordify", "times faster", "memory, MB")


def row(path: Path) -> list[str]:
    """The cells of one score."""
    gc.disable()
    stages = Stages(path)
    seconds = {act: stages.seconds(act) for act in ACTS}
    score = stages.score
    process, memory = whole(path)
    other = by_music21(path)
    figures = [*seconds.values(), process]
    return [
        path.stem, str(len(score.bars)), str(len(score.parts)), str(len(score.notes)), *(f"{figure:.2f}" for figure in figures),
        f"{process / seconds['bare parse']:.0f}", f"{other:.1f}", f"{other / process:.0f}", f"{memory:.0f}",
    ]  # fmt: skip


def main(names: list[str]) -> None:
    print("| " + " | ".join(HEAD) + " |")
    print("|" + "---|" * len(HEAD))
    with tempfile.TemporaryDirectory() as folder:
        paths = [Path(name) for name in names]
        for bars in () if paths else LENGTHS:
            path = Path(folder, f"{bars} bars.musicxml")
            path.write_text(orchestra(bars), encoding="utf-8")
            paths.append(path)
        for path in paths:
            print("| " + " | ".join(row(path)) + " |", flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
