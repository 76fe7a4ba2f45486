"""Doubts about how parts sound: asked, never guessed silently.  Transpositions: common practice, harmony textbooks."""

from __future__ import annotations

from pathlib import Path

import pytest

from reduce.model.errors import UsageError
from reduce.model.score import Score
from reduce.read import load
from reduce.read.instruments import find_instrument
from reduce.read.sounding import interval_words
from tests.read.markup import INSTRUMENTS, document, n, r, read, start, transpose, words

CHORDS = ("c4 e4 g4", "f4 a4 c5", "g4 b4 d5", "c4 e4 g4", "a4 c5 e5", "d4 f4 a4", "g4 b4 d5", "c4 e4 g4")
STRINGS = ("Violin 1", "Violin 2", "Viola")


def chorale(*more: tuple[str, list[str]], fifths: int = 0, rounds: int = 2) -> tuple[tuple[str, list[str]], ...]:
    """Three string parts in plain chords, half-notes, with other parts above."""
    parts = []
    for k, name in enumerate(STRINGS):
        notes = [chord.split()[k] for chord in CHORDS * rounds]
        bars = [n(f"{notes[i]} 2") + n(f"{notes[i + 1]} 2") for i in range(0, len(notes), 2)]
        parts.append((name, [start(fifths=fifths) + bars[0], *bars[1:]]))
    return (*more, *parts)


def melody(written: str, fifths: int = 0, more: str = "", rounds: int = 2) -> list[str]:
    notes = written.split() * rounds
    bars = [n(f"{notes[i]} 2") + n(f"{notes[i + 1]} 2") for i in range(0, len(notes), 2)]
    return [start(fifths=fifths, more=more) + bars[0], *bars[1:]]


SOUNDING = "e5 f5 d5 c5 c5 d5 b4 e5"  # the tune as it should sound: chord notes all
FOR_A_CLARINET = "g5 ab5 f5 eb5 eb5 f5 d5 g5"  # the same for a clarinet in A
FOR_B_FLAT_CLARINET = "f#5 g5 e5 d5 d5 e5 c#5 f#5"


def doubts(score: Score, part: str) -> list[tuple[str, str]]:
    return [(p.severity, p.code) for p in score.problems if p.part == part]


def first(score: Score, part: int = 0) -> str:
    return next(str(note.pitch) for note in score.notes if note.part == part)


def test_missing_transposition_shown_by_the_signature(tmp_path: Path) -> None:
    """A clarinet in A with three flats beside parts without: it is moved a minor third lower, and that is told."""
    score = read(tmp_path, document(*chorale(("Clarinet in A", melody(FOR_A_CLARINET, fifths=-3)))))
    assert doubts(score, "Clarinet in A") == [("doubt", "moved")]
    assert first(score) == "E5"
    assert [(t.diatonic, t.chromatic) for t in score.parts[0].transpositions] == [(-2, -3)]


def test_missing_transposition_shown_by_the_chords(tmp_path: Path) -> None:
    """Without a signature (a horn has none) nearly every chord must agree before the part is moved."""
    score = read(tmp_path, document(*chorale(("Horn in D", melody("d6 eb6 c6 bb5 bb5 c6 a5 d6")))))
    assert doubts(score, "Horn in D") == [("doubt", "moved")]
    assert first(score) == "E5"


def test_concert_pitch_is_noticed(tmp_path: Path) -> None:
    """A clarinet in A noted at sounding pitch, with everyone's signature: read as it stands, with a note."""
    score = read(tmp_path, document(*chorale(("Clarinet in A", melody(SOUNDING)))))
    assert doubts(score, "Clarinet in A") == [("note", "concert")]
    assert first(score) == "E5"


def test_missing_transposition_that_nothing_shows(tmp_path: Path) -> None:
    """A lone horn in E flat: read as written, and asked."""
    score = read(tmp_path, document(("Horn in E flat", [start(fifths=None) + n("c5 4")])))
    assert doubts(score, "Horn in E flat") == [("doubt", "transposition")]
    assert "a major sixth lower" in score.problems[-1].sentence
    assert first(score) == "C5"


def test_unknown_crook(tmp_path: Path) -> None:
    """A horn in nothing, with a tune that only fits in another crook: asked, with the crook that would fit."""
    score = read(tmp_path, document(*chorale(("Corno", melody("b5 c6 a5 g5 g5 a5 f#5 b5")))))
    assert doubts(score, "Corno") == [("doubt", "crook")]
    assert "in F" in next(p.sentence for p in score.problems if p.part == "Corno")
    assert first(score) == "B5"


@pytest.mark.parametrize("name", ("Corno", "Horn in E flat", "Clarinet in A"))
def test_doubts_about_a_whole_part_name_the_bar_of_its_entry(name: str, tmp_path: Path) -> None:
    """Where to look: the first bar in which the part plays."""
    bars = [start(fifths=None) + r("4"), "{12a}" + n("c5 4")]
    score = read(tmp_path, document((name, bars), ("Flute", [start() + n("c6 4"), "{12a}" + n("c6 4")])))
    assert [(p.part, p.bar) for p in score.problems if p.severity == "doubt"] == [(name, "12a")]


def test_name_against_file(tmp_path: Path) -> None:
    """A clarinet that is in A by name and in B flat by the file: the file is followed, the doubt told."""
    score = read(tmp_path, document(*chorale(("Clarinet in A", melody(FOR_B_FLAT_CLARINET, more=transpose(-1, -2))))))
    assert doubts(score, "Clarinet in A") == [("doubt", "crook")]
    assert first(score) == "E5"


def test_chord_that_becomes_clean_elsewhere(tmp_path: Path) -> None:
    """A transposition that makes the part clash, where another crook would be clean, is asked about and not changed."""
    score = read(tmp_path, document(*chorale(("Clarinet", melody(FOR_A_CLARINET, more=transpose(-1, -2))))))
    assert doubts(score, "Clarinet") == [("doubt", "crook")]
    assert "Clarinet in A" in next(p.sentence for p in score.problems if p.part == "Clarinet")
    assert first(score) == "F5"


def test_right_transposition_is_not_doubted(tmp_path: Path) -> None:
    """A part that sounds well is left in peace."""
    score = read(tmp_path, document(*chorale(("Clarinet in A", melody(FOR_A_CLARINET, fifths=-3, more=transpose(-2, -3))))))
    assert score.problems == ()


def test_change_of_crook_without_transposition(tmp_path: Path) -> None:
    """ "muta in D" is printed but the file goes on transposing as before."""
    bars = [start(fifths=None, more=transpose(-4, -7)) + n("c5 4") + words("muta in D"), n("c5 4")]
    score = read(tmp_path, document(("Horn in F", bars)))
    assert doubts(score, "Horn in F") == [("doubt", "crook")]
    changed = [bars[0], f"<attributes>{transpose(-6, -10)}</attributes>" + n("c5 4")]
    assert read(tmp_path, document(("Horn in F", changed))).problems == ()


def test_change_of_instrument_without_transposition(tmp_path: Path) -> None:
    """A flute told to take the piccolo, in a file that goes on as before, is asked about; the way back is none of that."""
    bars = [start() + n("c5 4") + words("muta in Piccolo"), n("c5 4")]
    assert doubts(read(tmp_path, document(("Flauto", bars))), "Flauto") == [("doubt", "crook")]
    assert read(tmp_path, document(("Flauto", [start() + n("c5 4") + words("muta in Oboe")]))).problems == ()


def test_answer_of_the_arranger(tmp_path: Path) -> None:
    """An answer settles how a part sounds, against name and file; a wrong one is refused with the names there are."""
    path = tmp_path / "score.musicxml"
    path.write_text(document(("Corno", [start(fifths=None, more=transpose(-4, -7)) + n("c5 4")])), encoding="utf-8")
    score = load(path, INSTRUMENTS, sounds={"Corno": "horn-in-eb"})
    assert (first(score), score.problems) == ("E♭4", ())
    assert first(load(path, INSTRUMENTS, sounds={"Corno": "as-written"})) == "C5"
    with pytest.raises(UsageError, match="horn-in-eb"):
        load(path, INSTRUMENTS, sounds={"Corno": "horn-in-ebb"})
    with pytest.raises(UsageError, match="the parts are Corno"):
        load(path, INSTRUMENTS, sounds={"Tromba": "trumpet-in-d"})


@pytest.mark.parametrize(("pitch", "expected"), [("e1", []), ("g2", [("doubt", "octave")]), ("d4", [("doubt", "octave")])])
def test_octave_of_the_double_bass(tmp_path: Path, pitch: str, expected: list[tuple[str, str]]) -> None:
    """Below low E the file must mean sounding notes; else whether the octave is in the file is asked."""
    score = read(tmp_path, document(("Contrabasso", [start() + n(f"{pitch} 4")])))
    assert expected == doubts(score, "Contrabasso")


def test_octave_clef_tells(tmp_path: Path) -> None:
    """A bass clef with a small 8 says that the pitches sound (W3C MusicXML 4.0, clef-octave-change)."""
    clef = "<clef><sign>F</sign><line>4</line><clef-octave-change>-1</clef-octave-change></clef>"
    assert read(tmp_path, document(("Contrabasso", [start(more=clef) + n("g2 4")]))).problems == ()


@pytest.mark.parametrize(
    ("name", "key"),
    [
        ("Flauto I", "flute"), ("Fl. picc.", "piccolo"), ("Ob.", "oboe"), ("2 Oboen", "oboe"), ("Cor anglais", "english-horn"),
        ("Corno inglese", "english-horn"), ("Klarinette in Es", "clarinet-in-eb"), ("Clarinetti in La", "clarinet-in-a"),
        ("Clarinette en Si♭", "clarinet-in-bb"), ("Klarinetten in B", "clarinet-in-bb"), ("Clarinetto basso", "bass-clarinet-in-bb"),
        ("Fagotti", "bassoon"), ("Contrafagotto", "contrabassoon"), ("Corni in Es 1.2.", "horn-in-eb"), ("Hörner in F", "horn-in-f"),
        ("Cors en Fa", "horn-in-f"), ("Horn in B♭ basso", "horn-in-bb-basso"), ("Corno in Si♭ alto", "horn-in-bb-alto"),
        ("Trompeten in C", "trumpet-in-c"), ("Tromba in Re", "trumpet-in-d"), ("Posaune 3", "trombone"), ("Bassposaune", "bass-trombone"),
        ("Basstuba", "tuba"), ("Pauken", "timpani"), ("Timpani in D-A", "timpani"), ("C, G Timpani", "timpani"), ("Triangel", "triangle"),
        ("Große Trommel", "bass-drum"), ("Piatti", "cymbals"), ("Harfe", "harp"), ("Arpa", "harp"), ("Violino I", "violin"),
        ("Geigen", "violin"), ("Bratsche", "viola"), ("Alto", "alto"), ("Violoncelli", "cello"), ("Contrabbassi", "double-bass"),
        ("Violoncello e Basso", "cello-and-bass"), ("Soprano", "soprano"), ("Cembalo", "harpsichord"), ("Theremin", ""),
    ],
)  # fmt: skip
def test_names_in_four_languages(name: str, key: str) -> None:
    """Part names as scores print them (common practice)."""
    found = find_instrument(name, "", "", None, False, INSTRUMENTS)
    assert key == (found.key if found else "")


@pytest.mark.parametrize(
    ("semitones", "said"),
    [
        (-3, "a minor third lower"),
        (12, "an octave higher"),
        (-14, "a major ninth lower"),
        (-21, "an octave and a major sixth lower"),
        (24, "two octaves higher"),
    ],
)
def test_intervals_in_words(semitones: int, said: str) -> None:
    """Intervals as a musician says them."""
    assert said == interval_words(semitones)
