"""Streams: one playing line for each voice of each staff, and the kind of player behind a name."""

from __future__ import annotations

import pytest

from reduce.analyse.lines import grid, outline
from reduce.analyse.streams import desk, desks_of, streams
from reduce.model.score import Part
from tests.analyse.hearing import score


def part(name: str) -> Part:
    return Part(index=0, id="P1", name=name, short="", instrument="", family="unknown")


@pytest.mark.parametrize(
    ("name", "kind"),
    [
        ("Flauto I", "flute"), ("Piccolo", "flute"), ("Traverso 1", "flute"), ("Hautbois", "oboe"), ("English Horn", "oboe"),
        ("Corno inglese", "oboe"), ("Klarinette in A", "clarinet"), ("Fagotto", "bassoon"), ("Contrabassoon", "bassoon"),
        ("Corni in F", "horn"), ("Eb Horn 2", "horn"), ("Tromba 1", "trumpet"), ("Tenor Trombone", "trombone"), ("Bass Tuba", "tuba"),
        ("Pauken", "percussion"), ("Violino I", "violin"), ("Viola", "viola"), ("Bratsche", "viola"), ("Violoncello", "cello"),
        ("Violone", "double-bass"), ("Kontrabass", "double-bass"), ("Sopran", "voice"), ("Bass", "voice"), ("Continuo", "keyboard"),
    ],
)  # fmt: skip
def test_a_part_name_tells_the_kind_of_player(name: str, kind: str) -> None:
    """Names in English, Italian, French and German lead to the same desks (common practice)."""
    assert desk(part(name)) == kind


TWO = """
meter 4/4
Flute   | c5:4 d5 e5 f5 | g5:1 |
Viola   | <c4 e4>:2 <d4 f4> | <e4 g4>:1 |
"""


def test_chords_belong_to_one_stream_and_its_outline_is_their_top() -> None:
    """A chord is one line's, whose outline is the highest note."""
    heard = score(TWO)
    lines, stream_of = streams(heard)
    assert [line.name for line in lines] == ["Flute", "Viola"]
    assert len(stream_of) == len(heard.notes)
    viola = outline(heard, lines, stream_of)[1]
    assert [note.midi for note in viola.notes] == [64, 65, 67]
    assert viola.sizes == (2, 2, 2)


def test_beats_are_felt_beats() -> None:
    """Six-eight has two beats a bar, three-four three (common practice)."""
    assert grid(score("meter 6/8\nFlute | c5:4. d5 | e5:2. |")).per_bar == 2
    assert grid(score("meter 3/4\nFlute | c5:4 d5 e5 | f5:2. |")).per_bar == 3


def test_an_unknown_part_on_one_pitch_is_a_drum() -> None:
    """Old scores write the Turkish band on one line; it marks the beat and is no bass."""
    heard = score("meter 2/4\nFlute | c5:4 d5 | e5:2 |\nBanda | c2:8 c2 c2 c2 | c2 c2 c2 c2 |\nKnabe | c2:8 d2 c2 e2 | c2 f2 c2 c2 |")
    lines, stream_of = streams(heard)
    assert desks_of(heard, lines, stream_of) == ("flute", "percussion", "unknown")


def test_who_plays_alone_is_no_drum() -> None:
    """A single part that repeats one note has something to say all the same."""
    heard = score("meter 2/4\nPart 1 | a4:8 a4 a4 a4 | a4 a4 a4 a4 |")
    lines, stream_of = streams(heard)
    assert desks_of(heard, lines, stream_of) == ("unknown",)
