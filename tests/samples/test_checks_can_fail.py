"""The harmony teacher notices: each check of counterpoint fails on two bars that are wrong in one way only."""

from __future__ import annotations

import pytest

from tests.samples import test_counterpoint as teacher
from tests.samples.ear import Ear, compose

TWO_BARS = """
title    Two bars
composer the authors of this project
rights   CC0
key      0 major
time     4/4
players  flute violin cello
tune     1 violin

== 1-2 ==
flute    {flute}
violin   {violin}
cello    {cello}
harmony  {harmony}
"""
GOOD = {"flute": "g4:w~ | g4:q f4:h.", "violin": "e5:h d5 | d5:w", "cello": "c3:h b2 | d3:w", "harmony": "C . G/B . | Dm"}


def two_bars(**wrong: str) -> Ear:
    return Ear(compose.read(TWO_BARS.format(**GOOD | wrong)))


CHECKS = {
    teacher.test_no_minor_seconds_on_strong_beats: {"flute": "g4:h g4 | c#5:w"},
    teacher.test_every_chord_is_the_one_that_was_meant: {"flute": "g4:h g4 | b4:w"},
    teacher.test_the_bass_is_the_one_that_was_meant: {"cello": "e3:h b2 | d3:w"},
    teacher.test_leading_notes_and_sevenths_are_there: {"harmony": "C . G7/B . | Dm"},
    teacher.test_no_parallel_fifths_or_octaves_with_the_bass: {"violin": "g5:h f#5 | a5:w", "harmony": "- | -"},
    teacher.test_everyone_plays_within_reach: {"cello": "c2:h b1 | d2:w"},
    teacher.test_a_tune_can_be_sung: {"violin": "e5:h d6 | d4:w"},
}


@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.__name__.removeprefix("test_"))
def test_a_fault_is_noticed(check) -> None:  # type: ignore[no-untyped-def]
    """The good bars pass, the bars with the fault do not."""
    check(two_bars())
    with pytest.raises(AssertionError):
        check(two_bars(**CHECKS[check]))


@pytest.mark.parametrize(
    ("line", "said"),
    [("c4:h c4:q", "does not add up"), ("c4:w | h4:w", "no such token"), ("c4:w | c4:w | c4:w", "3 bars instead of 2")],
)
def test_a_slip_of_the_pen_is_named(line: str, said: str) -> None:
    """A line that cannot be read says which player and what is wrong."""
    with pytest.raises(ValueError, match=said) as fault:
        two_bars(violin=line)
    assert "violin" in str(fault.value)
