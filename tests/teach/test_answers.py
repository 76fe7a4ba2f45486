"""The answers of the worksheet."""

from __future__ import annotations

from pathlib import Path

import music21
import pytest

from reduce.model.pitch import Pitch
from reduce.model.texture import Chord
from reduce.teach.answers import Answer, answers, in_thirds
from tests.teach.material import FERRY, WALTZ, lesson, sample

LEVELS = ("first-year", "late-beginner", "intermediate", "advanced")
KINDS = {  # our kinds as music21 10 calls them (its `Chord.commonName` and `chordSymbolFigureFromChord`)
    "major": "major", "minor": "minor", "diminished": "diminished", "augmented": "augmented", "dominant-seventh": "dominant-seventh",
    "minor-seventh": "minor-seventh", "major-seventh": "major-seventh", "half-diminished": "half-diminished-seventh",
    "diminished-seventh": "diminished-seventh", "minor-major-seventh": "minor-major-seventh",
}  # fmt: skip


def names(text: str, folder: Path, level: str = "advanced") -> list[str]:
    return [answer.name for answer in answers(lesson(text, folder, level)) if answer.asked or answer.example]


def as_music21(pitches: tuple[Pitch, ...]) -> music21.chord.Chord:
    signs = {-2: "--", -1: "-", 0: "", 1: "#", 2: "##"}
    return music21.chord.Chord([f"{p.step}{signs[p.alter]}{p.octave}" for p in pitches])


def complete(found: tuple[Answer, ...]) -> list[Answer]:
    return [answer for answer in found if (answer.asked or answer.example) and not answer.silent]


@pytest.mark.parametrize("score", [WALTZ, FERRY], ids=lambda path: path.stem)
@pytest.mark.parametrize("level", LEVELS)
def test_root_and_kind_as_music21_hears_them(score: Path, level: str) -> None:
    """Of every chord that sounds whole, music21 (`Chord.root`, `harmony.chordSymbolFigureFromChord`) names root and kind as we do."""
    found = complete(answers(sample(score, level)))
    assert found
    ours = [(answer.name.partition("/")[0].replace("♯", "#").replace("♭", "-"), answer.chord.quality) for answer in found]
    theirs = []
    for answer in found:
        chord = as_music21((*answer.lower, *answer.upper))
        root = chord.root().name
        kind = music21.harmony.chordSymbolFigureFromChord(chord, True)[1]
        theirs.append((root, {"dominant": "dominant-seventh", "half-diminished-seventh": "half-diminished"}.get(kind, kind)))
    letters = [(name[: 2 if name[1:2] in ("#", "-") else 1], kind) for name, kind in ours]
    assert letters == theirs


@pytest.mark.parametrize("score", [WALTZ, FERRY], ids=lambda path: path.stem)
def test_thirds_are_thirds(score: Path) -> None:
    """A chord piled up stands line upon line or space upon space, and its keys are those of the chord."""
    for answer in answers(sample(score, "advanced")):
        steps = [pitch.diatonic - answer.thirds[0].diatonic for pitch in answer.thirds]
        assert steps == [0, 2, 4, 6][: len(steps)]
        assert [pitch.midi % 12 for pitch in answer.thirds] == list(answer.chord.tones)


@pytest.mark.parametrize(
    ("name", "root", "quality", "tones", "expected"),
    [
        ("F♯m7/C♯", 6, "minor-seventh", (6, 9, 1, 4), "F♯4 A4 C♯5 E5"),
        ("B♭", 10, "major", (10, 2, 5), "B♭4 D5 F5"),
        ("G♯dim7", 8, "diminished-seventh", (8, 11, 2, 5), "G♯4 B4 D5 F5"),
        ("E♭aug", 3, "augmented", (3, 7, 11), "E♭4 G4 B4"),
    ],
)
def test_spelled_from_the_name(name: str, root: int, quality: str, tones: tuple[int, ...], expected: str) -> None:
    """Chord spellings (common practice)."""
    chord = Chord(start=0, end=1, root=root, quality=quality, bass=root, tones=tones, name=name)
    assert expected == " ".join(map(str, in_thirds(chord)))


def test_without_a_third_nothing_is_asked(tmp_path: Path) -> None:
    """An open fifth is neither major nor minor (common practice)."""
    text = """
    meter 4/4
    Violin 1 | g4:1 | d5:1 |
    Cello    | <g2 d3>:1 | <g2 d3>:1 |
    """
    assert [] == names(text, tmp_path)


def test_a_chord_that_lasts_is_asked_once(tmp_path: Path) -> None:
    """Two bars of one chord are one question; the second bar goes on."""
    text = """
    meter 4/4
    Violin 1 | e5:1 | e5:1 | d5:1 |
    Cello    | <c3 g3>:1 | <c3 g3>:1 | <g2 b3>:1 |
    """
    found = answers(lesson(text, tmp_path, "advanced"))
    assert [(0, False), (1, True), (2, False)] == [(answer.bar, answer.goes_on) for answer in found]
    assert ["C", "G"] == names(text, tmp_path)


def test_questions_are_counted() -> None:
    """Numbers run from one without a gap; the example has none."""
    found = answers(sample(WALTZ, "late-beginner"))
    asked = [answer.number for answer in found if answer.asked]
    assert list(range(1, len(asked) + 1)) == asked
    assert [0] == [answer.number for answer in found if answer.example]
