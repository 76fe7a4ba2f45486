"""Phrase ends against the fermatas of chorales.

Source: the Bach chorales in the corpus of music21, where every line of the hymn ends on a fermata (common practice).  The fermatas are
taken away before the phrases are sought.  Four weights of ``rules/form.toml`` were set on eight other chorales.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest

from reduce.analyse.harmony import harmony
from reduce.analyse.parallels import parallels
from reduce.analyse.phrases import phrases
from reduce.read import load
from tests.analyse.hearing import rules, tune_of

music21 = pytest.importorskip("music21")
CHORALES = Path(music21.__file__).parent / "corpus" / "bach"


def test_fermatas() -> None:
    """Of the ends found at least 75 % are the hymn's, and at least 60 % of the hymn's are found."""
    right = found = due = 0
    for name in ("bwv347", "bwv281", "bwv40.8", "bwv65.2", "bwv277", "bwv318", "bwv302", "bwv153.1"):
        whole = load(CHORALES / f"{name}.mxl", rules().instruments)
        tune = [note for note in whole.notes if note.part == 0 and note.kind == "struck"]
        ends = {after.onset for note, after in pairwise(tune) if note.fermata}
        bare = replace(whole, notes=tuple(replace(n, fermata=False) for n in whole.notes), marks=())
        chords, keys = harmony(bare, rules())
        starts = {each.start for each in phrases(bare, tune_of(bare), chords, keys, rules(), parallels(bare, rules()))[1:]}
        right, found, due = right + len(ends & starts), found + len(starts), due + len(ends)
    assert right / found >= 0.75
    assert right / due >= 0.60
