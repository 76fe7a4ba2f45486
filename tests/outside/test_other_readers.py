"""Another reader finds the same notes in our files.

Source: music21 (Cuthbert and others), its MusicXML and MIDI readers; it shares no code with ours.
"""

from __future__ import annotations

import warnings
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings

from reduce.model.draft import Draft
from reduce.notate import midi, musicxml
from reduce.pipeline import draft as drafted
from tests.notate.scores import drafts, level

SAMPLES = sorted((Path(__file__).parents[2] / "samples").glob("*.musicxml"))


def near(value: object) -> Fraction:
    """music21 rounds odd fractions to small denominators; so do we before comparing."""
    return Fraction(value).limit_denominator(64)  # type: ignore[arg-type]


def music21_notes(data: bytes) -> list[tuple[int, Fraction, Fraction, int]]:
    """(staff, onset, duration, MIDI number), in quarter-notes.

    Ties are joined here: music21's own joining loses notes that change their voice at a bar line.
    """
    from music21 import converter

    with warnings.catch_warnings():
        warnings.simplefilter("error")
        score = converter.parse(data, format="musicxml")
    found = []
    for staff, part in enumerate(score.parts, 1):
        tied: dict[tuple[int, Fraction], tuple[Fraction, Fraction]] = {}  # (key, end so far) -> (onset, duration)
        for chord in part.flatten().notes:
            if chord.duration.isGrace:
                continue
            onset, duration = Fraction(chord.offset), Fraction(chord.quarterLength)
            for note in chord.notes if chord.isChord else (chord,):
                first, before = onset, Fraction(0)
                if note.tie is not None and note.tie.type in ("stop", "continue"):
                    first, before = tied.pop((note.pitch.midi, near(onset)))
                whole = before + duration
                if note.tie is not None and note.tie.type in ("start", "continue"):
                    tied[note.pitch.midi, near(onset + duration)] = (first, whole)
                else:
                    found.append((staff, near(first), near(whole), note.pitch.midi))
        assert not tied
    return sorted(found)


def our_notes(draft: Draft) -> list[tuple[int, Fraction, Fraction, int]]:
    unit = draft.resolution
    return sorted(
        (note.staff or (1 if note.hand == "right" else 2), near(Fraction(note.onset, unit)), near(Fraction(note.duration, unit)), note.midi)
        for note in draft.notes
        if not note.grace
    )


@pytest.mark.parametrize("name", ("first-year", "early-intermediate", "advanced"))
@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.stem)
def test_music21_reads_the_same_notes(path: Path, name: str) -> None:
    """Staff, onset, duration and key of every note of our samples' drafts, without a warning."""
    result = drafted(path, level=name)
    assert our_notes(result.draft) == music21_notes(musicxml(result.draft, result.rules.level, result.rules))


@settings(max_examples=8, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(draft=drafts())
def test_music21_reads_any_draft(draft: Draft) -> None:
    """Random drafts with odd ticks, tuplets, two voices a hand."""
    if draft.resolution > 240:
        return  # music21 rounds such fractions
    assert our_notes(draft) == music21_notes(musicxml(draft, level()))


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.stem)
def test_music21_hears_the_same_notes(path: Path) -> None:
    """The MIDI file as music21 reads it has the keys of the draft, hand by hand (repeats are heard more than once)."""
    from music21 import converter

    draft = drafted(path, level="early-intermediate").draft
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        score = converter.parse(midi(draft), format="midi")
    for hand, part in zip(("right", "left"), score.parts, strict=True):
        keys = {pitch.midi for note in part.flatten().notes for pitch in note.pitches}
        assert {note.midi for note in draft.notes if note.hand == hand} == keys
