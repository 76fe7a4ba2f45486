"""The samples sound as an arranger would write them: common practice, heard note by note from the score text."""

from __future__ import annotations

from itertools import combinations, pairwise
from pathlib import Path

import pytest

from tests.samples.ear import PLAYERS, TEXTS, Ear, compose, lines


@pytest.fixture(scope="module", params=TEXTS, ids=lambda path: path.stem)
def ear(request: pytest.FixtureRequest) -> Ear:
    path: Path = request.param
    return Ear(compose.load(path))


def test_no_minor_seconds_on_strong_beats(ear: Ear) -> None:
    """A semitone (or its octaves) on a strong beat is a suspension: prepared, and led on by step."""
    harsh = []
    for tick in ear.strong_beats:
        heads = [(sound, head) for sound in ear.at(tick) for head in sound.heads]
        for (one, low), (other, high) in combinations(heads, 2):
            if (high - low) % 12 in (1, 11) and not any(
                (ear.prepared(sound, head) or sound.start < tick) and ear.resolves(sound, head)
                for sound, head in ((one, low), (other, high))
            ):
                harsh.append(f"{ear.place(tick)}: {one.staff} {low} against {other.staff} {high}")
    assert [] == harsh


def test_every_chord_is_the_one_that_was_meant(ear: Ear) -> None:
    """Where a chord begins, each note is of the chord, or a suspension, or leans on a chord note a step away."""
    foreign = []
    for chord in ear.harmony:
        for sound in ear.at(chord.start):
            for head in sound.heads:
                if head % 12 not in chord.classes and not (ear.prepared(sound, head) or ear.resolves(sound, head)):
                    foreign.append(f"{ear.place(chord.start)}, {chord.name}: {sound.staff} {head}")
    assert [] == foreign


def test_the_bass_is_the_one_that_was_meant(ear: Ear) -> None:
    """The lowest sounding note where a chord begins is the bass of its symbol."""
    wrong = []
    for chord in ear.harmony:
        if (heads := [head for sound in ear.at(chord.start) for head in sound.heads]) and chord.bass >= 0 and min(heads) % 12 != chord.bass:
            wrong.append(f"{ear.place(chord.start)}, {chord.name}: {min(heads)}")
    assert [] == wrong


def test_leading_notes_and_sevenths_are_there(ear: Ear) -> None:
    """A dominant seventh chord of two beats and more has its third and its seventh."""
    bare = []
    end = ear.start(ear.score.last + 1)
    for chord, after in zip(ear.harmony, [*(c.start for c in ear.harmony[1:]), end], strict=True):
        if chord.name.split("/")[0].endswith("7") and "m" not in chord.name and after - chord.start >= 2 * lines.QUARTER:
            heard = {head % 12 for sound in ear.sounds if sound.start < after and sound.end > chord.start for head in sound.heads}
            if missing := chord.classes - heard - {(chord.root + 7) % 12}:
                bare.append(f"{ear.place(chord.start)}, {chord.name} without {sorted(missing)}")
    assert [] == bare


def test_no_parallel_fifths_or_octaves_with_the_bass(ear: Ear) -> None:
    """The tune and the bass never move the same way from a fifth to a fifth, or from an octave to an octave."""
    parallel = []
    for (one, staff), (two, same) in pairwise(ear.tune()):
        if staff != same:
            continue
        basses = []
        for sound in (one, two):
            basses.append(ear.bass_under(sound))
        top = [max(one.heads), max(two.heads)]
        if not all(basses) or max(basses[0] - top[0], basses[1] - top[1]) >= 0:
            continue  # in unison with the bass: no second voice
        same_way = (top[1] - top[0]) * (basses[1] - basses[0]) > 0
        if same_way and (top[0] - basses[0]) % 12 == (top[1] - basses[1]) % 12 and (top[0] - basses[0]) % 12 in (0, 7):
            parallel.append(f"{ear.place(two.start)}: {staff} {top[0]}-{top[1]} over {basses[0]}-{basses[1]}")
    assert [] == parallel


def test_everyone_plays_within_reach(ear: Ear) -> None:
    """No note lies outside what its player's instrument has; two winds on a staff play at most two notes."""
    for staff, _ in ear.voices:
        name = staff if staff in PLAYERS else staff[:-2]
        heads = [head for (other, _), voice in ear.voices.items() if other == staff for sound in voice for head in sound.heads]
        if heads:
            assert PLAYERS[name].lowest <= min(heads), staff
            assert PLAYERS[name].highest >= max(heads), staff
        if PLAYERS[name].family in ("woodwind", "brass"):
            most = max(len(sound.heads) for (other, _), voice in ear.voices.items() if other == staff for sound in voice)
            assert most <= (2 if "1.2" in PLAYERS[name].name or "3.4" in PLAYERS[name].name else 1), staff


def test_a_tune_can_be_sung(ear: Ear) -> None:
    """Most steps of a tune are seconds, its leaps stay within an octave, and each stretch of it within a tenth."""
    spans: list[list[int]] = [[]]
    for (sound, staff), before in zip(ear.tune(), [None, *ear.tune()], strict=False):
        if before and before[1] != staff:
            spans.append([])
        spans[-1].append(max(sound.heads))
    moves = [abs(b - a) for span in spans for a, b in pairwise(span)]
    assert max(moves) <= 12
    assert sum(move <= 2 for move in moves) >= 0.6 * len(moves)
    assert all(max(span) - min(span) <= 16 for span in spans)
