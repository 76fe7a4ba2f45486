"""The harmonic rhythm that a level can take."""

from __future__ import annotations

from itertools import pairwise

from hypothesis import given, settings
from hypothesis import strategies as st

from reduce.arrange.harmonic_rhythm import thin
from reduce.model.score import Bar, Key, Meter
from reduce.model.texture import Chord, Phrase

BARS = tuple(Bar(index=i, number=str(i + 1), start=16 * i, length=16, meter=Meter((4,), 4), key=Key()) for i in range(4))


def chord(start: int, end: int, root: int, bass: int | None = None) -> Chord:
    """A major triad; ticks of a sixteenth."""
    tones = (root, (root + 4) % 12, (root + 7) % 12)
    return Chord(start=start, end=end, root=root, quality="major", bass=root if bass is None else bass, tones=tones)


def told(chords: tuple[Chord, ...], per_bar: int, phrases: tuple[Phrase, ...] = ()) -> list[tuple[int, int, int, int]]:
    return [(each.start, each.end, each.root, each.bass) for each in thin(chords, BARS, per_bar, resolution=4, phrases=phrases)]


def test_passing_chord_goes() -> None:
    """One a bar: the chord of the strong beat stays and takes the time of the others."""
    chords = (chord(0, 8, 0), chord(8, 12, 5), chord(12, 16, 7), chord(16, 32, 0))
    assert told(chords, 1) == [(0, 32, 0, 0)]
    assert told(chords, 2) == [(0, 8, 0, 0), (8, 16, 5, 5), (16, 32, 0, 0)]


def test_enough_room() -> None:
    """Where the level can take them all, every record stays as it is."""
    chords = (chord(0, 8, 0), chord(8, 16, 5), chord(16, 32, 7))
    assert thin(chords, BARS, 4, resolution=4) == chords


def test_cadence_stays() -> None:
    """The dominant and the tonic at the end of a phrase stay although each is short and weak."""
    chords = (chord(0, 10, 0), chord(10, 12, 5), chord(12, 14, 7), chord(14, 16, 0), chord(16, 32, 5))
    close = (Phrase(start=0, end=16, cadence="authentic"), Phrase(start=16, end=64))
    assert told(chords, 2, close) == [(0, 14, 7, 7), (14, 16, 0, 0), (16, 32, 5, 5)]
    assert told(chords, 2) == [(0, 12, 0, 0), (12, 16, 7, 7), (16, 32, 5, 5)]


def test_inversions() -> None:
    """A change of bass alone is given up before a change of chord; the first bass stays."""
    chords = (chord(0, 4, 0), chord(4, 8, 0, 4), chord(8, 16, 7, 11))
    assert told(chords, 2) == [(0, 8, 0, 0), (8, 16, 7, 11)]


def test_silence_stays() -> None:
    """A chord does not sound into a silence of the source."""
    assert told((chord(0, 8, 0), chord(32, 48, 7)), 1) == [(0, 8, 0, 0), (32, 48, 7, 7)]


@given(st.lists(st.tuples(st.integers(1, 20), st.integers(0, 11), st.booleans()), min_size=1, max_size=12), st.integers(1, 4))
@settings(max_examples=150, deadline=None)
def test_laws(steps: list[tuple[int, int, bool]], per_bar: int) -> None:
    """Never more chords begin in a bar than the level takes, none overlap, and exactly the time that sounded is covered."""
    chords = []
    at = 0
    for length, root, rest in steps:
        start = at + (16 if rest else 0)
        end = min(start + length, 64)
        if start < end:
            chords.append(chord(start, end, root))
        at = end
    fewer = thin(tuple(chords), BARS, per_bar, resolution=4)
    assert all(sum(bar.start <= each.start < bar.end for each in fewer) <= per_bar for bar in BARS)
    assert all(first.end <= second.start for first, second in pairwise(fewer))
    sounded = {tick for each in chords for tick in range(each.start, each.end)}
    assert {tick for each in fewer for tick in range(each.start, each.end)} <= sounded
    if per_bar >= 4:
        assert sum(each.end - each.start for each in fewer) == len(sounded)


def test_changes_come_with_the_beat() -> None:
    """A chord an eighth after the beat waits for the next one, a sixteenth after it comes with it; common practice in beginners' pieces."""
    assert told((chord(0, 2, 7), chord(2, 16, 0), chord(16, 32, 5)), 2) == [(0, 4, 7, 7), (4, 16, 0, 0), (16, 32, 5, 5)]
    assert told((chord(0, 9, 7), chord(9, 16, 0), chord(16, 32, 5)), 2) == [(0, 8, 7, 7), (8, 16, 0, 0), (16, 32, 5, 5)]


def test_a_close_in_one_bar_keeps_its_dominant() -> None:
    """Law: one chord a bar, but a close is two; not where one of them is shorter than a beat.  Source: common practice of harmony."""
    phrase = (Phrase(start=0, end=32, cadence="authentic"),)
    chords = (chord(0, 16, 0), chord(16, 20, 5), chord(20, 24, 7), chord(24, 32, 0))
    assert [each[2] for each in told(chords, 1, phrase)] == [0, 7, 0]
    brief = (chord(0, 16, 0), chord(16, 22, 5), chord(22, 24, 7), chord(24, 32, 0))
    assert [each[2] for each in told(brief, 1, phrase)] == [0]


def test_a_closing_chord_takes_no_bar_from_another() -> None:
    """Law: with one chord a bar the dominant on the last beat comes beside the chord of the bar; one shorter than a beat gives way."""
    phrase = (Phrase(start=0, end=24, cadence="authentic"), Phrase(start=24, end=64))
    chords = (chord(0, 12, 5), chord(12, 16, 7), chord(16, 32, 0))
    assert told(chords, 1, phrase) == [(0, 12, 5, 5), (12, 16, 7, 7), (16, 32, 0, 0)]
    brief = (chord(0, 14, 5), chord(14, 16, 7), chord(16, 32, 0))
    assert told(brief, 1, phrase) == [(0, 16, 5, 5), (16, 32, 0, 0)]
