"""How much is played, and how fast."""

from __future__ import annotations

from dataclasses import replace

import pytest

from reduce.arrange.excerpt_counts import section_ends
from reduce.arrange.excerpts import stretches
from reduce.arrange.length import choose_length, closed, named_bars, section_begins, tune_limits
from reduce.arrange.returns import Return, held_by_all, returns_of, within_return
from reduce.arrange.tempo import choose_tempo, read_words, shown
from reduce.model.errors import UsageError
from reduce.model.pitch import Pitch
from reduce.model.score import Bar, Key, Meter, Note, Score, Tempo, felt_beat
from reduce.model.texture import Lead, LocalKey, Parallel, Phrase, Texture
from tests.arrange import lines

FOUR = Meter((4,), 4)


def piece(count: int, **changes: object) -> Score:
    """So many bars of common time with nothing in them, resolution 1."""
    bars = tuple(Bar(index=i, number=str(i + 1), start=4 * i, length=4, meter=FOUR, key=Key(0)) for i in range(count))
    return Score(resolution=1, bars=bars, **changes)  # type: ignore[arg-type]


def form(*phrases: tuple[int, int, str], keys: tuple[LocalKey, ...] = (), parallels: tuple[Parallel, ...] = ()) -> Texture:
    """Phrases as (first bar, last bar, cadence), 1-based."""
    found = tuple(Phrase(start=4 * (a - 1), end=4 * b, cadence=cadence) for a, b, cadence in phrases)
    return Texture(phrases=found, keys=keys, parallels=parallels)


LONG = form(
    (1, 4, "half"), (5, 8, "authentic"), (9, 12, "half"), (13, 16, "authentic"), (17, 20, ""), (21, 24, "half"), (25, 40, "authentic"),
    keys=(LocalKey(start=0, end=64, tonic=0, mode="major"), LocalKey(start=64, end=160, tonic=7, mode="major")),
)  # fmt: skip


def test_the_excerpt_states_the_theme_and_closes_at_home() -> None:
    """First year: 8 to 16 bars (scheme for composers), whole phrases, a full close in the key of the beginning."""
    first, last, decisions = choose_length(piece(40), LONG, lines.rules("first-year"), None)
    assert (first, last) == (0, 15)
    assert decisions[0].kind == "cut"
    assert decisions[0].weight == "big"
    assert decisions[0].sentence == (
        "Bars 1–16 of 40 are proposed, because they state the theme and end with a full close in the key of their beginning; "
        "this level plays 8–16 bars."
    )


def test_more_bars_of_two_quarters_are_played_in_the_first_year() -> None:
    """Up to 24 bars in the first year (scheme for composers): where the bars have two quarters, not where they have four."""
    texture = form((1, 24, "authentic"), (25, 60, "authentic"))
    four, two = piece(60), replace(piece(60), resolution=2)
    assert [choose_length(each, texture, lines.rules("first-year"), None)[:2] for each in (four, two)] == [(0, 59), (0, 23)]


def test_short_bars_that_are_full_count_as_long_ones() -> None:
    """Law: with a note of the tune on every eighth a bar of two quarters is no easier to learn than one of four."""
    for notes, most in ((2, 24), (4, 16)):
        text = "meter 2/4\nkey C major\nOboe | " + " | ".join([("c5:4 d5", "c5:8 d5 e5 d5")[notes > 2]] * 40) + " |\n"
        short = lines.score(text)
        heard = lines.texture(short, phrases=((0, 7), (8, 15), (16, 23), (24, 39)))
        first, last, _ = choose_length(short, heard, lines.rules("first-year"), None)
        assert last - first + 1 == most


def test_nothing_is_cut_for_the_higher_levels() -> None:
    for level in ("intermediate", "late-intermediate", "advanced"):
        first, last, decisions = choose_length(piece(40), LONG, lines.rules(level), None)
        assert (first, last, len(decisions)) == (0, 39, 1)
        assert "The whole piece is kept" in decisions[0].sentence


def test_full_is_obeyed_and_said() -> None:
    first, last, decisions = choose_length(piece(40), LONG, lines.rules("first-year"), "full")
    assert (first, last) == (0, 39)
    assert decisions[0].sentence == "The whole piece is kept, as asked: 40 bars; this level plays 8–16 bars."
    assert decisions[0].weight == "big"


def test_level_asks_for_an_excerpt_at_any_level() -> None:
    texture = form(*((i, i + 3, "authentic") for i in range(1, 200, 4)))
    first, last, _ = choose_length(piece(200), texture, lines.rules("intermediate"), "level")
    assert 36 <= last - first + 1 <= 100


def test_a_short_piece_is_not_cut() -> None:
    assert choose_length(piece(20), LONG, lines.rules("first-year"), None)[:2] == (0, 19)


def test_joints_are_phrase_ends() -> None:
    """Law: every proposed stretch begins where a phrase begins and ends where one ends."""
    for level in ("first-year", "late-beginner", "early-intermediate"):
        for found in stretches(piece(40), LONG, lines.rules(level)):
            assert found.first in {0, 4, 8, 12, 16, 20, 24}
            assert found.last in {3, 7, 11, 15, 19, 23, 39}


def test_an_excerpt_stops_before_its_beginning_comes_back() -> None:
    """Common practice: where no phrase closes, the joint is before the theme's return, not in the middle of it."""
    letters = ("A", "B", "C", "A", "D", "B", "E", "F")
    ends = (5, 10, 18, 22, 25, 32, 45, 60)
    starts = (1, *(end + 1 for end in ends[:-1]))
    phrases = (Phrase(start=4 * (a - 1), end=4 * b, label=letter) for a, b, letter in zip(starts, ends, letters, strict=True))
    first, last, decisions = choose_length(piece(60), Texture(phrases=tuple(phrases)), lines.rules("late-beginner"), None)
    assert (first, last) == (0, 17)
    assert "stop where the music begins again" in decisions[0].sentence


def test_a_slow_introduction_is_passed_over() -> None:
    """The theme is looked for after a change to a faster tempo early in the piece (common practice)."""
    tempos = (Tempo(onset=0, quarters=50.0, text="Adagio"), Tempo(onset=32, quarters=120.0, text="Allegro"))
    score = piece(80, tempos=tempos)
    texture = form((1, 8, "authentic"), (9, 16, "authentic"), (17, 24, "authentic"), (25, 40, "authentic"), (41, 80, "authentic"))
    first, last, _ = choose_length(score, texture, lines.rules("first-year"), None)
    assert (first, last) == (8, 23)


def test_a_slow_beginning_with_a_theme_of_its_own_is_played() -> None:
    """Common practice: what repeats its phrases and closes is no introduction, whatever comes after it."""
    tempos = (Tempo(onset=0, quarters=50.0, text="Andante"), Tempo(onset=48, quarters=120.0, text="Allegro"))
    letters = ((1, 4, "A", ""), (5, 8, "A", "authentic"), (9, 12, "B", "authentic"), (13, 40, "C", "authentic"), (41, 80, "D", "authentic"))
    phrases = tuple(Phrase(start=4 * (a - 1), end=4 * b, label=letter, cadence=cadence) for a, b, letter, cadence in letters)
    first, last, _ = choose_length(piece(80, tempos=tempos), Texture(phrases=phrases), lines.rules("first-year"), None)
    assert (first, last) == (0, 7)


def tune(*bars: str) -> tuple[Score, Texture]:
    """Four quarter-notes a bar, written as letters (c4 to b4); a capital has a fermata."""
    notes = tuple(
        Note(
            id=f"n{i}-{k}", part=0, staff=1, voice="1", bar=i, onset=4 * i + k, duration=1, pitch=Pitch(letter.upper(), 0, 4),
            midi=60 + "c d ef g a b".index(letter.lower()), fermata=letter.isupper(),
        )
        for i, bar in enumerate(bars)
        for k, letter in enumerate(bar)
    )  # fmt: skip
    lead = Lead(start=0, end=4 * len(bars), stream=0, notes=tuple(note.id for note in notes))
    return piece(len(bars), notes=notes), Texture(tune=(lead,))


THEME = ("cdef", "gfed", "cdee", "dcde", "efga", "gfed", "cddc", "cccc")


def test_returns_of_the_tune_are_found_over_small_changes() -> None:
    """Law: a return begins and ends with bars that agree; one bar may differ inside."""
    score, texture = tune(*THEME, "aabb", "aabb", *THEME[:2], "ccbb", *THEME[3:6], "ggaa")
    assert [(item.first, item.second, item.last) for item in returns_of(score, texture, 4)] == [(0, 10, 15)]


def test_a_return_is_left_only_after_a_period_that_closed() -> None:
    found = (Return(0, 16, 31),)
    closing = frozenset({7, 15})
    assert [within_return(found, 0, last, closing, 8) for last in (15, 17, 21, 23, 24, 31)] == [False, True, True, False, True, False]
    assert not within_return(found, 8, 17, closing, 8)  # what it does not state, it cannot break off


def test_a_fermata_counts_where_nothing_sounds_without_it() -> None:
    score, _ = tune("cdef", "gggG", "cdef")
    assert held_by_all(score) == {1: 8}
    other = replace(score.notes[7], id="held", part=1, onset=6, duration=4, fermata=False)
    assert held_by_all(replace(score, notes=(*score.notes, other))) == {}


def test_one_fermata_serves_two_players_and_an_upbeat_may_follow_it() -> None:
    """Law: who plays with a held note is held; one beat of what comes next may stand in the bar, two are no upbeat."""
    score, _ = tune("cdef", "ggGf", "cdef")
    second = replace(score.notes[6], id="second", part=1, fermata=False)
    assert held_by_all(replace(score, notes=(*score.notes, second))) == {1: 7}
    early, _ = tune("cdef", "gGff", "cdef")
    assert held_by_all(early) == {}


def test_a_section_ends_with_its_last_ending() -> None:
    """Common practice: repeat signs, double bars and the bar of the second ending end a section; the first bar of that ending does not."""
    bars = list(piece(12).bars)
    bars[3] = replace(bars[3], endings=(1,), ending_start=True, ending_stop="stop", repeat_end=2)
    bars[4] = replace(bars[4], endings=(2,), ending_start=True)
    bars[5] = replace(bars[5], endings=(2,), ending_stop="discontinue")
    bars[8] = replace(bars[8], barline="light-light")
    assert section_ends(bars) == {3, 5, 8}


def test_an_excerpt_goes_on_to_the_fermata() -> None:
    """Common practice: the pause that all hold ends the paragraph, not the close a little before it."""
    score, texture = tune(*THEME, "aabb", "aabb", "abab", "bbbb", "aaab", "aabb", "bbaB", *(("afaf", "gbgb", "fafa") * 15))
    shape = form((1, 8, "half"), (9, 12, "authentic"), (13, 18, ""), (19, 24, ""), (25, 60, ""))
    first, last, decisions = choose_length(score, replace(texture, phrases=shape.phrases), lines.rules("first-year"), None)
    assert (first, last) == (0, 14)
    assert "end where all hold" in decisions[0].sentence


def test_printed_numbers_are_found() -> None:
    bars = piece(12).bars
    assert named_bars("3-5", bars) == (2, 4)
    assert named_bars("7", bars) == (6, 6)
    for wrong in ("5-3", "0-4", "9-13", "a-b", "1-2-3"):
        with pytest.raises(UsageError):
            named_bars(wrong, bars)


def test_first_and_second_endings_stay_together() -> None:
    """Law: no stretch has one ending without the other."""
    bars = list(piece(40).bars)
    bars[7] = replace(bars[7], endings=(1,), ending_start=True, ending_stop="stop", repeat_end=2)
    bars[8] = replace(bars[8], endings=(2,), ending_start=True, ending_stop="discontinue")
    score = replace(piece(40), bars=tuple(bars))
    texture = form((1, 4, "half"), (5, 8, "authentic"), (9, 9, "authentic"), (10, 16, "authentic"), (17, 40, "authentic"))
    for found in stretches(score, texture, lines.rules("first-year")):
        assert found.last != 7
        assert found.first != 8


def test_lonely_repeat_signs_are_taken_off() -> None:
    """A repeat's end without its beginning, an ending without the other and a jump without its goal make no sense in a cut."""
    bars = list(piece(12).bars)
    bars[2] = replace(bars[2], repeat_start=True)
    bars[5] = replace(bars[5], repeat_end=2, jumps=("dal-segno",))
    kept = closed(bars[4:8])
    assert [(bar.repeat_start, bar.repeat_end, bar.jumps) for bar in kept] == [(False, 0, ())] * 4
    assert kept[-1].barline == "light-heavy"
    whole = closed(bars)
    assert (whole[2].repeat_start, whole[5].repeat_end) == (True, 2)


def test_upbeats_belong_to_their_phrases() -> None:
    """The tail of the phrase before and the upbeat to the one after are not played."""
    texture = Texture(phrases=(Phrase(start=0, end=7), Phrase(start=7, end=23), Phrase(start=23, end=40)))
    assert tune_limits(texture, piece(10).bars[1:6]) == (7, 23)


def test_a_section_begins_with_its_first_note() -> None:
    """Law: after a double bar, or at a new tempo, the downbeat is the new section's, even where a phrase before it ends on it."""
    score = piece(4, tempos=(Tempo(onset=0, quarters=44.0, text="Adagio"), Tempo(onset=8, quarters=112.0, text="Allegro")))
    assert [section_begins(score, bar) for bar in score.bars] == [True, False, True, False]
    bars = list(score.bars)
    bars[2] = replace(bars[2], barline="light-light")
    assert section_begins(replace(score, bars=tuple(bars)), bars[3])


def tempo(quarters: float | None, level: str, text: str = "", meter: Meter = FOUR, **more: object) -> tuple[float | None, str]:
    bars = (Bar(index=0, number="1", start=0, length=meter.ticks(12), meter=meter, key=Key(0)),)
    score = Score(resolution=12, bars=bars, tempos=(Tempo(onset=0, quarters=quarters, text=text, **more),))  # type: ignore[arg-type]
    tempos, decisions = choose_tempo(score, lines.rules(level), bars)
    return tempos[0].quarters, decisions[0].sentence


def test_a_tempo_inside_the_level_is_kept() -> None:
    assert tempo(80, "first-year", "Andante") == (80, "Tempo of the source kept: Andante, quarter = 80.")


def test_a_fast_tempo_is_proposed_slower_and_both_are_told() -> None:
    """Early intermediate plays up to 126 (judgement of the level file)."""
    assert tempo(184, "early-intermediate", "Presto") == (
        124,
        "Tempo proposed: quarter = 124, because this level plays up to 124 beats a minute; the source has Presto, quarter = 184.",
    )


def test_words_without_a_number_are_read() -> None:
    """Tempo words in their usual order of speed (metronome bands, common practice)."""
    speeds = [read_words(word) for word in ("Largo", "Adagio", "Andante con moto", "Moderato", "Allegro", "Vivace", "Presto")]
    assert speeds == sorted(speed for speed in speeds if speed)
    assert read_words("Intro") is None
    assert tempo(None, "advanced", "Andante")[0] == 76


def test_a_fast_waltz_is_felt_in_one() -> None:
    three = Meter((3,), 4)
    assert felt_beat(Tempo(onset=0, quarters=288), three, 288) == 3.0
    assert felt_beat(Tempo(onset=0, quarters=120), three, 120) == 1.0
    assert felt_beat(Tempo(onset=0, quarters=90), Meter((6,), 8), 90) == 1.5


def test_tempo_changes_keep_their_order() -> None:
    """Law: what is faster in the source is not slower in the draft."""
    bars = piece(8).bars
    tempos = (Tempo(onset=0, quarters=120.0), Tempo(onset=8, quarters=200.0), Tempo(onset=16, quarters=60.0))
    for level in ("first-year", "intermediate", "advanced"):
        out, _ = choose_tempo(Score(resolution=1, bars=bars, tempos=tempos), lines.rules(level), bars)
        speeds = [mark.quarters or 0 for mark in out]
        assert speeds[1] >= speeds[0] >= speeds[2]


def test_tempo_words_end_with_the_sentence() -> None:
    """The full stop that editions print after tempo words is not one inside a reason."""
    _, told = tempo(56, "first-year", "Largo ed uno poco piano.")
    assert "Largo ed uno poco piano, quarter = 56" in told


def test_a_chosen_speed_is_printed_though_the_source_only_plays_one() -> None:
    """A pupil must see the number; a speed that is kept stays as the source has it, unseen."""
    played = Tempo(onset=0, quarters=160.0, text="Allegro", sounding=True)
    slower = replace(played, quarters=96.0)
    (found,) = shown((slower,), (played,), FOUR)
    assert (found.sounding, found.unit, found.dots, found.quarters) == (False, "quarter", 0, 96.0)
    assert shown((played,), (played,), FOUR) == (played,)
    (dotted,) = shown((slower,), (played,), Meter((6,), 8))
    assert (dotted.unit, dotted.dots) == ("quarter", 1)


def test_each_tempo_is_weighed_in_its_own_beat() -> None:
    """Common practice: a slow introduction counted in eighths does not hold back an allegro counted in halves."""
    alla_breve = Meter((2,), 2)
    bars = tuple(Bar(index=i, number=str(i + 1), start=4 * i, length=4, meter=alla_breve, key=Key(0)) for i in range(8))
    tempos = (Tempo(onset=0, quarters=44.0, text="Adagio", unit="eighth"), Tempo(onset=16, quarters=224.0, text="Allegro", unit="half"))
    out, _ = choose_tempo(Score(resolution=1, bars=bars, tempos=tempos), lines.rules("late-intermediate"), bars)
    assert [(mark.quarters, mark.unit) for mark in out] == [(44.0, "eighth"), (224.0, "half")]


def test_the_log_counts_as_the_page_does() -> None:
    """Law: who reads alla breve in quarters finds quarters on the page and in the reason.

    A tempo that nobody wrote is counted in the metre's beat.
    """
    bars = piece(8).bars
    (mark,), (told,) = choose_tempo(
        Score(resolution=1, bars=bars, tempos=(Tempo(onset=0, quarters=264.0, text="Allegro", unit="half"),)),
        lines.rules("first-year"),
        bars,
    )
    assert (mark.unit, told.unit) == ("quarter", "quarters a minute")
    assert told.sentence.startswith(f"Tempo proposed: quarter = {mark.quarters:.0f}")
    nine = (Bar(index=0, number="1", start=0, length=9, meter=Meter((9,), 8), key=Key(0)),)
    (mark,), _ = choose_tempo(Score(resolution=2, bars=nine), lines.rules("advanced"), nine)
    assert (mark.unit, mark.dots, mark.quarters) == ("quarter", 1, 96.0)


@pytest.mark.parametrize(("tonic", "mode", "last"), [(7, "major", 15), (9, "minor", 15), (6, "major", 7), (2, "minor", 7), (5, "major", 7)])
def test_a_full_close_far_from_home_is_no_end(tonic: int, mode: str, last: int) -> None:
    """A close in the dominant or the relative key ends an excerpt, one in another does not (common practice: where first parts close)."""
    keys = (LocalKey(start=0, end=32, tonic=0, mode="major"), LocalKey(start=32, end=160, tonic=tonic, mode=mode))
    heard = form((1, 8, ""), (9, 16, "authentic"), (17, 40, ""), keys=keys)
    first, end, _ = choose_length(piece(40), heard, lines.rules("first-year"), None)
    assert (first, end) == (0, last)


@pytest.mark.parametrize(
    ("cadence", "bars", "words"), [("", (32, 39), "state the theme where it returns"), ("authentic", (0, 7), "state the theme")]
)
def test_where_the_beginning_comes_to_no_end_its_return_is_played(cadence: str, bars: tuple[int, int], words: str) -> None:
    """Law: a theme that leads away from home when it is first stated is played where it comes again and closes (common practice: the
    recapitulation stays at home); one that closes at once is played from the beginning."""
    away = ("bbaa", "bbgg", "abab", "ffaa", "bgbg", "afaf", "bbbb", "aaaa")
    score, heard = tune(*THEME, *away, *away[::-1], *away, *THEME)
    left = 32 if cadence else 24
    keys = (
        LocalKey(start=0, end=left, tonic=0, mode="major"), LocalKey(start=left, end=128, tonic=1, mode="major"),
        LocalKey(start=128, end=160, tonic=0, mode="major"),
    )  # fmt: skip
    phrases = form((1, 8, cadence), (9, 16, "authentic"), (17, 32, ""), (33, 40, "authentic")).phrases
    first, last, (told, *_) = choose_length(score, replace(heard, phrases=phrases, keys=keys), lines.rules("first-year"), None)
    assert (first, last) == bars
    assert f"because they {words} and end with a full close in the key of their beginning" in told.sentence
