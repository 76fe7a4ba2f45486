"""The choice of key.  Signatures and intervals against music21 (named beside the check)."""

from __future__ import annotations

from dataclasses import replace

import pytest

from reduce.arrange.key import Interval, choose_key, home_key, key_name, signs, with_modes, written_keys
from reduce.arrange.key_spelling import Speller, respell, signature_written, turn_between
from reduce.model.decision import Rejected
from reduce.model.errors import UsageError
from reduce.model.pitch import spelled
from reduce.model.score import Bar, Key, Meter
from reduce.model.texture import LocalKey, Texture
from tests.arrange import lines

IN_A_FLAT = """
meter 3/4
key Ab major
Oboe | ab4:4 bb4 c5 | db5:4 c5 bb4 | c5:2 eb5:4 | ab4:2. |
"""


def chosen(text: str, level: str, request: str = "auto") -> tuple[int, int, list[int], list[str]]:
    piece = lines.score(text)
    semitones, steps, keys, decisions = choose_key(piece, lines.texture(piece), lines.rules(level), request, lines.line(piece), piece.bars)
    return semitones, steps, [key.fifths for key in keys], [one.sentence for one in decisions]


def test_four_flats_are_too_many_for_the_first_year() -> None:
    """Limit: one sharp or flat (levelling charts named in rules/levels/first-year.toml)."""
    semitones, _, keys, sentences = chosen(IN_A_FLAT, "first-year")
    assert semitones != 0
    assert max(abs(fifths) for fifths in keys) <= 1
    assert sentences[0].startswith("The piece moves from A♭ major to ")
    assert "four flats exceed this level (one)" in sentences[0]


def test_the_original_is_kept_where_it_fits() -> None:
    assert chosen(IN_A_FLAT, "advanced")[:3] == (0, 0, [-4, -4, -4, -4])
    assert chosen(IN_A_FLAT, "intermediate")[:3] == (0, 0, [-4, -4, -4, -4])


def test_keep_never_transposes() -> None:
    """Contract: ``keep`` leaves the key, and the log says that the level reads less."""
    semitones, steps, keys, sentences = chosen(IN_A_FLAT, "first-year", "keep")
    assert (semitones, steps, keys) == (0, 0, [-4] * 4)
    assert sentences == ["The original key, A♭ major, is kept as asked, although its signatures reach four flats; this level reads one."]


def test_a_named_key_is_taken() -> None:
    assert chosen(IN_A_FLAT, "advanced", "G")[:3] == (-1, -1, [1] * 4)
    assert chosen(IN_A_FLAT, "advanced", "Bb major")[:3] == (2, 1, [-2] * 4)


@pytest.mark.parametrize("name", ["H", "G minor", "7", ""])
def test_a_name_that_is_no_key_is_refused(name: str) -> None:
    with pytest.raises(UsageError):
        chosen(IN_A_FLAT, "advanced", name)


def test_the_log_shows_the_keys_that_were_weighed() -> None:
    piece = lines.score(IN_A_FLAT)
    _, _, _, decisions = choose_key(piece, lines.texture(piece), lines.rules("first-year"), "auto", lines.line(piece), piece.bars)
    table = [row.what for row in decisions[0].rejected]
    assert len(table) == 3
    assert table[0] == "A♭ major"
    assert all("accidentals in the tune" in row.why and "price" in row.why for row in decisions[0].rejected)


def test_flats_of_a_signature_that_is_not_read_are_no_accidentals_in_the_reason() -> None:
    """A teacher counts accidentals against the signature; where the level cannot print it there is nothing to count against."""
    (_, _, _, (sentence,)) = chosen(IN_A_FLAT, "first-year", "auto")
    assert "because four flats exceed this level (one)" in sentence
    assert "accidentals" not in sentence


def test_no_bar_exceeds_the_level_even_where_the_piece_modulates() -> None:
    """Law of --key auto: every bar's signature is inside the level, whatever the sections do."""
    bars = tuple(
        Bar(index=i, number=str(i + 1), start=8 * i, length=8, meter=Meter((4,), 4), key=Key(fifths))
        for i, fifths in enumerate((-4, -4, 5, 5, -4, -1, 7))
    )
    for level in ("first-year", "late-beginner", "early-intermediate", "intermediate", "late-intermediate"):
        rules = lines.rules(level)
        for fifths in range(-8, 9):
            keys, kept = written_keys(bars, fifths, rules)
            if any(signature_written(bar.key.fifths + fifths, rules.level.signature_max) is not None for bar in bars):
                assert max(abs(key.fifths) for key in keys) <= rules.level.signature_max
                assert set(kept) <= set(range(len(bars)))


def test_intervals_agree_with_music21() -> None:
    """Steps and semitones of each transposition by fifths: music21.interval (outside)."""
    from music21 import interval, pitch

    for semitones in range(-6, 7):
        for fifths in range(-7, 8):
            if (7 * fifths - semitones) % 12:
                continue
            ours = Interval.of(semitones, fifths)
            generic = interval.GenericInterval(ours.steps + 1 if ours.steps >= 0 else ours.steps - 1)
            whole = interval.intervalFromGenericAndChromatic(generic, interval.ChromaticInterval(semitones))
            theirs = whole.transposePitch(pitch.Pitch("C4"))
            mine = spelled("C", 0, 4).moved(ours.steps, semitones)
            assert (theirs.step, int(theirs.alter), theirs.octave) == (mine.step, mine.alter, mine.octave)
            assert mine.fifths == fifths


def test_key_names_agree_with_music21() -> None:
    """Signature to key name: music21.key.KeySignature.asKey (outside)."""
    from music21 import key

    for fifths in range(-7, 8):
        for mode in ("major", "minor"):
            theirs = key.KeySignature(fifths).asKey(mode)
            tonic = theirs.tonic.name.replace("-", "♭").replace("#", "♯")
            assert key_name(fifths, mode) == f"{tonic} {mode}"


def test_a_section_turns_to_its_simpler_enharmonic_key() -> None:
    """B major a semitone lower is B♭ major with two flats, not a signature of ten sharps; its notes are named accordingly."""
    assert signature_written(10, 4) == -2
    bars = tuple(
        Bar(index=i, number=str(i + 1), start=8 * i, length=8, meter=Meter((4,), 4), key=Key(fifths)) for i, fifths in enumerate((-4, 5))
    )
    keys, kept = written_keys(bars, 5, lines.rules("intermediate"))
    assert ([key.fifths for key in keys], kept) == ([1, -2], [])
    speller = Speller.of(bars, keys, -1, -1)
    assert [str(speller.pitch(pitch, onset)) for pitch, onset in ((spelled("A", -1, 4), 0), (spelled("D", 1, 5), 8))] == ["G4", "D5"]


def test_respelling_keeps_the_sound() -> None:
    """Law: an enharmonic turn changes the name, not the key on the piano, and two turns there and back change nothing."""
    for step in "CDEFGAB":
        for alter in (-1, 0, 1):
            pitch = spelled(step, alter, 4)
            for turn in (-1, 1):
                assert respell(pitch, turn).midi == pitch.midi
                assert respell(pitch, turn).fifths == pitch.fifths + 12 * turn
                assert respell(respell(pitch, turn), -turn) == pitch
    assert [turn_between(*pair) for pair in ((10, -2), (1, 1), (-9, 3), (6, 0))] == [-1, 0, 1, 0]


def test_the_mode_comes_from_what_is_heard() -> None:
    """No signature and a local key of A minor: the home key is A minor, although the file gives no mode."""
    bars = (Bar(index=0, number="1", start=0, length=16, meter=Meter((4,), 4), key=Key(0)),)
    texture = Texture(keys=(LocalKey(start=0, end=12, tonic=9, mode="minor"), LocalKey(start=12, end=16, tonic=0, mode="major")))
    assert home_key(texture, bars) == (0, "minor")
    assert signs(-1) == "one flat"


def test_each_signature_of_a_draft_has_the_mode_that_is_heard_under_it() -> None:
    """Law: by the ticks heard in its own bars; a section that writes accidentals under it does not count; else what the file says."""
    place = [(0, 0), (0, 0), (-4, 0), (1, 1), (3, 3)]
    bars = [
        Bar(index=i, number=str(i + 1), start=16 * i, length=16, meter=Meter((4,), 4), key=Key(own, "major" if own == 3 else ""))
        for i, (own, _) in enumerate(place)
    ]
    heard = ((0, 12, 9, "minor"), (12, 32, 0, "major"), (32, 48, 8, "major"), (48, 64, 4, "minor"), (64, 80, 0, "major"))
    texture = Texture(keys=tuple(LocalKey(start=a, end=b, tonic=tonic, mode=mode) for a, b, tonic, mode in heard))
    written = [Key(printed) for _, printed in place]
    expected = ["major", "major", "major", "minor", "major"]
    assert [key.mode for key in with_modes([*written[:4], bars[4].key], bars, texture)] == expected
    shorter = replace(texture, keys=(replace(texture.keys[0], end=20), replace(texture.keys[1], start=20), *texture.keys[2:]))
    assert [key.mode for key in with_modes(written, bars, shorter)] == ["minor", "minor", "minor", "minor", ""]
    assert with_modes(written, bars, Texture()) == written


def test_a_key_that_was_tried_is_not_taken_again() -> None:
    """Law: a key in which bars ask for too much at once gives way to the next best, and the log says why."""
    piece = lines.score("meter 4/4\nkey C major\nOboe | c5:4 e5 g5 e5 | d5:2 g4 | c5:1 |\nCello | c3:1 | g2:1 | c3:1 |\n")
    passed = (Rejected("C major", "2 bars have more than one thing at the limit"),)
    found = choose_key(piece, lines.texture(piece), lines.rules("first-year"), "auto", lines.line(piece), piece.bars, passed)
    assert found[0] != 0
    assert "in C major 2 bars have more than one thing at the limit" in found[3][0].sentence
    assert passed[0] == found[3][0].rejected[0]
