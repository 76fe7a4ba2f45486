"""A folder to run commands in."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests import tiny

TUNE = """
meter 3/4
key G major
Violin 1 | d5:2.      | g5:4 f#5 e5 | d5:2. | g5     |
Cello    | g2:4 d3 b2 | c3:2.       | d3    | g2     |
"""


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty folder to run in, with one good score."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "tune.musicxml").write_bytes(tiny.musicxml(TUNE, "Tune"))
    return tmp_path
