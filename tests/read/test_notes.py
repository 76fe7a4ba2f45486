"""Pitch, time and ties of what is read.  What each element means: W3C MusicXML 4.0."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.read.markup import back, codes, document, n, one, r, read, start, told, transpose

TRIAD = {0, 4, 7}

# Twelve instruments as their players read a sounding C major triad (transpositions: common practice, harmony textbooks).
PLAYERS = [
    ("Piccolo", "piccolo", "e5", transpose(0, 0, 1), 88),
    ("Flute", "flute", "g5", "", 79),
    ("English Horn", "english-horn", "g4", transpose(-4, -7), 60),
    ("Clarinet in A", "clarinet-in-a", "eb5", transpose(-2, -3), 72),
    ("Clarinet in B flat", "clarinet-in-bb", "f#4", transpose(-1, -2), 64),
    ("Clarinetto piccolo in mi bemolle", "clarinet-in-eb", "a4", transpose(2, 3), 72),
    ("Bassklarinette", "bass-clarinet-in-bb", "d5", transpose(-1, -2, -1), 60),
    ("Kontrafagott", "contrabassoon", "c3", transpose(0, 0, -1), 36),
    ("Corni 1, 2 in F", "horn-in-f", "d5", transpose(-4, -7), 67),
    ("Cor en ré", "horn-in-d", "d5", transpose(-6, -10), 64),
    ("D Trumpet 1", "trumpet-in-d", "bb4", transpose(1, 2), 72),
    ("Kontrabaß", "double-bass", "c3", transpose(0, 0, -1), 36),
]


def test_twelve_instruments_sound_one_triad(tmp_path: Path) -> None:
    """Whatever each player reads, the written pitch and its transposition give the sounding note, spelling included."""
    score = read(tmp_path, document(*[(name, [start(more=move) + n(f"{pitch} 4")]) for name, _, pitch, move, _ in PLAYERS]))
    assert [midi for *_, midi in PLAYERS] == [note.midi for note in score.notes]
    assert {note.midi % 12 for note in score.notes} == TRIAD
    assert {note.pitch.name for note in score.notes} == {"C", "E", "G"}
    assert [key for _, key, *_ in PLAYERS] == [part.instrument for part in score.parts]


def test_transposition_keeps_the_written_spelling(tmp_path: Path) -> None:
    """Written F sharp for a horn in D sounds G sharp, not A flat: steps move with semitones."""
    score = one(tmp_path, start(more=transpose(-6, -10)) + n("f#5 4"), name="Horn in D")
    assert told(score) == [("G♯4", 0.0, 4.0)]


def test_transposition_without_steps(tmp_path: Path) -> None:
    """Some programs leave out the diatonic step; the plain name of the interval is taken."""
    score = one(tmp_path, start(more="<transpose><chromatic>-2</chromatic></transpose>") + n("d5 4"), name="Clarinet")
    assert [str(note.pitch) for note in score.notes] == ["C5"]


def test_change_of_crook(tmp_path: Path) -> None:
    """From the second bar on the clarinet is in B flat."""
    change = f"<attributes>{transpose(-1, -2)}</attributes>"
    score = one(tmp_path, start(more=transpose(-2, -3)) + n("eb5 4"), change + n("d5 4"), name="Clarinet in A")
    assert [str(note.pitch) for note in score.notes] == ["C5", "C5"]
    assert [(t.onset, t.chromatic) for t in score.parts[0].transpositions] == [(0, -3), (192, -2)]


def test_transposition_of_one_staff(tmp_path: Path) -> None:
    """A transposition with a staff number moves that staff only."""
    more = "<staves>2</staves>" + transpose(-4, -7, staff="2")
    score = one(tmp_path, start(more=more) + n("c5 4", staff="1") + back("4") + n("g4 4", voice="5", staff="2"), name="Horns")
    assert [(str(note.pitch), note.staff) for note in score.notes] == [("C5", 1), ("C4", 2)]
    assert score.parts[0].staves == 2


def test_octave_line_is_not_applied_twice(tmp_path: Path) -> None:
    """MusicXML pitches below an ottava line already sound (W3C MusicXML 4.0, octave-shift); the line is a mark."""
    line = '<direction><direction-type><octave-shift type="{}" size="8"/></direction-type></direction>'
    score = one(tmp_path, start() + line.format("down") + n("c6 2") + n("d6 2") + line.format("stop"))
    assert told(score) == [("C6", 0.0, 2.0), ("D6", 2.0, 2.0)]
    assert [(m.kind, m.text, m.onset, m.end) for m in score.marks] == [("ottava", "8va", 0, 192)]


def test_tied_notes_are_struck_once(tmp_path: Path) -> None:
    """Three tied pieces over a bar line are one note; the pieces stay known."""
    score = one(
        tmp_path,
        start() + r("2") + n("c4 2", '<tie type="start"/>'),
        n("c4 4", '<tie type="stop"/><tie type="start"/>'),
        n("c4 1", '<tie type="stop"/>') + r("3"),
    )
    assert told(score) == [("C4", 2.0, 7.0)]
    assert score.notes[0].written == (96, 192, 48)
    assert score.problems == ()


def test_tie_may_change_voice(tmp_path: Path) -> None:
    """A tie goes on into another voice, as scores do where two players join on one staff."""
    score = one(
        tmp_path,
        start() + n("c5 4") + back("4") + n("e4 4", '<tie type="start"/>', voice="2"),
        n("e4 4", '<tie type="stop"/>'),
    )
    assert told(score) == [("C5", 0.0, 4.0), ("E4", 0.0, 8.0)]


def test_two_players_tied_on_one_pitch(tmp_path: Path) -> None:
    """Two voices that hold the same pitch stay two notes, each with its own ties."""
    bar = n("e4 4", '<tie type="{0}"/>') + back("4") + n("e4 4", '<tie type="{0}"/>', voice="2")
    score = one(tmp_path, start() + bar.format("start"), bar.format("stop"))
    assert told(score) == [("E4", 0.0, 8.0), ("E4", 0.0, 8.0)]
    assert {"1", "2"} == {note.voice for note in score.notes}


def test_drawn_tie_counts_where_the_sounding_one_is_missing(tmp_path: Path) -> None:
    """Some programs write the curve (tied) without the sound (tie)."""
    drawn = '<notations><tied type="{}"/></notations>'
    score = one(tmp_path, start() + n("c4 4", drawn.format("start")), n("c4 4", drawn.format("stop")))
    assert told(score) == [("C4", 0.0, 8.0)]


def test_tie_from_nowhere_is_struck(tmp_path: Path) -> None:
    """A note that claims a tie nobody began is struck, and that is told."""
    score = one(tmp_path, start() + n("c4 4"), n("d4 4", '<tie type="stop"/>'))
    assert told(score) == [("C4", 0.0, 4.0), ("D4", 4.0, 4.0)]
    assert codes(score) == ["tie"]


def test_chords_and_voices(tmp_path: Path) -> None:
    """Chord notes share the onset, a backup begins the second voice; order is by onset, then from the top."""
    score = one(tmp_path, start() + n("e5 2") + n("c5 2", chord=True) + n("f5 2") + back("4") + n("c4 4", voice="2"))
    assert told(score) == [("E5", 0.0, 2.0), ("C5", 0.0, 2.0), ("C4", 0.0, 4.0), ("F5", 2.0, 2.0)]


def test_graces_before_and_after(tmp_path: Path) -> None:
    """Graces stand before the note they lead to; at the end of a bar they follow the last note."""
    grace = "<grace slash='yes'/>"
    score = one(tmp_path, start() + n("b4", head=grace) + n("c5 4") + n("b4", head="<grace/>") + n("c5", head="<grace/>"), n("d5 4"))
    assert [(str(x.pitch), x.kind, x.onset, x.duration, x.grace_slash) for x in score.notes] == [
        ("B4", "grace", 0, 0, True), ("C5", "struck", 0, 192, False), ("B4", "grace", 0, 0, False), ("C5", "grace", 0, 0, False),
        ("D5", "struck", 192, 192, False),
    ]  # fmt: skip


def test_cue_and_hidden_notes(tmp_path: Path) -> None:
    """Cue notes and notes that are not printed are known as such."""
    score = one(tmp_path, start() + n("c5 2", head="<cue/>") + n("d5 2", attributes=' print-object="no"'))
    assert [note.kind for note in score.notes] == ["cue", "hidden"]


def test_tuplets_and_unlike_divisions(tmp_path: Path) -> None:
    """Triplets in one part and sixteenths in another meet on one grid of whole ticks."""
    triplet = "<time-modification><actual-notes>3</actual-notes><normal-notes>2</normal-notes></time-modification>"
    first = start(3, "1/4") + n("c5 1", triplet) + n("d5 1", triplet) + n("e5 1", triplet)
    second = start(4, "1/4") + n("c4 1") + n("d4 3")
    score = read(tmp_path, document(("Flute", [first]), ("Oboe", [second])))
    assert score.resolution == 48
    assert [note.onset for note in score.notes] == [0, 0, 12, 16, 32]
    assert [note.tuplet for note in score.notes] == [(3, 2), None, None, (3, 2), (3, 2)]


def test_tremolos(tmp_path: Path) -> None:
    """Strokes through a stem, and a two-note tremolo whose halves keep half of the time each and are no tuplet."""
    sign = '<notations><ornaments><tremolo type="{}">{}</tremolo></ornaments></notations>'
    half = "<time-modification><actual-notes>2</actual-notes><normal-notes>1</normal-notes></time-modification>"
    pair = n("e4 1", half + sign.format("start", 3)) + n("g4 1", half + sign.format("stop", 3))
    score = one(tmp_path, start() + n("c4 2", sign.format("single", 3)) + pair)
    assert [(x.tremolo, x.tremolo_pair, x.tuplet) for x in score.notes] == [(3, "", None), (3, "start", None), (3, "stop", None)]
    assert told(score) == [("C4", 0.0, 2.0), ("E4", 2.0, 1.0), ("G4", 3.0, 1.0)]


def test_unpitched_percussion_never_becomes_notes(tmp_path: Path) -> None:
    """Unpitched strokes, and pitches below a percussion clef, are strokes; timpani in a bass clef are notes."""
    stroke = "<note><unpitched><display-step>E</display-step><display-octave>4</display-octave></unpitched><duration>4</duration></note>"
    clef = "<clef><sign>percussion</sign></clef>"
    score = read(
        tmp_path,
        document(("Triangle", [start() + stroke]), ("Bass Drum", [start(more=clef) + n("c4 4")]), ("Timpani", [start() + n("c3 4")])),
    )
    assert [stroke.part for stroke in score.strokes] == [0, 1]
    assert [note.part for note in score.notes] == [2]
    assert [part.family for part in score.parts] == ["percussion"] * 3


def test_lengths_by_sight(tmp_path: Path) -> None:
    """A note without a duration lasts as its shape and dots say; a bar rest without one fills the bar."""
    notes = n("c4", "<type>half</type><dot/>") + n("d4", "<type>quarter</type>")
    score = one(tmp_path, start() + notes, '<note><rest measure="yes"/></note>')
    assert told(score) == [("C4", 0.0, 3.0), ("D4", 3.0, 1.0)]
    assert [bar.length for bar in score.bars] == [192, 192]


@pytest.mark.parametrize("wrong", ["-4", "x", "1e9", "99999999999"])
def test_impossible_length(tmp_path: Path, wrong: str) -> None:
    """A note whose length cannot be takes that of its shape; without one it is left out, and the part goes on."""
    score = one(tmp_path, start() + n(f"c4 {wrong}") + n(f"e4 {wrong}", "<type>quarter</type>") + n("d4 3"))
    assert told(score) == [("E4", 0.0, 1.0), ("D4", 1.0, 3.0)]
    assert "duration" in codes(score)


def test_ids(tmp_path: Path) -> None:
    """An id in the file is kept where it is the only one of its name; the rest are named by part, bar and place."""
    score = one(tmp_path, start() + n("c4 1", attributes=' id="a"') + n("d4 1", attributes=' id="a"') + n("e4 2"))
    assert [note.id for note in score.notes] == ["a", "p1b1n2", "p1b1n3"]


def test_signs_on_notes(tmp_path: Path) -> None:
    """Articulations, ornaments, fermata, arpeggio and fingering by their MusicXML names."""
    signs = (
        "<notations><articulations><staccato/><accent/></articulations><ornaments><trill-mark/></ornaments><fermata/><arpeggiate/>"
        "<technical><fingering>3</fingering></technical></notations>"
    )
    note = one(tmp_path, start() + n("c4 4", signs)).notes[0]
    assert (
        note.articulations, note.ornaments, note.fermata, note.arpeggio, note.fingers,
    ) == (("staccato", "accent"), ("trill-mark",), True, True, ("3",))  # fmt: skip


def test_unprinted_notes_sound_where_nothing_else_is_printed(tmp_path: Path) -> None:
    """A part that doubles another is often left unprinted: its notes are music; beside printed notes they are a playback aid."""
    unseen = ' print-object="no"'
    score = one(tmp_path, start() + n("c5 4", attributes=unseen), n("d5 2", attributes=unseen) + n("e5 2"))
    assert [(str(note.pitch), note.kind) for note in score.notes] == [("C5", "struck"), ("D5", "hidden"), ("E5", "struck")]
    assert [problem.code for problem in score.problems] == ["unprinted"]
