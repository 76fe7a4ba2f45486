"""The six levels: complete, described, and each no easier than the one before."""

from __future__ import annotations

import dataclasses
from fractions import Fraction
from itertools import pairwise
from typing import Literal, get_args, get_origin, get_type_hints

import pytest

from reduce import rulebook
from reduce.model.level import Level
from reduce.rulebook.level import FIELDS

NAMES = ("first-year", "late-beginner", "early-intermediate", "intermediate", "late-intermediate", "advanced")
PAGES = {page.name: page for page in rulebook.levels()}
LEVELS = {name: rulebook.load(name).level for name in NAMES}


def test_six_levels_stand_in_the_order_of_difficulty() -> None:
    """The names of the contract, the easiest first."""
    assert tuple(PAGES) == NAMES
    assert [page.order for page in PAGES.values()] == [1, 2, 3, 4, 5, 6]


@pytest.mark.parametrize("name", NAMES)
def test_a_level_has_every_setting_and_each_is_described(name: str) -> None:
    """No setting is missing, and beside each value stand unit, meaning and source."""
    page = PAGES[name]
    assert sorted(setting.name for setting in page.settings) == sorted(FIELDS)
    bare = [setting.name for setting in page.settings if not (setting.unit and setting.meaning and setting.source)]
    assert bare == []


@pytest.mark.parametrize("name", NAMES)
def test_a_level_reads_into_the_types_of_the_record(name: str) -> None:
    """Each field of the record has its declared type, and words are among the declared ones."""
    level = LEVELS[name]
    wrong = []
    for field, hint in get_type_hints(Level).items():
        value = getattr(level, field)
        if get_origin(hint) is Literal:
            right = value in get_args(hint)
        elif get_origin(hint) is tuple:
            right = isinstance(value, tuple) and all(isinstance(item, str) for item in value)
        else:
            right = type(value) is hint
        if not right:
            wrong.append((field, value))
    assert wrong == []


def test_allowed_words_are_those_of_the_record() -> None:
    """The files offer exactly the words that the record knows."""
    for field, hint in get_type_hints(Level).items():
        if get_origin(hint) is Literal:
            for page in PAGES.values():
                setting = next(s for s in page.settings if s.name == field.replace("_", "-"))
                assert setting.allowed == get_args(hint)


def test_the_six_files_describe_a_setting_in_the_same_words() -> None:
    """Unit, meaning, range and allowed words of a setting do not drift apart."""
    first = {s.name: s for s in PAGES["first-year"].settings}
    for page in PAGES.values():
        for setting in page.settings:
            like = first[setting.name]
            assert (setting.unit, setting.meaning, setting.range, setting.allowed) == (like.unit, like.meaning, like.range, like.allowed)


RISING = (
    *("signature_max", "highest", "ledger_max", "triplets", "dotted_eighth", "tempo_max", "hand_span", "span_right", "span_left"),
    *("rolled_max", "notes_right", "notes_left", "voices_right", "voices_left", "black_in_chord", "step_max", "moves_per_8_bars"),
    *("notes_per_second_both", "notes_per_second_one", "chords_per_bar", "hairpins", "instrument_names", "ottava", "at_limit_per_bar"),
)
FALLING = ("lowest", "octave_seconds", "staff_height", "tempo_min", "shortest")


@pytest.mark.parametrize("field", RISING + FALLING)
def test_no_level_allows_less_than_the_one_below(field: str) -> None:
    """Limits open from level to level (law 8: difficulty never falls as the level rises)."""
    values = [getattr(LEVELS[name], field) for name in NAMES]
    assert values == sorted(values, reverse=field in FALLING)


@pytest.mark.parametrize("field", ["eighths", "sixteenths", "syncopation", "cross_rhythm", "pedal", "ornaments"])
def test_no_level_allows_fewer_kinds_than_the_one_below(field: str) -> None:
    """The words are listed from the strictest to the freest."""
    order = get_args(get_type_hints(Level)[field])
    places = [order.index(getattr(LEVELS[name], field)) for name in NAMES]
    assert places == sorted(places)


@pytest.mark.parametrize("field", ["dynamics", "articulations", "meters"])
def test_each_level_knows_what_the_one_below_knows(field: str) -> None:
    """Vocabulary grows; an empty list means: any."""
    known = [set(getattr(LEVELS[name], field)) for name in NAMES]
    assert all(not more or fewer <= more for fewer, more in pairwise(known) if fewer)


def test_published_limits() -> None:
    """Values with a public source.

    Advanced: at most five notes a hand and a span under or about 14 semitones (Onuma and Hamanaka 2010; Huang, Chiu and Shan
    2012, as summarised by Nakamura and Yoshii 2018).  First year: bottom bass G to the G above the treble staff, one sharp or
    flat (a teacher's and a publisher's levelling chart, named in the level file).  Octave 165 mm, white keys 23.5 mm (measured
    keyboards; Jacobs 2001).
    """
    advanced, first, intermediate = (LEVELS[name] for name in ("advanced", "first-year", "intermediate"))
    assert (advanced.notes_right, advanced.notes_left, advanced.span_right, advanced.span_left, advanced.rolled_max) == (5, 5, 14, 14, 14)
    assert (first.lowest, first.highest, first.signature_max) == (43, 79, 1)
    assert (first.shortest, first.eighths) == (Fraction(1, 2), "pairs")
    assert intermediate.hand_span >= 165 and intermediate.span_right == 12
    assert advanced.hand_span >= 8 * 23.5


def test_piano_compass() -> None:
    """A0 to C8, 88 keys (music21's Piano)."""
    instrument = pytest.importorskip("music21.instrument")
    piano = instrument.Piano()
    level = LEVELS["advanced"]
    assert (level.lowest, level.highest) == (piano.lowestNote.midi, piano.highestNote.midi)


def test_level_figures_are_those_of_the_accompaniment_rules() -> None:
    """What a level's left hand may play is described in rules/accompaniment.toml, and the words to choose from are all of it."""
    rules = {rule.id.removeprefix("accompaniment."): rule for rule in rulebook.rules() if rule.family == "accompaniment"}
    figures = {name for name, rule in rules.items() if {"two", "three", "four", "six"} <= {s.name.rsplit(".", 1)[1] for s in rule.settings}}
    for page in PAGES.values():
        setting = next(s for s in page.settings if s.name == "figures")
        assert set(setting.allowed) == figures


def test_levels_are_records() -> None:
    """A level cannot be changed once read."""
    with pytest.raises(dataclasses.FrozenInstanceError):
        LEVELS["advanced"].span_left = 20  # type: ignore[misc]
