"""Damaged files through the whole pipeline, at every level: a draft that keeps the laws, or one sentence; no other error, no hang."""

from __future__ import annotations

import random
import tempfile
import time
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from lxml import etree

from reduce import pipeline
from reduce.model.errors import InputError
from reduce.read import as_draft, load
from tests.laws.test_laws import LEVELS, moments
from tests.read.test_mutations import WHOLE, double, lose, rename, retell, shuffle

trying = settings(
    max_examples=8,
    deadline=None,
    derandomize=True,
    phases=(Phase.explicit, Phase.generate),
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
SECONDS = 20  # of the processor: no score of three bars may take longer, on any machine


def drafted(content: bytes, level: str) -> bool:
    """Whether the content gives a draft; where it does, the laws hold and every written form can be made."""
    with tempfile.TemporaryDirectory() as name:
        path = Path(name, "score.musicxml")
        path.write_bytes(content)
        began = time.process_time()
        try:
            result = pipeline.draft(path, level=level, length="full")
        except InputError as refusal:
            assert "\n" not in str(refusal)
            return False
        written = Path(name, "draft.musicxml")
        written.write_bytes(result.musicxml)
        assert result.condensed and result.midi
        again = as_draft(load(written, result.rules.instruments))
        assert time.process_time() - began < SECONDS
    draft, limits = result.draft, result.rules.level
    assert again is not None
    assert [bar.number for bar in draft.bars] == [bar.number for bar in again.bars]
    assert sorted(fate.note for fate in result.fates) == sorted(note.id for note in result.score.notes)
    decisions = {decision.id for decision in result.decisions}
    assert all(note.sources or note.decision in decisions for note in draft.notes)
    assert all(first.end == second.start for first, second in pairwise(draft.bars))
    for _, down, _ in moments(draft):
        for hand, span, most in (("right", limits.span_right, limits.notes_right), ("left", limits.span_left, limits.notes_left)):
            keys = {note.midi for note in down[hand]}
            assert not keys or (max(keys) - min(keys) <= span and len(keys) <= most)
    return True


@pytest.mark.parametrize("level", LEVELS)
def test_the_whole_score_is_drafted(level: str) -> None:
    """Before any damage."""
    assert drafted(WHOLE.encode(), level)


@pytest.mark.parametrize("level", LEVELS)
@trying
@given(st.lists(st.tuples(st.integers(0, len(WHOLE.encode()) - 1), st.integers(0, 7)), min_size=1, max_size=8))
def test_flipped_bits(level: str, flips: list[tuple[int, int]]) -> None:
    """Some bits are turned over."""
    data = bytearray(WHOLE.encode())
    for place, bit in flips:
        data[place] ^= 1 << bit
    drafted(bytes(data), level)


@pytest.mark.parametrize("level", LEVELS)
@trying
@given(st.integers(200, len(WHOLE) - 1), st.booleans())
def test_cut_tails(level: str, length: int, mended: bool) -> None:
    """The file breaks off; or a program closes what was left open, so that parts end early."""
    text = WHOLE[:length].encode()
    if mended:
        text = etree.tostring(etree.fromstring(text, etree.XMLParser(recover=True)))
    drafted(text, level)


@pytest.mark.parametrize("level", LEVELS)
@trying
@given(st.integers(0, 2**32), st.integers(1, 6))
def test_changed_elements(level: str, seed: int, times: int) -> None:
    """Elements are shuffled, lost, doubled, swapped in name, filled with nonsense."""
    chance = random.Random(seed)
    root = etree.fromstring(WHOLE.encode())
    for _ in range(times):
        elements = [element for element in root.iter() if isinstance(element.tag, str)]
        if len(elements) > 2:
            chance.choice((shuffle, lose, double, rename, retell))(elements, chance)
    drafted(etree.tostring(root), level)


@pytest.mark.parametrize("name", ("²", "١", "x" * 50, "9" * 5000, "-1"))
def test_voices_and_bars_by_any_name(name: str) -> None:
    """A voice, or a bar, may be called by what only looks like a number."""
    assert drafted(WHOLE.replace("<voice>5<", f"<voice>{name}<").replace("<voice>2<", f"<voice>{name}<").encode(), "advanced")
    assert drafted(WHOLE.replace('number="2"', f'number="{name}"').encode(), "first-year")
