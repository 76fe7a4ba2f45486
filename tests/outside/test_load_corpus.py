"""The order of well-known piano pieces, as a teacher would have it.

Pieces: music21's corpus.  Grades: teachers' lists agree (common practice) that Bach's first prelude is intermediate, the first movement of
Mozart K. 545 a little harder, Joplin's rag and Clara Schumann's polonaises op. 1 a stage beyond, C. P. E. Bach's quick minor-key
piece for an advanced hand.
"""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import pytest

from reduce import rulebook
from reduce.hands.check import check
from reduce.hands.grade import estimate_level
from reduce.hands.report import Estimate
from reduce.model.draft import Draft
from reduce.read import load
from reduce.read.piano import as_draft

RULES = rulebook.load("late-intermediate")
PIECES = {
    "prelude": "bach/bwv846.mxl",
    "sonata": "mozart/k545/movement1_exposition.mxl",
    "rag": "joplin/maple_leaf_rag.mxl",
    "polonaise": "schumann_clara/polonaise_op1n1.mxl",
    "advanced": "cpebach/h186.mxl",
}


@lru_cache
def piece(name: str) -> Draft:
    corpus = pytest.importorskip("music21.corpus")
    path = Path(corpus.__file__).parent / PIECES[name]
    if not path.exists():
        pytest.skip("this music21 has no such piece")
    draft = as_draft(load(path, RULES.instruments))
    assert draft is not None
    return draft


def estimate(name: str) -> Estimate:
    return estimate_level(piece(name), RULES)


@pytest.mark.parametrize(
    ("easier", "harder"),
    [
        ("prelude", "rag"),
        ("prelude", "polonaise"),
        ("sonata", "rag"),
        ("sonata", "polonaise"),
        ("rag", "advanced"),
        ("polonaise", "advanced"),
    ],
)
def test_order(easier: str, harder: str) -> None:
    assert estimate(easier).place < estimate(harder).place


@pytest.mark.parametrize(
    ("name", "levels"),
    [
        ("prelude", {"early-intermediate", "intermediate"}),
        ("sonata", {"intermediate", "late-intermediate"}),
        ("rag", {"late-intermediate", "advanced"}),
        ("polonaise", {"late-intermediate", "advanced"}),
        ("advanced", {"late-intermediate", "advanced"}),
    ],
)
def test_level(name: str, levels: set[str]) -> None:
    assert estimate(name).level in levels


def test_range_and_entropy_of_a_published_piece_are_in_the_published_order() -> None:
    """Source: Ramoneda et al. 2024: a hand's entropy of keys rises with the level; the easiest of these pieces has least."""
    variety = {name: {f[0]: f[1] for f in estimate(name).figures}["variety"] for name in PIECES}
    assert variety["sonata"] < variety["advanced"] and variety["prelude"] < variety["rag"]


def test_prelude_lies_under_an_octave_hand() -> None:
    """Common practice: Bach's first prelude has no struck chord until the last bar; a hand that spans an octave plays it all."""
    report = check(piece("prelude"), RULES.level, RULES, 165.0)
    assert report.playable and not [b for b in report.breaches if b.what in ("span", "crowd", "clash")]
