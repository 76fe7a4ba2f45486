"""Chords: cut, root, kind, bass, ornaments, names and numerals."""

from __future__ import annotations

from reduce.analyse.harmony import chords_of, harmony, harmony_of_draft
from reduce.analyse.slices import Weights, slices_of
from reduce.analyse.tones import Tone, moves_in_line, ornaments, tones_of
from reduce.model.draft import Draft, DraftNote
from reduce.model.pitch import Pitch
from reduce.model.score import Bar, Key, Meter
from tests.analyse.hearing import names, numerals, rules, score


def test_cadence() -> None:
    """I-IV-V7-I in close position is named with its inversions."""
    text = """
    Violin 1 | c5:2 c5 | b4 c5:2 |
    Violin 2 | g4:2 a4 | f4 e4:2 |
    Viola    | e4:2 f4 | d4 c4:2 |
    Cello    | c3:2 a2 | g2 c3:2 |
    """
    assert names(text) == ["C", "F/A", "G7", "C"]
    assert numerals(text) == ["I", "IV6", "V7", "I"]


def test_minor() -> None:
    """In minor the dominant has the raised third, the subtonic the natural seventh (common practice)."""
    text = """
    key A minor
    Violin 1 | a4:2 a4 | g#4 a4:2 |
    Violin 2 | e4:2 f4 | e4 e4:2 |
    Viola    | c4:2 d4 | d4 c4:2 |
    Cello    | a2:2 d3 | e3 a2:2 |
    """
    assert names(text) == ["Am", "Dm", "E7", "Am"]
    assert numerals(text) == ["i", "iv", "V7", "i"]


def test_spelling() -> None:
    """Names follow the score's spelling, not the keyboard."""
    text = """
    key Ab major
    Violin 1 | ab4:1 | ab4:1 | g4:1  | ab4:1 |
    Violin 2 | eb4:1 | f4:1  | eb4:1 | eb4:1 |
    Cello    | c4:1  | db4:1 | db4:1 | c4:1  |
    Bass     | ab2:1 | db3:1 | bb2:1 | ab2:1 |
    """
    assert names(text)[:2] == ["A♭", "D♭"]
    assert names(text)[2] in ("E♭7/B♭", "Gm7♭5/B♭", "Gdim/B♭")


def test_ornaments_do_not_change_the_chord() -> None:
    """Passing note, neighbour note, suspension and appoggiatura over a held triad leave it one chord."""
    text = """
    Flute    | e5:4 f5:8 g5 e5 d5 e5:4 | f5:4 e5 d5:4 c5     | c5:1 |
    Violin 2 | g4:1                    | g4:1                | g4:1 |
    Viola    | c4:1                    | c4:1                | e4:1 |
    Cello    | c3:1                    | c3:1                | c3:1 |
    """
    assert set(names(text)) == {"C"}


def test_kinds_of_ornament() -> None:
    """Foreign notes are told apart by how they are reached and left (definitions of harmony books, common practice)."""
    q = 4
    line = [60, 62, 64, 65, 64, 67, 67, 65, 72, 71]
    tones = [Tone(i * q, (i + 1) * q, midi, 0) for i, midi in enumerate(line)]
    on_beat = frozenset(range(0, 400, 8))
    kinds = ornaments(tones, on_beat, *moves_in_line(tones))
    assert kinds[1] == "passing"
    assert kinds[3] == "neighbour"
    assert kinds[6] == "suspension"
    assert kinds[8] == "appoggiatura"


def test_broken_chord_is_one_chord() -> None:
    """A chord may come one note after the other."""
    text = """
    Violin 1 | g5:1                    | f5:1                    | e5:1 |
    Viola    | c4:8 g4 e4 g4 c4 g4 e4 g4 | b3 g4 d4 g4 b3 g4 d4 g4 | c4:1 |
    """
    assert names(text) == ["C", "G7/B", "C"]


def test_whole_piece_is_covered() -> None:
    """Chords follow each other without gaps through short rests; two silent bars are a gap."""
    text = """
    Violin 1 | c5:4 r e5 r | d5:4 r b4 r | r:1 | r:1 | c5:1 |
    Violin 2 | g4:4 r g4 r | g4:4 r g4 r | r:1 | r:1 | g4:1 |
    Cello    | c3:4 r c3 r | g3:4 r g3 r | r:1 | r:1 | c3:1 |
    """
    heard = score(text)
    chords, _ = harmony(heard, rules())
    bar = 4 * heard.resolution
    assert [chord.name for chord in chords] == ["C", "G", "C"]
    assert [(chord.start // bar, chord.end / bar) for chord in chords] == [(0, 1), (1, 1.75), (4, 5)]


def test_doublings_count_once() -> None:
    """The same pitch class at the same time and length is one tone, at its lowest octave."""
    text = """
    Flute    | c6:1 |
    Violin 1 | c5:1 |
    Horn     | e4:1 |
    Cello    | c3:1 |
    """
    assert [(tone.midi, tone.weight) for tone in tones_of(score(text))] == [(48, 1.0), (64, 1.0)]


def test_applied_dominant() -> None:
    """A dominant of the dominant is written over the degree it leads to."""
    text = """
    Violin 1 | g4:2 a4  | g4 f#4 | g4 f4 | e4:1 |
    Violin 2 | e4:2 e4  | d4 c4  | d4 d4 | c4:1 |
    Viola    | c4:2 c4  | b3 a3  | b3 b3 | g3:1 |
    Cello    | c3:2 a2  | g2 d3  | g2 g2 | c3:1 |
    """
    told = numerals(text)
    assert "V7/V" in told
    assert told[0] == "I"
    assert told[-2:] == ["V7", "I"]


def test_augmented_sixth() -> None:
    """A♭-C-E♭-F♯ that opens to G is named by its spelling: the German sixth, not the dominant of D♭."""
    text = """
    key C minor
    Violin 1 | c5:1  | eb5:1 | d5:1 | eb5:1 |
    Violin 2 | g4:1  | f#4:1 | g4:1 | g4:1  |
    Viola    | eb4:1 | c4:1  | b3:1 | c4:1  |
    Cello    | c3:1  | ab2:1 | g2:1 | c3:1  |
    """
    assert numerals(text) == ["i", "Ger6", "V", "i"]


def test_draft_tones() -> None:
    """`chords_of` works on any tones over any bars: what the worksheet of a draft needs."""
    bars = [Bar(index=i, number=str(i + 1), start=i * 16, length=16, meter=Meter((4,), 4), key=Key(0)) for i in range(2)]
    tones = [Tone(0, 16, 48, 0), Tone(0, 16, 64, 4), Tone(0, 16, 67, 1), Tone(16, 32, 55, 1), Tone(16, 32, 59, 5), Tone(16, 32, 65, -1)]
    assert [chord.name for chord in chords_of(tones, bars, 4, (), rules())] == ["C", "G7"]


def test_draft() -> None:
    """The chords of a two-hand draft are those of its own notes: a broken C, then G7 over B."""
    bars = tuple(Bar(index=i, number=str(i + 1), start=i * 16, length=16, meter=Meter((4,), 4), key=Key(0)) for i in range(3))
    left = ("C3", "G3", "E3", "G3", "B2", "G3", "F3", "G3")
    notes = [DraftNote(id="r1", hand="right", strand=1, onset=0, duration=16, pitch=Pitch("E", 0, 5), midi=76)]
    notes += [DraftNote(id="r2", hand="right", strand=1, onset=16, duration=16, pitch=Pitch("D", 0, 5), midi=74)]
    for index, name in enumerate(left):
        pitch = Pitch(name[0], 0, int(name[1]))
        notes.append(DraftNote(id=f"l{index}", hand="left", strand=1, onset=4 * index, duration=4, pitch=pitch, midi=pitch.midi))
    notes += [DraftNote(id="r3", hand="right", strand=1, onset=32, duration=16, pitch=Pitch("C", 0, 5), midi=72)]
    notes += [DraftNote(id="l9", hand="left", strand=1, onset=32, duration=16, pitch=Pitch("C", 0, 3), midi=48)]
    draft = Draft(resolution=4, bars=bars, notes=tuple(sorted(notes, key=lambda note: note.onset)))
    chords, keys = harmony_of_draft(draft, rules())
    assert [chord.name for chord in chords] == ["C", "G7/B", "C"]
    assert [(key.tonic, key.mode) for key in keys] == [(0, "major")]


def test_certainty() -> None:
    """A full triad is surer than two notes."""
    full = "Violin 1 | e5:1 |\n Violin 2 | g4:1 |\n Cello | c3:1 |"
    thin = "Violin 1 | e5:1 |\n Cello | g3:1 |"
    assert harmony(score(full), rules())[0][0].certainty > harmony(score(thin), rules())[0][0].certainty


def test_a_dip_after_the_beat_is_no_bass() -> None:
    """Law: the bass of a beat is its lowest tone on the beat, not a short lower one just before the next beat, even where that rings on."""
    piece = score(
        """
        meter 3/4
        key Eb major
        Violin 1 | g5:2. |
        Cello    | eb3:8. bb2:16 eb3:8. bb2:16 eb3:8. bb2:16 |
        """
    )
    found = slices_of(tones_of(piece), piece.bars, piece.resolution, Weights.of(rules()))
    assert {each.bass for each in found if each.strength < 3} == {3}


def test_a_fifth_that_does_not_sound_is_the_key_s() -> None:
    """Law: G sharp and B in A minor are the leading-note triad, whose fifth is D; where D sharp sounds it is a minor triad."""
    text = """
    key A minor
    Violin 1 | c5:2 b4:2  | c5:2 b4:2 | a4:1 |
    Viola    | e4:2 b4:2  | e4:2 e4:2 | e4:1 |
    Cello    | a3:2 g#3:2 | a3:2 e3:2 | a2:1 |
    """
    assert names(text)[1] in ("G♯dim", "E/G♯")
    assert names(text.replace("e4:2 b4:2 ", "e4:2 d#4:2"))[1] == "G♯m"


def test_a_bass_that_begins_on_a_foreign_note_is_the_one_that_lasts() -> None:
    """Law: where a chord begins over a note that is not its own, its bass is the chord note that lies lowest for longest."""
    text = """
    Violin | e5:1                | e5:1           |
    Viola  | <g4 c5>:1           | <g4 c5>:1      |
    Cello  | d3:4 e3 c3:2        | c3:4 c3 g3 c3  |
    """
    assert names(text)[0] == "C"
