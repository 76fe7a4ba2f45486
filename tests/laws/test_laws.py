"""The laws that hold for any score, tried on random small ones at every level."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import fields
from itertools import pairwise

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from lxml import etree

from reduce import analyse, rulebook
from reduce.arrange import Arrangement, Request, arrange, foremost
from reduce.model.draft import Draft
from reduce.model.score import Score
from reduce.notate import musicxml
from tests.laws.scores import scores

LEVELS = ("first-year", "late-beginner", "early-intermediate", "intermediate", "late-intermediate", "advanced")
RULES = {name: rulebook.load(name) for name in LEVELS}
laws = settings(
    max_examples=25,
    deadline=None,
    derandomize=True,
    phases=(Phase.explicit, Phase.generate),  # shrinking a whole score takes minutes
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)


def made(score: Score, level: str, key: str = "keep") -> Arrangement:
    texture, _ = analyse.texture(score, RULES[level])
    return arrange(score, texture, RULES[level], Request(key=key, length="full"))


def moments(draft: Draft):
    """(tick, {hand: keys down}, notes struck) at every onset."""
    notes = [n for n in draft.notes if not n.grace]
    for tick in sorted({n.onset for n in notes}):
        down = defaultdict(list)
        for n in notes:
            if n.onset <= tick < n.end:
                down[n.hand].append(n)
        yield tick, down, [n for n in notes if n.onset == tick]


@pytest.mark.parametrize("level", LEVELS)
@laws
@given(score=scores())
def test_law_1_every_note_has_one_fate(level: str, score: Score) -> None:
    """Every source note has exactly one fate, and every draft note a source note or a decision that adds it."""
    result = made(score, level)
    assert sorted(f.note for f in result.fates) == sorted(n.id for n in score.notes)
    decisions = {d.id for d in result.decisions}
    assert {f.decision for f in result.fates} <= decisions
    for note in result.draft.notes:
        assert note.sources or note.decision in decisions


@pytest.mark.parametrize("level", LEVELS)
@laws
@given(score=scores())
def test_every_fate_cites_a_rule_of_the_book(level: str, score: Score) -> None:
    """Each note's fate points to a decision whose setting exists, and a note left out names the one limit that decided it."""
    result = made(score, level)
    known = RULES[level].values.keys() | {"level." + f.name.replace("_", "-") for f in fields(RULES[level].level)}
    decisions = {d.id: d for d in result.decisions}
    for fate in result.fates:
        decision = decisions[fate.decision]
        assert not decision.setting or decision.setting in known, decision.setting
        assert decision.setting or fate.kind != "dropped", decision.sentence


@pytest.mark.parametrize("level", LEVELS[:3])
@laws
@given(score=scores())
def test_no_chord_is_blamed_for_a_note_of_the_tune(level: str, score: Score) -> None:
    """A note that the tune lost is told by what took it: its rhythm, an ornament, a cut, a hand that cannot hold it."""
    texture, _ = analyse.texture(score, RULES[level])
    result = arrange(score, texture, RULES[level], Request(key="keep", length="full"))
    sung = {name for lead in texture.tune for name in lead.notes}
    decisions = {d.id: d for d in result.decisions}
    told = {decisions[fate.decision].rule for fate in result.fates if fate.note in sung and fate.kind == "dropped"}
    assert "accompaniment.instead-of" not in told


@pytest.mark.parametrize("level", LEVELS)
@laws
@given(score=scores())
def test_at_most_eight_big_decisions_and_first(level: str, score: Score) -> None:
    """The log leads with no more than eight big decisions."""
    _, heard = analyse.texture(score, RULES[level])
    weights = [d.weight for d in foremost((*made(score, level).decisions, *heard), RULES[level])]
    assert weights.count("big") <= 8
    assert "big" not in weights[weights.count("big") :]


@pytest.mark.parametrize("level", LEVELS)
@laws
@given(score=scores())
def test_law_2_no_hand_is_overtaxed(level: str, score: Score) -> None:
    """No moment breaks the span or the number of keys of a hand, and no key belongs to both hands."""
    limits = RULES[level].level
    for _, down, struck in moments(made(score, level).draft):
        for hand, span, most in (("right", limits.span_right, limits.notes_right), ("left", limits.span_left, limits.notes_left)):
            keys = {n.midi for n in down[hand]}
            if keys:
                assert max(keys) - min(keys) <= span
                assert len(keys) <= most
        for note in struck:
            assert not any(n.midi == note.midi and n.hand != note.hand for hand in down for n in down[hand])


# The lowest lower note of an interval of 1, 2 ... semitones: low-interval tables of arranging handbooks, of several the deepest
# (from memory and from public tables of jazz and orchestral voicing); a minor third from B2 as in every piano method's dominant.
DEEPEST = {1: 52, 2: 51, 3: 47, 4: 45, 5: 40, 6: 35, 7: 33, 8: 41, 9: 40, 10: 41, 11: 41}


@pytest.mark.parametrize("level", LEVELS)
@laws
@given(score=scores())
def test_no_hand_holds_close_intervals_in_the_deep(level: str, score: Score) -> None:
    """No chord note lies closer to its neighbour in the hand than the low-interval limits allow; two outer lines may."""
    for _, down, _ in moments(made(score, level).draft):
        for notes in down.values():
            keys = sorted(notes, key=lambda n: n.midi)
            for low, high in pairwise(keys):
                if "harmony" in (low.role, high.role):
                    assert low.midi >= DEEPEST.get(high.midi - low.midi, 0)


@pytest.mark.parametrize("level", ("late-intermediate", "advanced"))
@laws
@given(score=scores())
def test_law_3_the_tune_is_there_and_on_top(level: str, score: Score) -> None:
    """Each note of the chosen tune is struck at its moment as the highest of its hand, unless a decision changed it.

    Its hand is the right, or the left where a decision gives it the tune.
    """
    texture, _ = analyse.texture(score, RULES[level])
    result = arrange(score, texture, RULES[level], Request(length="full"))
    top: dict[tuple[str, int], int] = {}
    for note in result.draft.notes:
        if not note.grace:
            top[note.hand, note.onset] = max(top.get((note.hand, note.onset), -1), note.midi)
    handed = {name for d in result.decisions if d.kind == "hand" and d.hand == "left" for name in d.source_notes}
    explained = {name for d in result.decisions if d.kind in ("rhythm", "octave") for name in d.source_notes}
    for lead in texture.tune:
        for name in lead.notes:
            note = score.note_by_id[name]
            if name not in explained and note.kind == "struck":
                hand = "left" if name in handed else "right"
                assert top.get((hand, note.onset), -1) % 12 == note.midi % 12


@pytest.mark.parametrize("level", LEVELS)
@laws
@given(score=scores())
def test_law_4_bars_are_the_source_s_and_full(level: str, score: Score) -> None:
    """Bars keep their number, order and length, and each voice fills its bar."""
    result = made(score, level)
    assert [(b.number, b.length) for b in result.draft.bars] == [(b.number, b.length) for b in score.bars]
    root = etree.fromstring(musicxml(result.draft, RULES[level].level))
    divisions = 1
    for bar, measure in zip(result.draft.bars, root.iter("measure"), strict=True):
        divisions = int(measure.findtext("attributes/divisions") or divisions)
        at, ends = 0, {}
        for element in measure:
            length = int(element.findtext("duration") or 0)
            if element.tag == "backup":
                at -= length
            elif element.tag == "forward":
                at += length
            elif element.tag == "note" and element.find("chord") is None and element.find("grace") is None:
                at += length
                ends[element.findtext("voice")] = at
        assert set(ends.values()) == {bar.length * divisions // result.draft.resolution}


@pytest.mark.parametrize("level", LEVELS)
@laws
@given(score=scores())
def test_law_5_same_input_same_bytes(level: str, score: Score) -> None:
    """The same score and rules give the same bytes."""
    first, second = made(score, level, "auto"), made(score, level, "auto")
    assert musicxml(first.draft, RULES[level].level) == musicxml(second.draft, RULES[level].level)
    assert (first.decisions, first.fates) == (second.decisions, second.fates)
