"""Each stage and the whole, on generated movements of growing length and on corpus scores where they are found.

Not part of the test run; with the extra `bench` installed:

    python -m pytest tests/bench/bench_stages.py --benchmark-only --benchmark-columns=min,median,rounds

These are seconds by the clock: measure on an idle machine.
"""

from __future__ import annotations

import gc
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

from tests.bench.generated import orchestra
from tests.bench.stages import ROOT, Stages, forget, whole

LENGTHS = (100, 200, 500, 1000)
CORPUS = ROOT.parent / "shared" / "corpus" / "orchestra"
CHOSEN = ("Beethoven_Op.67_1", "Beethoven_Op.125_2", "Beach_Op.32_1")
SCORES = (*(f"{bars} bars" for bars in LENGTHS), *(name for name in CHOSEN if (CORPUS / f"{name}.mxl").exists()))
ACTS = ("bare parse", "read", "analyse", "fold", "check", "notate")


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("bench")


@pytest.fixture(autouse=True)
def quiet() -> Iterator[None]:
    """As in a run of the command: nothing is swept meanwhile."""
    gc.collect()
    gc.disable()
    yield
    gc.enable()


def place(score: str, folder: Path) -> Path:
    if not score.endswith(" bars"):
        return CORPUS / f"{score}.mxl"
    path = folder / f"{score}.musicxml"
    if not path.exists():
        path.write_text(orchestra(int(score.split()[0])), encoding="utf-8")
    return path


@cache
def stages(path: Path) -> Stages:
    return Stages(path)


@pytest.mark.parametrize("act", ACTS)
@pytest.mark.parametrize("score", SCORES)
def test_stage(score: str, act: str, folder: Path, benchmark) -> None:
    made = stages(place(score, folder))
    benchmark.group = act
    benchmark.pedantic(made.acts[act], setup=forget, rounds=3)


@pytest.mark.parametrize("score", SCORES)
def test_whole(score: str, folder: Path, benchmark) -> None:
    benchmark.group = "whole process"
    benchmark.pedantic(whole, args=(place(score, folder), 1), rounds=3)
