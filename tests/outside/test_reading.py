"""Reading against music21: its reader, its corpus, its instrument tables, and the LilyPond MusicXML suite it carries.

Source of all expected values: music21 (Cuthbert and Ariza, 2010), as installed.
"""

from __future__ import annotations

import tomllib
import warnings
from bisect import bisect_right
from collections import Counter
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from reduce.model.errors import InputError
from reduce.model.pitch import SEMITONES, STEPS
from reduce.model.score import Score
from reduce.read import load
from reduce.rulebook import load as rules

music21 = pytest.importorskip("music21")

PACKAGE = Path(music21.__file__).parent
CORPUS = PACKAGE / "corpus"
SUITE = PACKAGE / "musicxml" / "lilypondTestSuite"
INSTRUMENTS = rules("advanced").instruments
TABLE = tomllib.loads((Path(__file__).parents[2] / "rules" / "instruments.toml").read_text(encoding="utf-8"))

SCORES = (
    "beethoven/opus18no1/movement3.mxl", "corelli/opus3no1/1grave.xml", "handel/rinaldo/Lascia_chio_pianga.mxl",
    "haydn/opus1no1/movement1.mxl", "haydn/opus1no1/movement2.mxl", "haydn/opus1no1/movement4.mxl", "haydn/opus74no1/movement3.mxl",
    "johnson_j_r/lift_every_voice.mxl", "joplin/maple_leaf_rag.mxl", "liliuokalani/aloha_oe.mxl", "lusitano/allor_che_ignuda.mxl",
    "monteverdi/madrigal.3.1.mxl", "monteverdi/madrigal.4.11.mxl", "monteverdi/madrigal.5.4.mxl", "mozart/k155/movement2.mxl",
    "mozart/k155/movement3.mxl", "mozart/k156/movement1.mxl", "mozart/k156/movement3.mxl", "mozart/k156/movement4.mxl",
    "mozart/k80/movement2.mxl", "mozart/k80/movement3.mxl", "mozart/k80/movement4.mxl", "mozart/k458/movement2.mxl",
    "mozart/k545/movement1_exposition.mxl", "schoenberg/opus19/movement2.mxl", "schoenberg/opus19/movement6.mxl",
    "schumann_clara/polonaise_op1n1.mxl", "schumann_clara/polonaise_op1n3.mxl", "schumann_robert/opus41no1/movement2.mxl",
    "schumann_robert/opus48no2.mxl", "bach/bwv1.6.mxl", "bach/bwv10.7.mxl", "bach/bwv248.23-s.mxl", "demos/two-parts.xml",
    "demos/nested_tuplet_finale_test.xml", "trecento/PMFC_06_Giovanni-04_De_Come_Dolce_Mente.xml",
)  # fmt: skip

Heads = Counter[tuple[Any, ...]]


def quietly(read: Any, *given: Any) -> Any:
    """Call into music21, which warns of much that does not concern us."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return read(*given)


def by_music21(path: Path) -> tuple[list[Heads], set[tuple[Fraction, ...]]]:
    """Noteheads of each music21 part (bar index, onset in the bar, duration, spelled sounding pitch) and where its bars begin."""
    from music21.converter.subConverters import ConverterMusicXML

    reader = ConverterMusicXML()
    reader.parseFile(path)
    score = reader.stream.toSoundingPitch()
    parts, starts = [], set()
    for part in score.parts:
        heads: Heads = Counter()
        bars = list(part.getElementsByClass(music21.stream.Measure))
        starts.add(tuple(exact(bar.offset) for bar in bars))
        for index, bar in enumerate(bars):
            for element in bar.recurse().notes:
                if isinstance(element, music21.harmony.Harmony | music21.note.Unpitched | music21.percussion.PercussionChord):
                    continue
                grace = element.duration.isGrace
                at = None if grace else exact(element.getOffsetInHierarchy(bar))
                lasts = Fraction(0) if grace else exact(element.quarterLength)
                for pitch in element.pitches:
                    heads[index, at, lasts, pitch.step, int(pitch.alter), pitch.implicitOctave] += 1
        parts.append(heads)
    return parts, starts


def exact(quarters: Any) -> Fraction:
    return Fraction(quarters).limit_denominator(10_000)


def by_us(score: Score, part: int) -> Heads:
    """The same of one of our parts: tied notes are taken apart again."""
    heads: Heads = Counter()
    starts = [bar.start for bar in score.bars]
    for note in score.notes:
        if note.part != part:
            continue
        name = (note.pitch.step, note.pitch.alter, note.pitch.octave)
        if note.kind == "grace":
            heads[note.bar, None, Fraction(0), *name] += 1
            continue
        at = note.onset
        for piece in note.written:
            bar = bisect_right(starts, at) - 1
            heads[bar, Fraction(at - starts[bar], score.resolution), Fraction(piece, score.resolution), *name] += 1
            at += piece
    return heads


@pytest.mark.parametrize("name", SCORES)
def test_same_noteheads_as_music21(name: str) -> None:
    """Onset, duration, sounding pitch and spelling of every notehead are those of music21's reader.

    Each music21 part stands for one staff of ours.  Graces are compared by bar and pitch: music21 puts those at the end of a bar
    after it, we with the note they follow.
    """
    parts, starts = quietly(by_music21, CORPUS / name)
    score = load(CORPUS / name, INSTRUMENTS)
    staves = [sum(p.staves for p in score.parts[:index]) for index in range(len(score.parts) + 1)]
    assert staves[-1] == len(parts)
    for part in score.parts:
        theirs: Heads = sum(parts[staves[part.index] : staves[part.index + 1]], Counter())
        ours = by_us(score, part.index)
        assert (theirs - ours, ours - theirs) == (Counter(), Counter()), part.name
    if len(starts) == 1:  # music21 lets a part with a short bar run ahead of the others; where it does not, bars begin alike
        assert starts == {tuple(Fraction(bar.start, score.resolution) for bar in score.bars)}


def test_enough_scores() -> None:
    """The comparison covers 25 scores of several parts at least."""
    several = [name for name in SCORES if len(load(CORPUS / name, INSTRUMENTS).parts) > 1]
    assert len(several) >= 25


@pytest.mark.parametrize("path", sorted(p for p in SUITE.iterdir() if p.suffix in (".xml", ".mxl")), ids=lambda p: p.name)
def test_regression_suite(path: Path) -> None:
    """Every file of the LilyPond MusicXML suite is read, or refused with one sentence."""
    try:
        score = load(path, INSTRUMENTS)
    except InputError as refusal:
        assert str(refusal).count("\n") == 0
    else:
        assert score.bars
        assert all(problem.sentence.endswith(".") for problem in score.problems)


def interval(name: str) -> tuple[int, int]:
    """Steps and semitones of a music21 interval."""
    found = music21.interval.Interval(name)
    return found.diatonic.generic.staffDistance, found.semitones


SAME_AS_CLASS = {
    "piccolo": "Piccolo", "flute": "Flute", "oboe": "Oboe", "english-horn": "EnglishHorn", "clarinet-in-bb": "Clarinet",
    "bass-clarinet-in-bb": "BassClarinet", "bassoon": "Bassoon", "soprano-saxophone": "SopranoSaxophone",
    "alto-saxophone": "AltoSaxophone", "tenor-saxophone": "TenorSaxophone", "baritone-saxophone": "BaritoneSaxophone",
    "horn-in-f": "Horn", "trumpet-in-bb": "Trumpet", "trombone": "Trombone", "tuba": "Tuba", "timpani": "Timpani", "harp": "Harp",
    "piano": "Piano", "harpsichord": "Harpsichord", "violin": "Violin", "viola": "Viola", "cello": "Violoncello",
    "double-bass": "Contrabass",
}  # fmt: skip


@pytest.mark.parametrize(("key", "name"), SAME_AS_CLASS.items())
def test_transposition_of_instrument_classes(key: str, name: str) -> None:
    """rules/instruments.toml transposes as music21's instrument classes do."""
    theirs = getattr(music21.instrument, name)().transposition
    expected = (0, 0) if theirs is None else (theirs.diatonic.generic.staffDistance, theirs.semitones)
    assert expected == (INSTRUMENTS[key].diatonic, INSTRUMENTS[key].chromatic)


SAME_AS_LOOKUP = {
    "clarinet-in-a": ("clarinet", "a"), "clarinet-in-bb": ("clarinet", "b-"), "clarinet-in-d": ("clarinet", "d"),
    "clarinet-in-eb": ("clarinet", "e-"), "horn-in-a": ("horn", "a"), "horn-in-c": ("horn", "c"), "horn-in-d": ("horn", "d"),
    "horn-in-e": ("horn", "e"), "horn-in-eb": ("horn", "e-"), "horn-in-f": ("horn", "f"), "horn-in-g": ("horn", "g"),
    "english-horn": ("horn", "english"), "trumpet-in-a": ("trumpet", "a"), "trumpet-in-bb": ("trumpet", "b-"),
    "trumpet-in-c": ("trumpet", "c"), "trumpet-in-d": ("trumpet", "d"), "trumpet-in-eb": ("trumpet", "e-"),
    "trumpet-in-b": ("trumpet", "b-natural"), "trumpet-in-f": ("trumpet", "f"), "bass-trumpet-in-c": ("trumpet", "c bass"),
    "bass-trumpet-in-eb": ("trumpet", "e- bass"), "cornet-in-bb": ("trumpet", "cornet"), "flugelhorn": ("trumpet", "flugelhorn"),
}  # fmt: skip


@pytest.mark.parametrize(("key", "place"), SAME_AS_LOOKUP.items())
def test_transposition_of_crooks(key: str, place: tuple[str, str]) -> None:
    """The crooks transpose as in music21's table languageExcerpts.instrumentLookup, "P1" meaning no transposition."""
    from music21.languageExcerpts.instrumentLookup import transposition

    steps, semitones = interval(transposition[place[0]][place[1]])
    ours = INSTRUMENTS[key]
    assert semitones == ours.chromatic
    assert steps == ours.diatonic


SOUNDING_LOWEST = {
    "piccolo": "Piccolo", "oboe": "Oboe", "clarinet-in-bb": "Clarinet", "bassoon": "Bassoon", "english-horn": "EnglishHorn",
    "trumpet-in-bb": "Trumpet", "trombone": "Trombone", "bass-trombone": "BassTrombone", "tuba": "Tuba", "violin": "Violin",
    "viola": "Viola", "cello": "Violoncello", "piano": "Piano", "harpsichord": "Harpsichord",
}  # fmt: skip


@pytest.mark.parametrize(("key", "name"), SOUNDING_LOWEST.items())
def test_lowest_notes(key: str, name: str) -> None:
    """The lowest note is music21's written one, moved to sounding (music21 gives written notes for transposing instruments)."""
    instrument = getattr(music21.instrument, name)()
    written = instrument.lowestNote.midi
    assert written + INSTRUMENTS[key].chromatic == INSTRUMENTS[key].lowest


def test_every_instrument_transposes_by_a_plain_interval() -> None:
    """Steps and semitones of each row belong together: the interval is perfect, major, minor or a tritone (MusicXML 4.0, transpose)."""
    for key, row in TABLE.items():
        steps, semitones = row["written_to_sounding"]["diatonic"], row["written_to_sounding"]["chromatic"]
        octaves, step = divmod(steps, 7)
        natural = 12 * octaves + SEMITONES[step]
        assert abs(semitones - natural) <= 1, key
        assert step < len(STEPS)
