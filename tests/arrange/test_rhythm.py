"""The tune's rhythm at a level.  Values by level: public method-book charts for elementary levels (rules/levels/*.toml name them)."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest

from reduce.arrange.rhythm import fit_rhythm
from reduce.arrange.rhythm_cells import bar_rhythms, cells_of
from reduce.arrange.rhythm_hook import signature
from reduce.arrange.rhythm_meter import choose_meter, rewritten
from reduce.arrange.rhythm_values import refused, spoken, stress, value_name, vocabulary
from reduce.model.record import replace
from reduce.model.score import Meter
from tests.arrange import lines

EIGHTHS = """
meter 4/4
Violin | c5:4. d5:8 e5:4 c5 | d5:8. e5:16 f5:8. e5:16 d5:2 | c5:4. d5:8 e5:4 c5 | g5:16 a5 b5 c6 d6:4 c6:2 |
"""


def fitted(text: str, level: str, quarters: float = 72.0, **more: object) -> list[tuple[float, float, str]]:
    piece = lines.score(text)
    tones, _ = fit_rhythm(lines.line(piece), piece.bars, lines.rules(level), resolution=piece.resolution, quarters=quarters, **more)  # type: ignore[arg-type]
    return lines.told(tones, piece.resolution)


def test_advanced_keeps_every_value() -> None:
    """Law: the level without limits changes nothing."""
    piece = lines.score(EIGHTHS)
    tones, decisions = fit_rhythm(lines.line(piece), piece.bars, lines.rules("advanced"), resolution=piece.resolution)
    assert (tones, decisions) == (lines.line(piece), ())


def test_first_year_has_no_dotted_quarter() -> None:
    """A dotted quarter and an eighth become two quarters: the eighth moves to the beat, no note is lost (common practice)."""
    assert fitted("meter 4/4\nViolin | c5:4. d5:8 e5:4 c5 | c5:1 |", "first-year")[:4] == [
        (0.0, 1.0, "C5"),
        (1.0, 1.0, "D5"),
        (2.0, 1.0, "E5"),
        (3.0, 1.0, "C5"),
    ]


def test_dotted_eighth_and_sixteenth_become_two_eighths() -> None:
    """Harmless where it is not the signature (public teaching article on student arrangements)."""
    assert fitted("meter 2/4\nViolin | d5:8. e5:16 f5:4 | d5:2 |", "late-beginner")[:3] == [
        (0.0, 0.5, "D5"),
        (0.5, 0.5, "E5"),
        (1.0, 1.0, "F5"),
    ]


def test_a_written_out_turn_leaves_no_repeated_note() -> None:
    """Of a note, its neighbour and the note again, two are played that differ: nobody wrote the note twice (common practice)."""
    assert fitted("meter 2/4\nViolin | d5:16 e5 d5 c#5 f5:4 | d5:2 |", "late-beginner")[:3] == [
        (0.0, 0.5, "D5"),
        (0.5, 0.5, "C♯5"),
        (1.0, 1.0, "F5"),
    ]


def test_a_calmer_tune_in_compound_time_goes_by_its_beats() -> None:
    """Two beats of 6/8 stay two beats: nothing begins across them on a quarter (common practice)."""
    tune = "meter 6/8\nViolin | c5:8 f5:4 a5:4. | g5:4. c5 |"
    assert fitted(tune, "first-year", 90.0, calm=(0,)) == [(0.0, 1.5, "C5"), (1.5, 1.5, "A5"), (3.0, 1.5, "G5"), (4.5, 1.5, "C5")]


def test_a_run_keeps_its_strong_beats() -> None:
    """Strong-beat notes are the checkpoints of a fast run (public teaching article for opera pianists)."""
    run = "meter 2/4\nViolin | c5:16 d5 e5 f5 g5 a5 b5 c6 | d6:2 |"
    assert [name for onset, _, name in fitted(run, "late-beginner") if onset in (0.0, 1.0, 2.0)] == ["C5", "G5", "D6"]


def test_like_places_come_out_alike() -> None:
    """Law: the same rhythm at the same place of the bar gives the same rhythm, whatever its pitches."""
    text = """
    meter 3/4
    Violin | c5:8. d5:16 e5:4 f5 | g5:8. a5:16 b5:4 c6 | c6:8. g5:16 e5:4 c5 | d5:2. |
    """
    piece = lines.score(text)
    for level in ("first-year", "late-beginner", "early-intermediate"):
        tones, _ = fit_rhythm(lines.line(piece), piece.bars, lines.rules(level), resolution=piece.resolution, quarters=72)
        rhythms = [rhythm for _, rhythm in bar_rhythms(tones, piece.bars, piece.resolution)]
        assert rhythms[0] == rhythms[1] == rhythms[2], level


@pytest.mark.parametrize("level", ["first-year", "late-beginner", "early-intermediate", "intermediate", "late-intermediate"])
def test_every_value_is_read_by_the_level(level: str) -> None:
    """Law: after fitting, no note or rest of any bar is refused by the level's vocabulary (slow tempo)."""
    text = """
    meter 4/4
    Violin | c5:8t d5 e5 f5:4 r:8 g5:4 a5:8 | b5:16 c6 d6:8 r:4 e6:4.. d6:16 | c6:8 b5:4 a5:8 g5:2~ | g5:8 a5:4. r:16 b5:8. c6:4 |
    """
    piece = lines.score(text)
    rules = lines.rules(level)
    tones, _ = fit_rhythm(lines.line(piece), piece.bars, rules, resolution=piece.resolution, quarters=50)
    words = vocabulary(rules.level, piece.resolution, 50, hook=True)
    refusals = [
        refused(words, cell.shape.meter, one.start, one.end, one.kind == "rest")
        for cell in cells_of(tones, piece.bars, piece.resolution)
        for one in cell.shape.pieces
    ]
    assert [why for why in refusals if why] == []


def test_the_line_stays_one_note_at_a_time_inside_its_bars() -> None:
    """Law: tones neither overlap nor leave the bars, and their order is the source's."""
    piece = lines.score(EIGHTHS)
    for level in ("first-year", "late-beginner", "intermediate"):
        tones, _ = fit_rhythm(lines.line(piece), piece.bars, lines.rules(level), resolution=piece.resolution, quarters=90)
        assert all(one.end <= two.onset for one, two in pairwise(tones))
        assert all(one.onset < one.end for one in tones)
        assert tones[-1].end <= piece.end


def test_a_slow_theme_keeps_its_sixteenths_at_the_hook_level() -> None:
    """Early intermediate: sixteenths only where the theme needs them, slow (levelling charts place them later otherwise)."""
    theme = "c5:8. d5:16 e5:4"
    text = f"meter 2/4\nViolin | {theme} | {theme} | {theme} | g5:16 f5 e5 d5 c5:4 |"
    piece = lines.score(text)
    rules = lines.rules("early-intermediate")
    tones, decisions = fit_rhythm(lines.line(piece), piece.bars, rules, resolution=piece.resolution, quarters=60)
    assert [length for _, length, _ in lines.told(tones, piece.resolution)[:3]] == [0.75, 0.25, 1.0]
    assert [one.id for one in decisions if one.weight != "small"] == ["rhythm-theme"]


def test_what_the_theme_has_on_one_beat_it_may_have_on_another() -> None:
    """Law: a figure of the signature rhythm is read wherever in the bar it stands, not only in the bars that are alike in whole."""
    text = "meter 3/4\nkey C major\nOboe | " + " | ".join(["c5:2 d5:8. e5:16"] * 4 + ["g5:8. f5:16 d5:4 c5:8. d5:16", "e5:2."]) + " |\n"
    whole = lines.score(text)
    assert fitted(text, "early-intermediate") == lines.told(lines.line(whole), whole.resolution)


def test_the_signature_is_what_returns() -> None:
    """The rhythm of the first phrases that comes back most, not the one that only stands there once."""
    piece = lines.score("meter 2/4\nViolin | r:8 g4 g4 g4 | e4:2 | r:8 f4 f4 f4 | d4:2 | r:8 a4 a4 a4 | c5:8 b4 a4:4 |")
    hook = signature(lines.line(piece), piece.bars, (), piece.resolution, lines.rules("first-year"))
    assert (hook.bars, hook.words) == ((0, 2, 4), "eighth rest and three eighths")


def test_pace_counts_notes_not_single_values() -> None:
    """A dotted quarter and an eighth in a fast bar are two notes in two beats: they stay; four eighths in a row do not."""
    text = "meter 2/2\nViolin | c5:4. d5:8 e5:4 e5 | c5:4. d5:8 e5:4 e5 | c5:4. d5:8 e5:4 e5 | f5:8 e5 d5 c5 d5:2 |"
    got = fitted(text, "late-beginner", 144.0)
    assert [length for _, length, _ in got[:4]] == [1.5, 0.5, 1.0, 1.0]
    assert [(onset - 12, name) for onset, _, name in got if onset >= 12] == [(0.0, "F5"), (1.0, "D5"), (2.0, "D5")]


def test_a_theme_keeps_its_notes_where_the_piece_may_be_slowed() -> None:
    """A piece is slowed before its theme loses a note: listeners know it by the theme (common practice)."""
    text = "meter 3/4\nViolin | e5:8. d5:16 b4:2 | e5:8. d5:16 b4:2 | e5:8. d5:16 b4:2 | c5:2. |"
    assert ["E5", "B4"] == [name for _, _, name in fitted(text, "late-beginner", 160.0)[:2]]
    assert ["E5", "D5", "B4"] == [name for _, _, name in fitted(text, "late-beginner", 160.0, slowest=60.0)[:3]]


def test_a_tune_that_never_returns_is_all_theme() -> None:
    """A few bars asked for, in which no rhythm comes back, lose no note either where the piece may be slowed."""
    once = "meter 3/4\nViolin | e5:8. d5:16 b4:2 | c5:4 d5:8 e5 f5:4 | g5:2. |"
    assert ["E5", "B4"] == [name for _, _, name in fitted(once, "late-beginner", 160.0)[:2]]
    assert ["E5", "D5", "B4"] == [name for _, _, name in fitted(once, "late-beginner", 160.0, slowest=60.0)[:3]]


def test_stress_of_places() -> None:
    """Metrical levels of common time and of six-eight (common practice)."""
    common, six = Meter((4,), 4), Meter((6,), 8)
    assert [stress(common, place, 2) for place in range(8)] == [4, 1, 2, 1, 3, 1, 2, 1]
    assert [stress(six, place, 2) for place in range(6)] == [4, 1, 1, 3, 1, 1]


def test_syncopation_by_level() -> None:
    """A half note on the second beat of four crosses the middle of the bar: refused for beginners, simple later."""
    meter = Meter((4,), 4)
    reasons = {name: refused(vocabulary(lines.rules(name).level, 4, 60), meter, 4, 12) for name in ("late-beginner", "early-intermediate")}
    assert reasons == {"late-beginner": "syncopation is not for this level", "early-intermediate": ""}


def test_values_have_names() -> None:
    assert [value_name(ticks, 4) for ticks in (16, 12, 6, 3, 1, 10)] == [
        "whole", "dotted half", "dotted quarter", "dotted eighth", "sixteenth", "note of 2½ quarters",
    ]  # fmt: skip
    assert spoken((3, 1, -2), 4) == "dotted eighth, sixteenth and eighth rest"
    assert spoken((1, 1, 1, 1), 4) == "four sixteenths"


def test_what_stays_as_it_is_is_not_told() -> None:
    """Law: where no value of the level fits into the bar its one note stays, and no rhythm is said to stand for itself."""
    piece = lines.score("meter 1/16\nViolin | c5:16 | d5:16 |")
    tones, decisions = fit_rhythm(lines.line(piece), piece.bars, lines.rules("first-year"), resolution=piece.resolution, quarters=60)
    assert (tones, [told for told in decisions if told.rule == "rhythm.keep"]) == (lines.line(piece), [])


def test_sentences_are_short_and_without_identifiers() -> None:
    """A musician's sentence: where, what, because; about 30 words at most, no rule names."""
    piece = lines.score(EIGHTHS)
    _, decisions = fit_rhythm(lines.line(piece), piece.bars, lines.rules("first-year"), resolution=piece.resolution, quarters=80)
    assert decisions
    assert [one.sentence for one in decisions if len(one.sentence.split()) > 34 or "_" in one.sentence] == []


def rewritten_meters(text: str, level: str, quarters: float = 60.0) -> tuple[str, int, list[str]]:
    piece = lines.score(text)
    factor, decisions = choose_meter(piece, lines.rules(level), piece.bars, lines.line(piece), quarters)
    new = rewritten(piece, factor, lines.rules(level).level.meters)
    return str(new.bars[0].meter), round(100 * new.resolution / piece.resolution), [one.sentence for one in decisions]


def test_three_eight_is_written_in_quarters_for_beginners() -> None:
    """3/8 comes at early intermediate (method-book charts); before it, the same music stands in 3/4 with doubled values."""
    text = "meter 3/8\nViolin | c5:8 d5 e5 | f5:4 e5:8 | d5:4. |"
    meter, resolution, sentences = rewritten_meters(text, "late-beginner")
    assert (meter, resolution) == ("3/4", 50)
    assert sentences == [
        "Written in 3/4 instead of 3/8, every value doubled, because this level does not read 3/8; notes with flags 4 before, 0 now; "
        "ties 0 before, 0 now."
    ]
    assert rewritten_meters(text, "early-intermediate")[0] == "3/8"


def test_alla_breve_is_common_time_for_beginners() -> None:
    text = "meter 2/2\nViolin | c5:2 d5 | e5:1 |"
    assert rewritten_meters(text, "first-year")[:2] == ("4/4", 100)
    assert rewritten_meters(text, "early-intermediate")[:2] == ("2/2", 100)


def test_a_slow_piece_is_doubled_only_where_it_helps() -> None:
    """Sixteenths at quarter = 40 become eighths at 80; few of them at quarter = 90 stay, since the doubled tempo would leave the level."""
    text = "meter 2/4\nViolin | c5:16 d5 e5 f5 g5:4 | a5:16 g5 f5 e5 d5:4 | c5:2 |"
    few = "meter 2/4\nViolin | c5:8 d5:16 e5 f5:8 g5 | a5:8 g5 f5 e5 | d5:8 e5 c5:4 |"
    assert rewritten_meters(text, "late-beginner", 40)[:2] == ("4/4", 50)
    assert rewritten_meters(few, "late-beginner", 90)[:2] == ("2/4", 100)
    assert rewritten_meters(text, "advanced", 40)[:2] == ("2/4", 100)
    assert rewritten_meters("meter 2/4\nViolin | c5:4 d5 | e5:2 |", "late-beginner", 40)[:2] == ("2/4", 100)


def test_a_theme_in_short_values_is_doubled_though_the_rest_has_none() -> None:
    """The dotted hook of the first phrase is what the piece is known by: too short at intermediate, in 3/8 it would be evened."""
    hook = "c5:16. d5:32 e5:4 | f5:16. e5:32 d5:8 c5:16. d5:32 | e5:4. | g5:4. |"
    piece = lines.score("meter 3/8\nViolin | " + hook + " c5:8 d5 e5 | f5 e5 d5 | c5:4. | e5:4. |" * 5)
    level = lines.rules("intermediate")
    theme = lines.texture(piece, phrases=((0, 1), (2, 3), (4, 7))).phrases
    factor, decisions = choose_meter(piece, level, piece.bars, lines.line(piece), 58.0, 0, theme)
    assert (factor, [one.rule for one in decisions]) == (2, ["rhythm.values"])
    late = lines.texture(piece, phrases=((4, 7), (8, 11))).phrases
    assert choose_meter(piece, level, piece.bars, lines.line(piece)[10:], 58.0, 0, late)[0] == 1


def test_a_tune_in_short_values_is_rather_slow_than_without_its_notes() -> None:
    """Most of the tune in sixteenths: doubled at quarter = 90 although it then goes slower; not at 150, where the speed is the piece."""
    text = "meter 2/4\nViolin | c5:16 d5 e5 f5 g5:4 | a5:16 g5 f5 e5 d5:4 | c5:2 |"
    assert rewritten_meters(text, "late-beginner", 90)[:2] == ("4/4", 50)
    assert rewritten_meters(text, "early-intermediate", 90)[:2] == ("4/4", 50)
    assert rewritten_meters(text, "late-beginner", 150)[:2] == ("2/4", 100)


def test_rewriting_keeps_time() -> None:
    """Law: ticks, bars and seconds stay; a bar is as full as before."""
    piece = lines.score("meter 3/8\ntempo 50\nViolin | c5:8 d5 e5 | f5:4. |")
    new = rewritten(piece, Fraction(2), lines.rules("first-year").level.meters)
    assert [(bar.start, bar.length) for bar in new.bars] == [(bar.start, bar.length) for bar in piece.bars]
    assert all(bar.meter.ticks(new.resolution) == bar.length for bar in new.bars)
    assert new.notes == piece.notes
    for one, two in zip(piece.tempos, new.tempos, strict=True):
        assert (one.quarters or 0) * piece.resolution == (two.quarters or 0) * new.resolution


def test_a_mark_in_eighths_counts_quarters_when_doubled() -> None:
    """Eighth = 80 is quarter = 80 in doubled values: the same speed, the same number."""
    piece = lines.score("meter 2/4\ntempo 40\nViolin | c5:8 d5 e5 f5 | c5:2 |")
    slow = replace(piece, tempos=tuple(replace(tempo, unit="eighth") for tempo in piece.tempos))
    assert [("quarter", 80)] == [(t.unit, t.quarters) for t in rewritten(slow, Fraction(2), ()).tempos]
    assert [("quarter", 80)] == [(t.unit, t.quarters) for t in rewritten(piece, Fraction(2), ()).tempos]
