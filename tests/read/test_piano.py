"""A two-staff piano score as a draft, a person's or our own."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from reduce.model.draft import Draft
from reduce.notate import musicxml
from reduce.read import as_draft, load
from reduce.rulebook import load as rules
from tests.read.markup import INSTRUMENTS, back, document, n, r, read, start, words

LEVEL = rules("advanced").level
STAVES = "<staves>2</staves>"


def piano(folder: Path, *bars: str) -> Draft | None:
    return as_draft(read(folder, document(("Piano", [start(2, "4/4", 0, STAVES) + bars[0], *bars[1:]]))))


def heard(draft: Draft | None) -> list[tuple[str, int, str, int, int]]:
    assert draft is not None
    return [(x.hand, x.strand, str(x.pitch), x.onset, x.duration) for x in draft.notes]


def test_hands_and_strands(tmp_path: Path) -> None:
    """Hand by staff; where two voices are at work the outer one is strand 1: the upper of the right hand, the lower of the left."""
    right = n("e5 8", staff="1") + back("8") + n("c5 4", staff="1", voice="2") + n("b4 4", staff="1", voice="2")
    left = n("g3 4", staff="2", voice="5") + n("f3 4", staff="2", voice="5") + back("8") + n("c3 8", staff="2", voice="6")
    assert heard(piano(tmp_path, right + back("8") + left)) == [
        ("right", 1, "E5", 0, 192), ("right", 2, "C5", 0, 96), ("left", 2, "G3", 0, 96), ("left", 1, "C3", 0, 192),
        ("right", 2, "B4", 96, 96), ("left", 2, "F3", 96, 96),
    ]  # fmt: skip


def test_single_voice_is_the_outer_strand(tmp_path: Path) -> None:
    """Where only one voice is at work it is strand 1, whatever its number; a chord is one strand."""
    right = r("8") + back("8") + n("c5 8", staff="1", voice="2") + n("e5 8", staff="1", voice="2", chord=True)
    assert [strand for _, strand, *_ in heard(piano(tmp_path, right))] == [1, 1]


def test_voices_numbered_upside_down(tmp_path: Path) -> None:
    """Some programs number voices from below; the upper line of the right hand is strand 1 all the same."""
    right = n("c5 8", staff="1") + back("8") + n("e5 4", staff="1", voice="2") + n("f5 4", staff="1", voice="2")
    assert [(pitch, strand) for _, strand, pitch, *_ in heard(piano(tmp_path, right))] == [("E5", 1), ("C5", 2), ("F5", 1)]


def test_note_on_the_other_staff_stays_in_its_hand(tmp_path: Path) -> None:
    """A voice at home on the lower staff may climb to the upper one without changing hands."""
    left = "".join(n(f"{pitch} 1", staff="2", voice="5") for pitch in ("c3", "e3", "g3", "c4", "e4", "c4", "g3"))
    draft = piano(tmp_path, n("g5 8", staff="1") + back("8") + left + n("g4 1", staff="1", voice="5"))
    assert draft is not None
    last = next(x for x in draft.notes if str(x.pitch) == "G4")
    assert (last.hand, last.staff) == ("left", 1)


def test_two_parts_are_two_staves(tmp_path: Path) -> None:
    """Two keyboard parts of one staff each are the two hands; a flute and a cello are no piano piece."""
    bars = [start() + n("c5 4")], [start() + n("c3 4")]
    hands = as_draft(read(tmp_path, document(("Piano", bars[0]), ("Piano", bars[1]))))
    assert [hand for hand, *_ in heard(hands)] == ["right", "left"]
    assert as_draft(read(tmp_path, document(("Flute", bars[0]), ("Violoncello", bars[1])))) is None
    assert as_draft(read(tmp_path, document(("Violin", bars[0])))) is None


def test_cue_and_hidden_notes_are_not_played(tmp_path: Path) -> None:
    """A pianist plays neither cues nor what is not printed."""
    bar = n("c5 4", staff="1", head="<cue/>") + n("e5 2", staff="1", attributes=' print-object="no"') + n("g5 2", staff="1")
    assert [pitch for _, _, pitch, *_ in heard(piano(tmp_path, bar))] == ["G5"]


ROUND = (
    "<direction placement='above'><direction-type><words font-weight='bold'>Andante</words></direction-type>"
    "<direction-type><metronome><beat-unit>quarter</beat-unit><per-minute>72</per-minute></metronome></direction-type>"
    "<sound tempo='72'/></direction><direction><direction-type><dynamics><mf/></dynamics></direction-type></direction>"
    "<direction><direction-type><wedge type='crescendo'/></direction-type></direction>"
    + n("d5", "<type>eighth</type>", head='<grace slash="yes"/>', staff="1")
    + n("e5 4", '<notations><slur type="start" number="1"/><articulations><accent/></articulations></notations>', staff="1")
    + n("f#5 3", '<tie type="start"/><notations><technical><fingering>4</fingering></technical></notations>', staff="1")
    + n("f#5 1", '<tie type="stop"/>', staff="1")
    + back("8")
    + n("g3 4", staff="2", voice="5") + n("a3 4", "<notations><fermata/></notations>", staff="2", voice="5")
    + back("8")
    + "<direction><direction-type><pedal type='start'/></direction-type><staff>2</staff></direction>"
    + n("c3 8", "<notations><arpeggiate/></notations>", staff="2", voice="6"),
    "<direction><direction-type><wedge type='stop'/></direction-type></direction>"
    "<direction><direction-type><pedal type='stop'/></direction-type><staff>2</staff></direction>"
    + words("dolce")
    + n("g5 8", '<notations><slur type="stop" number="1"/><ornaments><trill-mark/></ornaments></notations>', staff="1")
    + back("8") + r("8", "<staff>2</staff>", voice="5")
    + '<barline location="right"><bar-style>light-heavy</bar-style></barline>',
)  # fmt: skip


def test_reading_our_own_output_gives_the_same_draft(tmp_path: Path) -> None:
    """Law 6: what is written and read again is the same draft: notes with their ids, marks, tempo, bars, facts."""
    first = piano(tmp_path, *ROUND)
    assert first is not None
    first = replace(first, title="A Walk", subtitle="in fog", composer="Nemo", arranger="Nobody", level="advanced", transposed=-2)
    written = musicxml(first, LEVEL)
    path = tmp_path / "draft.musicxml"
    path.write_bytes(written)
    second = as_draft(load(path, INSTRUMENTS))
    assert second is not None
    ticks = second.resolution // first.resolution
    assert ticks == 1
    assert second.notes == first.notes
    assert sorted(second.marks, key=repr) == sorted(first.marks, key=repr)
    assert second.tempos == first.tempos
    assert second.bars == first.bars
    assert (second.title, second.subtitle, second.composer, second.arranger) == ("A Walk", "in fog", "Nemo", "Nobody")
    assert (second.level, second.transposed) == ("advanced", -2)
    assert musicxml(second, LEVEL) == written


def test_a_note_tied_on_into_the_other_voice_lies_there_from_its_beginning(tmp_path: Path) -> None:
    """Law: nothing of a strand overlaps, although both notes of a chord stand in one voice until one of them moves."""
    low = n("c3 8", '<tie type="start"/>', staff="2", voice="5") + n("e3 8", '<tie type="start"/>', staff="2", voice="5", chord=True)
    upper = n("e3 4", '<tie type="stop"/>', staff="2", voice="5") + n("g3 4", staff="2", voice="5")
    lower = n("c3 8", '<tie type="stop"/>', staff="2", voice="6")
    right = n("c5 8", staff="1") + back("8")
    assert [x for x in heard(piano(tmp_path, right + low, right + upper + back("8") + lower)) if x[0] == "left"] == [
        ("left", 2, "E3", 0, 288), ("left", 1, "C3", 0, 384), ("left", 2, "G3", 288, 96),
    ]  # fmt: skip
