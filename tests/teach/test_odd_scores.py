"""The pack of pieces that have little in them."""

from __future__ import annotations

from pathlib import Path

import pytest

from reduce import packing
from tests.read.markup import document, n, r, start
from tests.safety.families import STROKE
from tests.teach.material import WISHES, draft_folder

CUE = "<cue/>"
ODD = {
    "low.musicxml": document(("Tuba", [start() + n("c2 4"), n("g1 2") + n("c2 2")])),  # nothing for the right hand
    "cues.musicxml": document(("Oboe", [start() + n("c5 4"), n("e5 2", head=CUE) + n("f5 2", head=CUE), n("d5 4")])),
    "one-pitch.musicxml": document(("Part 1", [start() + n("a4 1") * 4] * 3)),
    "drums.musicxml": document(("Oboe", [start() + n("c5 4"), r("4")]), ("Snare Drum", [start() + STROKE.format(1) * 4] * 2)),
}


@pytest.mark.parametrize("level", ["first-year", "advanced"])
@pytest.mark.parametrize("name", sorted(ODD))
def test_whatever_was_drafted_can_be_taught(name: str, level: str, tmp_path: Path) -> None:
    """Law: a draft that has notes has a pack, however little there is to say of it."""
    (tmp_path / name).write_text(ODD[name], encoding="utf-8")
    made = packing.pack(draft_folder(tmp_path / "draft", tmp_path / name, level), WISHES)
    assert {"all.pdf", "pupil.pdf", "teacher.pdf"} <= set(made)
