"""Playback hints that count eighths where they should count quarters."""

from __future__ import annotations

import pytest

from reduce.model.score import Bar, Key, Meter, Tempo
from reduce.read.believable import believable
from reduce.read.findings import Findings


def read(meter: Meter, *tempos: Tempo) -> tuple[list[tuple[float | None, str]], int]:
    """(quarters, unit) of each tempo as it is believed, and how many doubts were told; bars of 24 ticks."""
    bars = [Bar(index=i, number=str(i + 1), start=24 * i, length=24, meter=meter, key=Key()) for i in range(8)]
    findings = Findings()
    found = believable(tempos, bars, findings)
    return [(tempo.quarters, tempo.unit) for tempo in found], len(findings.problems())


@pytest.mark.parametrize(
    ("meter", "quarters", "words", "believed"),
    [
        (Meter((3,), 8), 116.0, "Poco Allegretto", 58.0),  # 232 eighths a minute are no allegretto (metronome: 100-128; common practice)
        (Meter((3,), 8), 80.0, "Andante con moto", 40.0),
        (Meter((2,), 8), 56.0, "Adagio", 28.0),
        (Meter((3,), 8), 58.0, "Poco Allegretto", 58.0),  # right as it is
        (Meter((3,), 8), 138.0, "Vivace", 138.0),  # quick words say nothing here: one beat a bar
        (Meter((3,), 8), 116.0, "", 116.0),  # nothing to hold it against
        (Meter((6,), 8), 90.0, "Allegretto", 90.0),  # the beat is dotted
        (Meter((3,), 4), 116.0, "Andante", 116.0),  # quarters are what it counts
    ],
)
def test_a_hint_is_held_against_its_word(meter: Meter, quarters: float, words: str, believed: float) -> None:
    """MusicXML 4.0: ``tempo`` of ``sound`` counts quarter-notes a minute, whatever the metre's beat."""
    found, doubts = read(meter, Tempo(onset=0, quarters=quarters, text=words, sounding=True))
    assert found == [(believed, "quarter" if believed == quarters else "eighth")]
    assert doubts == (believed != quarters)


def test_what_is_printed_stands() -> None:
    """A metronome mark is the composer's or the editor's; a hint 'a tempo' follows the word that it goes back to."""
    allegretto = Tempo(onset=0, quarters=116.0, text="Allegretto", sounding=True)
    back = Tempo(onset=96, quarters=116.0, text="a tempo", sounding=True)
    printed = Tempo(onset=144, quarters=116.0, text="Allegretto")
    found, _ = read(Meter((3,), 8), allegretto, back, printed)
    assert found == [(58.0, "eighth"), (58.0, "eighth"), (116.0, "quarter")]
