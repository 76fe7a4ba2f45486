"""Damaged files: whatever is done to a score, it is read or refused with one sentence; no other error, no hang."""

from __future__ import annotations

import random
import tempfile
import time
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from lxml import etree

from reduce.model.errors import InputError
from reduce.model.score import Score
from reduce.read import as_draft, load
from tests.read.markup import INSTRUMENTS, back, document, n, r, start, transpose, words

TIED = '<tie type="start"/>'
SLUR = '<notations><slur type="{}" number="1"/><tied type="start"/><articulations><accent/></articulations></notations>'
TRIPLET = "<time-modification><actual-notes>3</actual-notes><normal-notes>2</normal-notes></time-modification>"
FLUTE = [
    start(6, "3/4", 2) + words("Allegro", '<sound tempo="120"/>') + n("d5 6", TIED + SLUR.format("start")) + n("e5 12"),
    n("d5 2", TRIPLET) + n("e5 2", TRIPLET) + n("f#5 2", TRIPLET) + n("g5", head="<grace/>") + n("a5 12", SLUR.format("stop")),
    '<direction><direction-type><wedge type="crescendo"/></direction-type><offset>2</offset></direction>' + r("18")
    + '<barline location="right"><ending number="1" type="stop"/><repeat direction="backward"/></barline>',
]  # fmt: skip
HORN = [
    start(4, "3/4", None, transpose(-6, -10)) + n("c5 4", voice="1") + n("e5 4", chord=True) + n("d5 8") + back("12") + r("12", voice="2"),
    n("c5 12", "<notations><fermata/></notations>"),
    "<attributes><time><beats>2</beats><beat-type>4</beat-type></time></attributes>" + n("c5 8"),
]
PIANO = [
    start(2, "3/4", 2, "<staves>2</staves>") + n("a4 6", staff="1") + back("6") + n("d3 6", voice="5", staff="2"),
    n("a4 6", staff="1") + back("6") + n("d3 2", voice="5", staff="2") + n("a3 4", voice="5", staff="2"),
    '<direction><direction-type><pedal type="start"/></direction-type></direction>' + n("a4 6", staff="1"),
]
WHOLE = document(("Flauto", FLUTE), ("Horn in D", HORN), ("Triangle", [start() + r("3")] * 3), ("Piano", PIANO))
ODD = ("", "0", "-1", "1e999999", "99999999999999999999", "nan", "½", "x", "1.5", "²", "١", " 2 ", "\u2028")

trying = settings(
    max_examples=120, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large]
)


def attempt(content: bytes, name: str = "score.musicxml") -> Score | None:
    """The score, or None where it is refused in one sentence; checks what holds for every score that is read."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / name
        path.write_bytes(content)
        began = time.perf_counter()
        try:
            score = load(path, INSTRUMENTS)
        except InputError as refusal:
            assert str(refusal)
            assert "\n" not in str(refusal)
            return None
        finally:
            assert time.perf_counter() - began < 5
    as_draft(score)
    assert all(a.end == b.start for a, b in pairwise(score.bars))
    assert len({note.id for note in score.notes}) == len(score.notes)
    assert all(0 <= note.midi <= 127 and note.pitch.midi == note.midi for note in score.notes)
    assert all(note.duration > 0 or note.kind in ("grace", "cue") for note in score.notes)
    assert all(sum(note.written) == note.duration for note in score.notes)
    assert all(0 <= note.bar < len(score.bars) and score.bars[note.bar].start <= note.onset <= score.end for note in score.notes)
    assert [(note.onset, note.part, note.staff) for note in score.notes] == sorted((x.onset, x.part, x.staff) for x in score.notes)
    assert all(0 <= mark.onset <= mark.end for mark in score.marks)
    return score


def test_the_whole_score_is_sound() -> None:
    """The score before any damage: three bars, four parts, no doubt."""
    score = attempt(WHOLE.encode())
    assert score is not None
    assert (len(score.parts), len(score.bars)) == (4, 3)


@trying
@given(st.lists(st.tuples(st.integers(0, len(WHOLE.encode()) - 1), st.integers(0, 255)), min_size=1, max_size=6))
def test_changed_bytes(changes: list[tuple[int, int]]) -> None:
    """Some bytes are overwritten."""
    data = bytearray(WHOLE.encode())
    for place, value in changes:
        data[place] = value
    attempt(bytes(data))


@trying
@given(st.integers(0, len(WHOLE.encode())))
def test_cut_tail(length: int) -> None:
    """The file breaks off."""
    attempt(WHOLE.encode()[:length])


def shuffle(elements: list[etree._Element], chance: random.Random) -> None:
    """Put the children of some element in another order."""
    parent = chance.choice([e for e in elements if len(e) > 1])
    children = list(parent)
    chance.shuffle(children)
    parent[:] = children


def lose(elements: list[etree._Element], chance: random.Random) -> None:
    """Take an element away."""
    victim = chance.choice(elements[1:])
    parent = victim.getparent()
    assert parent is not None
    parent.remove(victim)


def double(elements: list[etree._Element], chance: random.Random) -> None:
    """Write an element twice, or somewhere else."""
    copy = etree.fromstring(etree.tostring(chance.choice(elements[1:])))
    chance.choice(elements).insert(0, copy)


def rename(elements: list[etree._Element], chance: random.Random) -> None:
    """Give an element the name of another."""
    chance.choice(elements).tag = chance.choice(elements).tag


def retell(elements: list[etree._Element], chance: random.Random) -> None:
    """Write nonsense into a text or an attribute."""
    element = chance.choice(elements)
    if element.attrib and chance.random() < 0.5:
        element.set(chance.choice(list(element.attrib)), chance.choice(ODD))
    elif not len(element):
        element.text = chance.choice(ODD)


@pytest.mark.parametrize("damage", [shuffle, lose, double, rename, retell])
@trying
@given(st.integers(0, 2**32), st.integers(1, 5))
def test_changed_elements(damage: Callable[[list[etree._Element], random.Random], None], seed: int, times: int) -> None:
    """Elements are put in another order, lost, doubled, renamed, filled with nonsense."""
    chance = random.Random(seed)
    root = etree.fromstring(WHOLE.encode())
    for _ in range(times):
        elements = [e for e in root.iter() if isinstance(e.tag, str)]
        if len(elements) > 2:
            damage(elements, chance)
    attempt(etree.tostring(root))


@trying
@given(st.binary(max_size=400), st.sampled_from(["s.musicxml", "s.mxl", "s.xml", "s"]))
def test_noise(content: bytes, name: str) -> None:
    """Bytes that are no score at all."""
    assert attempt(content, name) is None
