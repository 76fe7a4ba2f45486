"""Tune and bass against published baselines and against scores where both are known.

Sources: the skyline (Uitdenbogerd and Zobel, ACM Multimedia 1998 and 1999): at every moment the highest note struck is the melody.
Scores: songs, a concert piece and chorales in the corpus of music21, where the solo part or the soprano is the melody and the bass
part the bass (common practice).
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache
from pathlib import Path

import pytest

from reduce.analyse import bass, melody, streams
from reduce.analyse.melody import survey
from reduce.model.score import Note, Score
from reduce.model.texture import Lead
from reduce.read import load
from tests.analyse.hearing import rules

music21 = pytest.importorskip("music21")
CORPUS = Path(music21.__file__).parent / "corpus"
SONGS = {"schubert/Lindenbaum.xml": 0, "schumann_robert/opus48no2.mxl": 0, "weber/concertino_clarinet.mxl": 0}
CHORALES = ("bwv347", "bwv281", "bwv40.8", "bwv65.2", "bwv277", "bwv318", "bwv302", "bwv153.1")


@lru_cache(maxsize=32)
def heard(name: str) -> tuple[Score, tuple[Lead, ...], tuple[Lead, ...]]:
    score = load(CORPUS / name, rules().instruments)
    lines, stream_of = streams(score)
    seen = survey(score, lines, stream_of, rules())
    assert seen is not None
    tune, _ = melody(score, lines, seen, rules())
    low, _ = bass(score, lines, stream_of, tune, rules())
    return score, tune, low


def struck(score: Score) -> list[Note]:
    return [n for n in score.notes if n.kind == "struck" and n.duration > 0]


def skyline(score: Score) -> set[tuple[int, int]]:
    """The highest note struck at each moment, unless a higher one is held."""
    notes = struck(score)
    top: dict[int, int] = {}
    for note in notes:
        top[note.onset] = max(top.get(note.onset, 0), note.midi)
    return {(at, midi) for at, midi in top.items() if not any(n.midi > midi for n in notes if n.onset < at < n.end)}


def found(score: Score, leads: tuple[Lead, ...]) -> set[tuple[int, int]]:
    return {(score.note_by_id[n].onset, score.note_by_id[n].midi) for lead in leads for n in lead.notes if score.note_by_id[n].duration}


def f1(truth: set[tuple[int, int]], line: Iterable[tuple[int, int]]) -> float:
    line = set(line)
    return 2 * len(truth & line) / (len(truth) + len(line))


@pytest.mark.parametrize("name", SONGS)
def test_the_solo_part_is_found_better_than_by_the_skyline(name: str) -> None:
    """F1 over onsets and pitches of the solo part, preludes and interludes of the piano counted as wrong for both."""
    score, tune, _ = heard(name)
    truth = {(n.onset, n.midi) for n in struck(score) if n.part == SONGS[name]}
    assert f1(truth, found(score, tune)) > f1(truth, skyline(score))


def test_the_soprano_of_chorales_is_found_as_well_as_by_the_skyline() -> None:
    """Where the tune is on top the skyline is nearly perfect; so is the path (mean over eight chorales)."""
    ours, theirs = [], []
    for name in CHORALES:
        score, tune, _ = heard(f"bach/{name}.mxl")
        truth = {(n.onset, n.midi) for n in struck(score) if n.part == 0}
        ours.append(f1(truth, found(score, tune)))
        theirs.append(f1(truth, skyline(score)))
    assert sum(ours) >= sum(theirs) - 0.01 * len(theirs)


@pytest.mark.parametrize("name", CHORALES)
def test_the_bass_of_chorales_is_the_lowest_sounding_line(name: str) -> None:
    """Every note that is lowest when struck is in the bass line, and nothing else is."""
    score, _, low = heard(f"bach/{name}.mxl")
    notes = struck(score)
    lowest = {(n.onset, n.midi) for n in notes if all(other.midi >= n.midi for other in notes if other.onset <= n.onset < other.end)}
    assert found(score, low) == lowest
