"""Verovio reads our files without a word.

Source: verovio (music engraving library, RISM Digital), which warns on its log of open ties, durations that do not fit,
impossible beams and lines without an end.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings

from reduce.model.draft import Draft
from reduce.notate import condensed, musicxml
from reduce.pipeline import draft as drafted
from tests.notate.scores import drafts, level

pytest.importorskip("verovio")
from reduce.engrave.verovio_layout import Engraver

SAMPLES = sorted((Path(__file__).parents[2] / "samples").glob("*.musicxml"))
CROWDED = ("Justification is highly compressed", "System full width", "Non-justifiable width", "Drawing justifiable width")


def warnings(data: bytes) -> list[str]:
    """What verovio says, bars that are wider than a page left aside: random bars may be."""
    engraver = Engraver(7.0, 400.0, {"breaks": "auto"})
    engraver.render(data)
    return [line for line in engraver.warnings if not any(word in line for word in CROWDED)]


def test_verovio_speaks_up() -> None:
    """The check can fail: a tie that is never closed is reported."""
    data = musicxml_of_an_open_tie()
    assert warnings(data)


def musicxml_of_an_open_tie() -> bytes:
    from tests.notate.scores import draft

    whole = musicxml(draft("meter 4/4\nright | c5:1~ | c5:1 |\nleft | c3:1 | c3:1 |"), level())
    return whole.replace(b'<tie type="stop"/>', b"").replace(b'<tied type="stop"/>', b"")


@settings(max_examples=40, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(draft=drafts())
def test_any_draft_is_engraved_without_warning(draft: Draft) -> None:
    """Random drafts: tuplets of any kind, two voices, changing metres."""
    assert [] == warnings(musicxml(draft, level()))


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.stem)
def test_samples_are_engraved_without_warning(path: Path) -> None:
    """Draft and condensed score of our samples."""
    for name in ("first-year", "advanced"):
        result = drafted(path, level=name)
        assert [] == warnings(musicxml(result.draft, result.rules.level, result.rules))
    assert [] == warnings(condensed(result.score, result.texture))
