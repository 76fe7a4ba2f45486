"""The accompaniment: one figure a section, written as a bar of equal shares."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest

from reduce.arrange.figures import KINDS, Strike, accompany
from reduce.arrange.figures_pattern import FIGURES, SPOKEN, pattern, strokes_a_second
from reduce.arrange.figures_sections import sections
from reduce.arrange.line import Tone
from reduce.model.pitch import in_key
from reduce.model.rules import Rules
from reduce.model.score import Bar, Key, Meter
from reduce.model.texture import Chord, Figure, Phrase
from tests.arrange import lines

LEVELS = ("first-year", "late-beginner", "early-intermediate", "intermediate", "late-intermediate", "advanced")
Q = 12


def bars(count: int, meter: Meter) -> tuple[Bar, ...]:
    size = meter.ticks(Q)
    return tuple(Bar(index=i, number=str(i + 1), start=size * i, length=size, meter=meter, key=Key(0)) for i in range(count))


def harmony(places: tuple[Bar, ...], each: int = 1) -> tuple[Chord, ...]:
    """C major and G seventh in turn, ``each`` chords a bar."""
    out = []
    for bar in places:
        for part in range(each):
            start = bar.start + bar.length * part // each
            end = bar.start + bar.length * (part + 1) // each
            root, tones = ((0, (0, 4, 7)), (7, (7, 11, 2, 5)))[len(out) % 2]
            out.append(Chord(start=start, end=end, root=root, quality="major", bass=root, tones=tones))
    return tuple(out)


def figure(places: tuple[Bar, ...], kind: str, first: int = 0, last: int | None = None) -> Figure:
    pulse = Q // 2 if kind in ("broken-chord", "arpeggio", "repeated", "measured-tremolo") else Q
    return Figure(start=places[first].start, end=places[-1 if last is None else last].end, kind=kind, pulse=pulse, streams=(1,))


def struck(kind: str, level: str, meter: Meter, quarters: float = 60, each: int = 1, **more: object) -> list[tuple[int, str]]:
    """(tick, kind) of the left hand in the second of eight bars."""
    places = bars(8, meter)
    strikes, *_ = accompany(
        harmony(places, each), (figure(places, kind),), places, lines.rules(level), resolution=Q, quarters=quarters, **more
    )  # type: ignore[arg-type]
    bar = places[1]
    return [(one.onset - bar.start, one.kind) for one in strikes if one.hand == "left" and bar.start <= one.onset < bar.end]


def only(level: str, *figures: str) -> Rules:
    rules = lines.rules(level)
    return replace(rules, level=replace(rules.level, figures=figures))


def test_the_waltz_has_its_bass_and_two_after_beats() -> None:
    """Close waltz from the second year on (method-book charts)."""
    assert struck("waltz-bass", "late-beginner", Meter((3,), 4)) == [(0, "bass"), (12, "inner"), (24, "inner")]


def test_repeated_strings_by_level() -> None:
    """Measured repeated sixteenths: held or in beats for beginners, eighths or a broken chord later (table of orchestral devices)."""
    got = {level: len(struck("measured-tremolo", level, Meter((4,), 4))) for level in LEVELS}
    assert got["first-year"] <= 2
    assert got["late-beginner"] <= 4
    assert got["intermediate"] == 8


def test_first_year_holds_or_alternates() -> None:
    """Left hand: held root, open fifth, root and fifth (publishers' first-level lists)."""
    for kind in ("held", "repeated", "tremolo", "broken-chord", "waltz-bass", "off-beats", "drum", "nothing we know"):
        for meter in (Meter((2,), 4), Meter((3,), 4), Meter((4,), 4), Meter((6,), 8)):
            assert {what for _, what in struck(kind, "first-year", meter)} <= {"bass", "fifth", "open-fifth"}


def test_a_march_does_not_walk_in_three() -> None:
    assert struck("march-bass", "intermediate", Meter((4,), 4)) == [(0, "bass"), (12, "inner"), (24, "fifth"), (36, "inner")]
    assert struck("march-bass", "intermediate", Meter((3,), 4))[0] == (0, "bass")


def test_the_figure_begins_anew_with_the_chord() -> None:
    """A change of chord in mid-bar is struck, and a broken chord starts again from its lowest note."""
    assert struck("broken-chord", "intermediate", Meter((4,), 4), each=2)[4] == (24, "broken-1")
    assert struck("held", "first-year", Meter((4,), 4), each=2) == [(0, "bass"), (24, "bass")] or struck(
        "held", "first-year", Meter((4,), 4), each=2
    ) == [(0, "open-fifth"), (24, "open-fifth")]


def test_too_fast_a_figure_is_refused_with_its_speed() -> None:
    """Eighths at quarter = 200 are 6.7 notes a second; early intermediate plays 5 with one hand."""
    places = bars(8, Meter((4,), 4))
    parts = sections((figure(places, "broken-chord"),), places, lines.rules("early-intermediate"), quarters=200)
    assert parts[0].figure != "alberti"
    assert "it would be 6.7 notes a second; the limit is 4.5" in [item.why for item in parts[0].refused]


def test_one_figure_a_section() -> None:
    """Law: a bar in which the orchestra pauses does not change the figure; a real change at a phrase does."""
    places = bars(16, Meter((4,), 4))
    heard = (
        figure(places, "broken-chord", 0, 3), figure(places, "held", 4, 4), figure(places, "broken-chord", 5, 7),
        figure(places, "off-beats", 8, 15),
    )  # fmt: skip
    phrases = (Phrase(start=0, end=places[8].start), Phrase(start=places[8].start, end=places[15].end))
    parts = sections(heard, places, lines.rules("intermediate"), quarters=72, phrases=phrases)
    assert [(part.first, part.last, part.source) for part in parts] == [(0, 7, "broken-chord"), (8, 15, "off-beats")]


def test_the_left_hand_comes_to_rest_at_the_cadence() -> None:
    places = bars(4, Meter((4,), 4))
    tune = tuple(Tone(bar.start, bar.end, 72, in_key(72, 0), (f"n{bar.index}",)) for bar in places)
    phrases = (Phrase(start=0, end=places[1].end), Phrase(start=places[2].start, end=places[3].end))
    strikes, *_ = accompany(
        harmony(places), (figure(places, "broken-chord"),), places, lines.rules("early-intermediate"), resolution=Q, quarters=60,
        tune=tune, phrases=phrases,
    )  # fmt: skip
    in_bar = [[one.kind for one in strikes if one.hand == "left" and bar.start <= one.onset < bar.end] for bar in places]
    assert [len(kinds) for kinds in in_bar] == [8, 1, 8, 1]
    assert in_bar[1] == in_bar[3] == ["chord"]


@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize("meter", ["2/4", "3/4", "4/4", "6/8", "3/8", "9/8", "12/8", "5/4", "2/2", "3/2", "6/4"])
def test_strikes_fill_the_bars_without_overlap(level: str, meter: str) -> None:
    """Law: in any metre and level, strikes of a hand follow one another, stay inside their bars and stand on a chord that sounds."""
    beats, unit = (int(part) for part in meter.split("/"))
    places = bars(8, Meter((beats,), unit))
    chords = harmony(places, 2)
    for kind in ("held", "repeated", "broken-chord", "waltz-bass", "march-bass", "off-beats", "tremolo", "walking-bass", "unison", "drum"):
        strikes, *_ = accompany(chords, (figure(places, kind),), places, lines.rules(level), resolution=Q, quarters=72)
        left = [one for one in strikes if one.hand == "left"]
        assert left
        assert all(one.end <= two.onset for one, two in pairwise(left))
        for one in left:
            assert one.kind in KINDS.values()
            assert 1 <= one.size <= lines.rules(level).level.notes_left
            assert chords[one.chord].start <= one.onset < one.end <= places[-1].end
            bar = places[one.onset // places[0].length]
            assert one.end <= bar.end


def test_triads_are_counted() -> None:
    """Late beginner: a triad at most once a bar (scheme for composers, second level)."""
    places = bars(4, Meter((4,), 4))
    strikes, *_ = accompany(harmony(places, 2), (figure(places, "held"),), places, only("late-beginner", "block-chords"), resolution=Q)
    for bar in places:
        sizes = [one.size for one in strikes if one.hand == "left" and bar.start <= one.onset < bar.end]
        assert sizes.count(3) <= 1


def test_a_silent_harmony_stays_silent() -> None:
    """Law: where no chord sounds (general pause), nothing is struck."""
    places = bars(4, Meter((4,), 4))
    chords = tuple(chord for chord in harmony(places) if chord.start != places[2].start)
    strikes, *_ = accompany(chords, (figure(places, "repeated"),), places, lines.rules("intermediate"), resolution=Q)
    assert [one for one in strikes if places[2].start <= one.onset < places[2].end] == []


def test_notes_under_the_tune_come_from_the_second_year() -> None:
    places = bars(2, Meter((4,), 4))
    tune = (Tone(0, 24, 72, in_key(72, 0), ("a",)), Tone(24, 36, 74, in_key(74, 0), ("b",)), Tone(48, 96, 71, in_key(71, 0), ("c",)))
    got = {}
    for level in LEVELS:
        strikes, *_ = accompany(harmony(places), (), places, lines.rules(level), resolution=Q, tune=tune)
        got[level] = [(one.onset, one.size) for one in strikes if one.hand == "right"]
    assert got["first-year"] == []
    assert got["late-beginner"] == [(0, 1), (48, 1)]
    assert got["intermediate"] == [(0, 2), (48, 2)]


def test_every_figure_has_its_words_and_its_bars() -> None:
    """Law of the table: each figure has a form in two, three, four or six, written in known signs, and a name for the log."""
    rules = lines.rules("advanced")
    assert set(SPOKEN) == set(FIGURES)
    for name in FIGURES:
        forms = [pattern(name, meter, rules) for meter in (Meter((2,), 4), Meter((3,), 4), Meter((4,), 4), Meter((6,), 8))]
        assert any(forms)
        assert {sign for form in forms for sign in form} <= {*KINDS, "-", "."}
        assert {len(form) % count for form, count in zip(forms, (2, 3, 4, 2), strict=True)} == {0}
    used = {name for key, value in rules.values.items() if key.startswith("accompaniment.instead-of.") for name in value}  # type: ignore[union-attr]
    assert used <= set(FIGURES)


def test_speed_of_a_figure() -> None:
    """Four quarters at 60 are one a second; eighths two; a held bar a quarter of one."""
    four = Meter((4,), 4)
    assert strokes_a_second(tuple("1232"), four, 60) == 1.0
    assert strokes_a_second(tuple("12321232"), four, 60) == 2.0
    assert strokes_a_second(tuple("B---"), four, 60) == 0.25


def test_density_thins() -> None:
    full = struck("broken-chord", "intermediate", Meter((4,), 4), quarters=120)
    thin = struck("broken-chord", "intermediate", Meter((4,), 4), quarters=120, density=0.4)
    assert len(thin) < len(full)


def test_strikes_are_records() -> None:
    assert Strike(0, 12, "left", "bass", 1, 0).rest is False


def test_off_beats_in_three_become_a_waltz_bass() -> None:
    """Law: after-beats of a bar of three are a waltz bass at every level that has one (common practice)."""
    places = bars(8, Meter((3,), 4))
    for level in ("late-beginner", "early-intermediate", "intermediate"):
        found = sections([figure(places, "off-beats")], places, lines.rules(level), quarters=84)
        assert [(0, 7, "waltz-bass")] == [(part.first, part.last, part.figure) for part in found], level


@pytest.mark.parametrize("level", LEVELS[:4])
def test_no_change_of_figure_where_the_orchestra_goes_on(level: str) -> None:
    """Law: two neighbouring sections never stand for the same thing in the orchestra with different figures, however busy the tune."""
    places = bars(24, Meter((4,), 4))
    quick = [Tone(Q * i // 2, Q * (i + 1) // 2, 60, in_key(60, 0), ("a",)) for i in range(8 * 8, 16 * 8)]
    kinds = [figure(places, "repeated", 0, 15), figure(places, "held", 16, 23)]
    found = sections(kinds, places, lines.rules(level), quarters=90, tune=quick)
    assert all(before.source != after.source or before.figure == after.figure for before, after in pairwise(found))
    assert (0, 23) == (found[0].first, found[-1].last)
