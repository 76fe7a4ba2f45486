"""Work grows in proportion to the music.  Counted in lines of our code that run, which no busy machine disturbs."""

from __future__ import annotations

import sys
from pathlib import Path
from types import FrameType
from typing import Any

import pytest

from tests.bench.bench_stages import ACTS
from tests.bench.generated import orchestra
from tests.bench.stages import Stages, forget


def lines_run(act: Any) -> int:
    """Lines of the package that run during ``act``, each as often as it does."""
    count = 0

    def inside(frame: FrameType, event: str, arg: object) -> Any:
        nonlocal count
        count += event == "line"
        return inside

    def entered(frame: FrameType, event: str, arg: object) -> Any:
        return inside if frame.f_globals.get("__name__", "").startswith("reduce.") else None

    forget()
    before = sys.gettrace()
    sys.settrace(entered)
    try:
        act()
    finally:
        sys.settrace(before)
    return count


@pytest.mark.parametrize("level", ("first-year", "advanced"))
def test_four_times_the_bars_are_not_more_than_five_times_the_work(level: str, tmp_path: Path) -> None:
    """Each stage, from 16 bars to 64: a stage that compares every bar with every other would need sixteen times as much."""
    made = []
    for bars in (16, 64):
        path = tmp_path / f"{bars}.musicxml"
        path.write_text(orchestra(bars), encoding="utf-8")
        made.append(Stages(path, level))
    grown = {act: lines_run(made[1].acts[act]) / lines_run(made[0].acts[act]) for act in ACTS if act != "bare parse"}
    assert {} == {act: times for act, times in grown.items() if times > 5}
