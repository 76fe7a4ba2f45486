"""Where an excerpt comes to rest.

Source: common practice of harmony books and of teachers' arrangements: a piece ends on its tonic, after the dominant, under a note of the
tune that belongs to it; what begins something else after it is not played.
"""

from __future__ import annotations

from dataclasses import replace
from random import Random

from reduce.arrange.explain import Ledger
from reduce.arrange.length import choose_length, comes_home, rests_at
from reduce.arrange.resting import Resting, at_rest, repeated, without_signs
from reduce.model.score import Mark, Score
from reduce.model.texture import Chord, LocalKey, Phrase, Texture
from tests.arrange import lines
from tests.arrange.test_length import piece, tune

C = LocalKey(start=0, end=10_000, tonic=0, mode="major")


def chord(start: int, end: int, root: int, quality: str = "major", bass: int | None = None) -> Chord:
    return Chord(start=start, end=end, root=root, quality=quality, bass=root if bass is None else bass, tones=(root,))


def song(*bars: str, chords: tuple[Chord, ...], phrases: tuple[Phrase, ...] = ()) -> tuple[Score, Texture]:
    """A tune in quarters with its harmony, in C major."""
    score, texture = tune(*bars)
    return score, replace(texture, chords=chords, keys=(C,), phrases=phrases)


def test_the_tune_rests_on_the_tonic_after_its_dominant() -> None:
    """Law: tonic under a tonic is worth 1; under the third .85, under the fifth .7; in the first inversion four fifths of that."""
    worth = {}
    for note in "cegd":
        score, texture = song("dddd", note * 4, chords=(chord(0, 4, 7), chord(4, 8, 0)))
        rest = Resting(score, texture).rest(score.bars[1], 8, C)
        worth[note] = round(rest.worth, 2) if rest else None
    assert worth == {"c": 1.0, "e": 0.85, "g": 0.7, "d": None}
    score, texture = song("dddd", "cccc", chords=(chord(0, 4, 7), chord(4, 8, 0, bass=4)))
    rest = Resting(score, texture).rest(score.bars[1], 8, C)
    assert rest is not None
    assert (rest.at, rest.until, rest.worth, rest.close) == (4, 8, 0.8, True)


def test_without_a_dominant_it_is_less_of_a_rest() -> None:
    score, texture = song("aaaa", "cccc", chords=(chord(0, 4, 9, "minor"), chord(4, 8, 0)))
    rest = Resting(score, texture).rest(score.bars[1], 8, C)
    assert rest is not None
    assert (rest.worth, rest.close) == (0.6, False)


def test_a_tonic_that_comes_with_an_upbeat_is_no_rest() -> None:
    """Law: on the last of four beats the tonic is a rest after its dominant only; on the third beat it is one without, too."""
    found = {}
    for before in (2, 7):
        for at in (6, 7):
            score, texture = song("aaaa", "d" * (at - 4) + "c" * (8 - at), chords=(chord(0, at, before), chord(at, 8, 0)))
            found[before, at] = Resting(score, texture).rest(score.bars[1], 8, C) is not None
    assert found == {(2, 6): True, (2, 7): False, (7, 6): True, (7, 7): True}


def test_a_section_may_end_where_the_tune_goes_on_at_once() -> None:
    """Law: a close at the end of a section is an end though the tune goes on; elsewhere it is none."""
    score, texture = song("dddd", "cdef", chords=(chord(0, 4, 7), chord(4, 5, 0), chord(5, 8, 5)))
    assert list(Resting(score, texture).closes(score.bars)) == []
    assert list(Resting(score, texture).closes(score.bars, {1})) == [1]


def test_an_excerpt_stops_where_the_fermata_ends() -> None:
    """Law: the upbeat after a fermata that all hold begins what is not played."""
    score, texture = song("cccc", "ggGf", "cdef", chords=(chord(0, 4, 0), chord(4, 12, 7)))
    assert rests_at(score, texture, score.bars[:2]) == 7


def test_an_excerpt_comes_home() -> None:
    """Law: home is the tonic of the beginning after its dominant; another chord, or the tonic alone, is not."""
    ends = {}
    for before, root in ((7, 0), (5, 0), (7, 5)):
        score, texture = song("gggg", "dddd", "cccc", "dddd", chords=(chord(0, 8, before), chord(8, 12, root), chord(12, 16, 7)))
        ends[before, root] = comes_home(score, texture, score.bars[:3])
    assert ends == {(7, 0): True, (5, 0): False, (7, 5): False}


def test_minor_is_no_rest_in_a_major_piece() -> None:
    """Law: a sounding minor third under the last note is the tonic of another key."""
    score, texture = song("dddd", "cccc", chords=(chord(0, 4, 7), chord(4, 8, 0, "minor")))
    third = replace(score.notes[4], id="third", midi=63)
    assert Resting(replace(score, notes=(*score.notes[:4], third, *score.notes[4:])), texture).rest(score.bars[1], 8, C) is None
    assert Resting(score, texture).rest(score.bars[1], 8, C) is not None  # an empty fifth may be either


def test_a_running_tune_is_not_broken_off() -> None:
    """Law: what comes within a beat of the last note belongs to it; what comes later may be left."""
    score, texture = song("dddd", "cdef", chords=(chord(0, 4, 7), chord(4, 5, 0), chord(5, 8, 7)))
    eighths = tuple(replace(n, onset=n.onset, duration=1) for n in score.notes)
    assert Resting(replace(score, notes=eighths), texture).rest(score.bars[1], 8, C) is not None
    quick = replace(score, resolution=2)  # the same ticks as eighths
    assert Resting(quick, texture).rest(score.bars[1], 8, C) is None


def test_an_upbeat_after_a_rest_is_left() -> None:
    """Law: what comes less than a beat after the tonic is left where the tune rests before it, and only there."""
    score, texture = song("dddd", "cccg", chords=(chord(0, 4, 7), chord(4, 8, 0)), phrases=(Phrase(start=0, end=8),))
    kept = tuple(note for note in score.notes if note.id not in ("n1-1", "n1-2"))  # c, silence of half a beat, g
    texture = replace(texture, tune=(replace(texture.tune[0], notes=tuple(note.id for note in kept)),))
    quick = replace(score, resolution=4, notes=kept)
    held = replace(quick, notes=tuple(replace(note, duration=2) if note.id == "n1-0" else note for note in kept))
    found = [Resting(piece, texture).rest(score.bars[1], 8, C) for piece in (quick, held)]
    assert [rest and (rest.until, rest.worth) for rest in found] == [(7, 0.8), (8, 0.42)]


def test_a_short_note_off_the_beat_is_a_weak_end() -> None:
    """Law: a run that reaches the tonic between two beats has not come to rest: it is worth three fifths."""
    score, texture = song("dddd", "gfec", chords=(chord(0, 4, 7), chord(4, 8, 0)), phrases=(Phrase(start=0, end=8),))
    found = [Resting(replace(score, resolution=beat), texture).rest(score.bars[1], 8, C) for beat in (1, 2)]
    assert [rest and rest.worth for rest in found] == [1.0, 0.6]


def test_the_first_note_of_the_next_phrase_may_close_the_one_before() -> None:
    """Law: on the tonic after its dominant, with the bar, a step or leap of an octave at most away (common practice: an elided cadence)."""
    phrases = (Phrase(start=0, end=4), Phrase(start=4, end=12))
    score, texture = song("dddd", "cdef", "gggg", chords=(chord(0, 4, 7), chord(4, 8, 0), chord(8, 12, 7)), phrases=phrases)
    quick = replace(score, resolution=2)  # the tune runs on in eighths
    rest = Resting(quick, texture).rest(score.bars[1], 8, C, phrased=False)
    assert rest is not None
    assert (rest.at, rest.until, rest.worth, rest.elided) == (4, 5, 0.9, True)
    half = replace(texture, phrases=(replace(phrases[0], cadence="half"), phrases[1]))
    assert Resting(quick, half).rest(score.bars[1], 8, C, phrased=False) is None
    assert rests_at(quick, texture, score.bars[:2]) == 5


def test_the_excerpt_ends_on_its_tonic() -> None:
    """Law: of two ends of phrases the one on the tonic in root position is chosen, and the reason says what the last bar has."""
    bars = ["eddc", "eeee", "dddd", "cccc", "eeff", "gggg", "aaaa", "gggg", "eddc", "eeee", "dddd", "cccc", "ffff", "aaaa", "gfgf", "gggg"]
    chance = Random(1)
    bars += ["".join(chance.choices("abdfg", k=4)) for _ in range(24)]
    places = [(4 * k, 4 * k + 4) for k in range(len(bars))]
    roots = [0, 0, 7, 0, 0, 0, 5, 0, 0, 0, 7, 0, 5, 5, 2, 7] + [7, 2] * 12
    chords = tuple(chord(start, end, root) for (start, end), root in zip(places, roots, strict=True))
    phrases = tuple(Phrase(start=16 * k, end=16 * k + 16) for k in range(len(bars) // 4))
    score, texture = song(*bars, chords=chords, phrases=phrases)
    first, last, (told,) = choose_length(score, texture, lines.rules("first-year"), None)
    assert (first, last) == (0, 11)
    assert "end with a full close in the key of their beginning" in told.sentence
    keys = (replace(C, end=36), replace(C, start=36, mode="minor"))
    first, last, (told,) = choose_length(score, replace(texture, keys=keys), lines.rules("first-year"), None)
    assert (first, last) == (0, 11)
    assert "end with a full close on the tonic of their beginning, in minor" in told.sentence


def test_what_follows_the_close_is_not_played() -> None:
    """Law: the last chord stands in root position to the bar's end; later notes and signs are left out, with a reason."""
    chords = (chord(0, 4, 7), chord(4, 6, 0, bass=4), chord(6, 8, 5), chord(8, 12, 7))
    score, texture = song("dddd", "ccff", "gggg", chords=chords, phrases=(Phrase(start=0, end=6), Phrase(start=6, end=12)))
    score = replace(score, marks=tuple(Mark(kind="dynamic", part=0, staff=1, bar=1, onset=at, end=at, text="f") for at in (4, 6)))
    until = rests_at(score, texture, score.bars[:2])
    ledger = Ledger()
    closed, gone = at_rest(score, texture, score.bars[1], until, ledger)
    assert until == 6
    assert [(c.start, c.end, c.root, c.bass) for c in closed.chords] == [(0, 4, 7, 7), (4, 8, 0, 0), (8, 12, 7, 7)]
    assert sorted(gone) == ["n1-2", "n1-3"]
    assert [mark.onset for mark in without_signs(score, until, 8).marks] == [4]
    (told,) = ledger.decisions()
    assert told.sentence == "Bar 2: nothing is played after the close, because what follows begins music that is not in this draft."


def test_a_repeated_section_is_heard_twice() -> None:
    bars = list(piece(12).bars)
    bars[3] = replace(bars[3], repeat_end=2)
    bars[5] = replace(bars[5], repeat_start=True)
    bars[9] = replace(bars[9], repeat_end=2)
    assert repeated(bars) == [(0, 3), (5, 9)]


def test_a_held_dominant_is_an_open_question() -> None:
    """Law: a fermata on the dominant of the beginning is a better end than one on another chord (common practice: the half close)."""
    score, texture = song("cccc", "gggG", "aaaA", chords=(chord(0, 4, 0), chord(4, 8, 7), chord(8, 12, 5)))
    assert [Resting(score, texture).open(tick, C) for tick in (4, 8, 12)] == [False, True, False]
    assert not Resting(score, texture).open(8, None)


def test_what_follows_a_held_tonic_only_leads_on() -> None:
    """Law: after a tonic that is held for two beats, and longer than the rest of its phrase, a short note only leads on."""
    rests = {}
    for held in (1, 3):
        score, texture = song("dddd", "c" * (4 - held) + "e" * held, chords=(chord(0, 4, 7), chord(4, 8, 0)))
        goal = replace(score.notes[4], duration=4 - held)
        score = replace(score, notes=(*score.notes[:4], goal, replace(score.notes[8 - held], duration=held)))
        lead = replace(texture.tune[0], notes=tuple(note.id for note in score.notes))
        rest = Resting(score, replace(texture, tune=(lead,))).rest(score.bars[1], 8, C)
        rests[held] = (rest.until, rest.worth) if rest else None
    assert {1: (7, 1.0), 3: (8, 0.85)} == rests
