"""The answers of the worksheet."""

from __future__ import annotations

from pathlib import Path

import music21
import pytest

from reduce.model.pitch import Pitch
from reduce.model.record import replace
from reduce.model.texture import Chord
from reduce.teach.answers import Answer, answers, asked_in, in_thirds
from reduce.teach.worksheet import lines
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


def test_a_silent_seventh_is_not_named(tmp_path: Path) -> None:
    """In the bar in which only G, B and D sound the chord is a triad, whatever was heard before (music21 names it so too)."""
    text = """
    meter 4/4
    Violin 1 | f5:1 | d5:1 | e5:1 |
    Cello    | <g2 b3>:1 | <g2 b3>:1 | <c3 g3>:1 |
    """
    made = lesson(text, tmp_path, "advanced")
    seventh = next(chord for chord in made.chords if chord.quality == "dominant-seventh")
    found = answers(replace(made, chords=(replace(seventh, start=0, end=made.draft.bars[1].end), *made.chords[-1:])))
    assert [("G7", "V7"), ("G", "V"), ("C", "I")] == [(answer.name, answer.chord.roman) for answer in found]
    assert as_music21((*found[1].lower, *found[1].upper)).commonName == "major triad"


@pytest.mark.parametrize("level", ["first-year", "early-intermediate", "intermediate", "advanced"])
def test_what_makes_the_name_sounds(level: str) -> None:
    """Root and third of each chord that is asked sound in its bar; so do the seventh and, where the kind hangs on it, the fifth."""
    for answer in answers(sample(FERRY, level)):
        if answer.asked or answer.example:
            needed = {0, 1, 3} | ({2} if answer.chord.quality.startswith(("dim", "aug", "half")) else set())
            assert [k for k, pitch in enumerate(answer.thirds) if pitch in answer.silent and k in needed] == []


def test_a_silent_fifth_is_of_the_key(tmp_path: Path) -> None:
    """B and D in A minor leave the fifth open, so nothing is asked; with F sharp on the page it is B minor (common practice)."""
    text = """
    meter 4/4
    Violin 1 | e5:1 | d5:1 | e5:1 |
    Cello    | <a2 c4>:1 | <b2 d4>:1 | <a2 c4>:1 |
    """
    assert ["Am", "Am"] == names(text, tmp_path)
    assert "Bm" in names(text.replace("<b2 d4>", "<b2 f#4>"), tmp_path)


@pytest.mark.parametrize("level", ["early-intermediate", "intermediate", "advanced"])
def test_the_lowest_head_is_the_bass(level: str) -> None:
    """Of the chords that are asked nearly all have the bass of their name as the lowest head, as the pupil is told to read it."""
    asked = [answer for answer in answers(sample(FERRY, level)) if answer.asked or answer.example]
    lowest = [min((*answer.lower, *answer.upper), key=lambda pitch: pitch.midi).midi % 12 for answer in asked]
    assert sum(low != answer.chord.bass for low, answer in zip(lowest, asked, strict=True)) <= len(asked) // 20


def test_a_sheet_of_a_lesson() -> None:
    """Of a long piece some lines are asked, with no more questions than the rule allows; the answers are those of the whole sheet."""
    piece = sample(FERRY, "intermediate")
    found = answers(piece)
    shown = lines(piece, found)
    told = asked_in(found, {k for first, last in shown for k in range(first, last + 1)})
    asked = [answer for answer in told if answer.asked]
    assert len(shown) > 1
    assert len(asked) <= piece.rules.whole("teach.worksheet-length.questions")
    assert list(range(1, len(asked) + 1)) == [answer.number for answer in asked]
    assert [answer.chord for answer in asked] == [
        answer.chord for answer in found if (answer.bar, answer.start) in {(a.bar, a.start) for a in asked}
    ]


def test_questions_are_counted() -> None:
    """Numbers run from one without a gap; the example has none."""
    found = answers(sample(WALTZ, "late-beginner"))
    asked = [answer.number for answer in found if answer.asked]
    assert list(range(1, len(asked) + 1)) == asked
    assert [0] == [answer.number for answer in found if answer.example]
