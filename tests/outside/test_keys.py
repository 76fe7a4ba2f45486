"""Keys against music21's profile analysers, and the profile against its table."""

from __future__ import annotations

import warnings
from pathlib import Path

import pytest

from reduce.analyse.harmony import harmony
from reduce.read import load
from tests.analyse.hearing import rules

music21 = pytest.importorskip("music21")
CORPUS = Path(music21.__file__).parent / "corpus"
PIECES = ("bwv269", "bwv347", "bwv267", "bwv281", "bwv40.8", "bwv38.6", "bwv65.2", "bwv33.6", "bwv318", "bwv351", "bwv302")


def home(path: Path) -> tuple[int, str]:
    """The key that lasts longest in the whole piece."""
    score = load(path, rules().instruments)
    time: dict[tuple[int, str], int] = {}
    for key in harmony(score, rules())[1]:
        time[key.tonic, key.mode] = time.get((key.tonic, key.mode), 0) + key.end - key.start
    return max(time, key=lambda each: time[each])


def test_main_key_against_profiles() -> None:
    """The key with the most time is the one that the Krumhansl-Schmuckler, Aarden-Essen or Temperley profiles give the whole chorale.

    Source: music21.analysis.discrete.  At least nine of eleven agree with the analysers' majority.
    """
    from music21.analysis import discrete

    agreed = 0
    for name in PIECES:
        path = CORPUS / f"bach/{name}.mxl"
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            stream = music21.converter.parse(path)
            votes = [
                (found.tonic.pitchClass, found.mode)
                for found in (
                    kind(stream).getSolution(stream)
                    for kind in (discrete.KrumhanslSchmuckler, discrete.AardenEssen, discrete.TemperleyKostkaPayne)
                )
            ]
        agreed += home(path) == max(votes, key=votes.count)
    assert agreed >= 9


def test_profile_is_the_published_one() -> None:
    """The profile of ``rules/harmony.toml`` is Temperley's (2007) from the Kostka-Payne corpus, as music21 carries it."""
    from music21.analysis.discrete import TemperleyKostkaPayne

    table = TemperleyKostkaPayne()
    for mode in ("major", "minor"):
        ours = rules().numbers(f"harmony.key-profiles.{mode}")
        theirs = table.getWeights(mode)
        scale = sum(theirs) / sum(ours)
        assert [round(value * scale, 3) for value in ours] == pytest.approx([round(value, 3) for value in theirs], abs=0.002)
