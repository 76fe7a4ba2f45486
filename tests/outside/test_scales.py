"""Standard fingerings of scales and arpeggios.

Source: the fingerings that scale manuals agree on (common practice, written down from memory), two octaves up, hands apart.
Where manuals differ, each of theirs is accepted.
"""

from __future__ import annotations

import pytest

from reduce.hands.fingering import JOINED, phrase
from reduce.hands.habits import prices
from reduce.model.draft import Hand

TONICS = {"C": 0, "Db": 1, "C#": 1, "D": 2, "Eb": 3, "E": 4, "F": 5, "F#": 6, "G": 7, "Ab": 8, "G#": 8, "A": 9, "Bb": 10, "B": 11}
STEPS = {"major": (0, 2, 4, 5, 7, 9, 11), "minor": (0, 2, 3, 5, 7, 8, 11)}  # minor: harmonic
SCALES = {
    ("C", "major"): ("123123412312345", "543213214321321"),
    ("G", "major"): ("123123412312345", "543213214321321"),
    ("D", "major"): ("123123412312345", "543213214321321"),
    ("A", "major"): ("123123412312345", "543213214321321"),
    ("E", "major"): ("123123412312345", "543213214321321"),
    ("B", "major"): ("123123412312345", "432143213214321"),
    ("F#", "major"): ("234123123412312", "432132143213214"),
    ("Db", "major"): ("231234123123412", "321432132143213"),
    ("Ab", "major"): ("341231234123123", "321432132143213"),
    ("Eb", "major"): ("312341231234123", "321432132143213"),
    ("Bb", "major"): ("212312341231234 412312341231234", "321432132143213"),
    ("F", "major"): ("123412312341234", "543213214321321"),
    ("A", "minor"): ("123123412312345", "543213214321321"),
    ("E", "minor"): ("123123412312345", "543213214321321"),
    ("B", "minor"): ("123123412312345", "432143213214321"),
    ("F#", "minor"): ("341231234123123 231231234123123", "432132143213214"),
    ("C#", "minor"): ("341231234123123 231231234123123", "321432132143213"),
    ("G#", "minor"): ("341231234123123 231231234123123", "321432132143213"),
    ("Eb", "minor"): ("312341231234123 212341231234123", "214321321432132"),
    ("Bb", "minor"): ("212312341231234 412312341231234 212312341231233", "213214321321432"),
    ("F", "minor"): ("123412312341234", "543213214321321"),
    ("C", "minor"): ("123123412312345", "543213214321321"),
    ("G", "minor"): ("123123412312345", "543213214321321"),
    ("D", "minor"): ("123123412312345", "543213214321321"),
}
# Tonic triads from the root, two octaves up.
ARPEGGIOS = {
    ("C", "major"): ("1231235", "5421421"),
    ("G", "major"): ("1231235", "5421421"),
    ("F", "major"): ("1231235", "5421421"),
    ("D", "major"): ("1231235", "5321321"),
    ("A", "major"): ("1231235", "5321321"),
    ("E", "major"): ("1231235", "5321321"),
    ("B", "major"): ("1231235", "5321321 5421421"),
    ("F#", "major"): ("1231235", "5321321 5421421"),
    ("Db", "major"): ("2124124 4124124", "2142142"),
    ("Ab", "major"): ("2124124 4124124", "2142142"),
    ("Eb", "major"): ("2124124 4124124", "2142142"),
    ("Bb", "major"): ("2124124 4124124 2123123 3123123", "3213213"),
    ("A", "minor"): ("1231235", "5421421"),
    ("E", "minor"): ("1231235", "5421421"),
    ("D", "minor"): ("1231235", "5421421"),
    ("C", "minor"): ("1231235", "5421421"),
    ("G", "minor"): ("1231235", "5421421"),
    ("F", "minor"): ("1231235", "5421421"),
    ("B", "minor"): ("1231235", "5421421 5321321"),
    ("F#", "minor"): ("2124124 4124124", "2142142 2132132"),
    ("C#", "minor"): ("2124124 4124124", "2142142 2132132"),
    ("G#", "minor"): ("2124124 4124124", "2142142 2132132"),
    ("Eb", "minor"): ("1231235", "5421421 5321321"),
    ("Bb", "minor"): ("2312312 3123123", "3213213"),
}
HANDS: tuple[Hand, Hand] = ("right", "left")
SPAN = 175.0


def chosen(keys: tuple[int, ...], hand: Hand) -> str:
    """The fingers that the whole model chooses for a bound line, its key unknown."""
    steps = tuple(((key,), (), JOINED, price, ()) for key, price in zip(keys, prices(keys, hand), strict=True))
    return "".join(str(fingers[0]) for fingers in phrase(steps, SPAN, hand))


def agreement(found: str, accepted: str) -> float:
    """Share of notes with the standard finger, for the closest of the accepted fingerings."""
    return max(sum(a == b for a, b in zip(found, one, strict=True)) / len(found) for one in accepted.split())


def scale(tonic: str, kind: str) -> tuple[int, ...]:
    start = 48 + TONICS[tonic]
    return (*(start + 12 * octave + step for octave in (0, 1) for step in STEPS[kind]), start + 24)


def arpeggio(tonic: str, kind: str) -> tuple[int, ...]:
    start = 48 + TONICS[tonic]
    triad = (0, 4, 7) if kind == "major" else (0, 3, 7)
    return (*(start + 12 * octave + step for octave in (0, 1) for step in triad), start + 24)


def test_all_keys_are_there() -> None:
    for table in (SCALES, ARPEGGIOS):
        assert {(TONICS[tonic], kind) for tonic, kind in table} == {(pc, kind) for pc in range(12) for kind in STEPS}


@pytest.mark.parametrize("hand", HANDS)
@pytest.mark.parametrize(("tonic", "kind"), list(SCALES))
def test_scale(tonic: str, kind: str, hand: Hand) -> None:
    """Law: a two-octave scale comes out with at least nine in ten notes as the manuals have them."""
    assert agreement(chosen(scale(tonic, kind), hand), SCALES[tonic, kind][HANDS.index(hand)]) >= 0.9


def test_scales_as_a_whole() -> None:
    """Law: over all 24 scales and both hands at least 97 % of the notes agree."""
    shares = [agreement(chosen(scale(*name), hand), accepted[i]) for name, accepted in SCALES.items() for i, hand in enumerate(HANDS)]
    assert sum(shares) / len(shares) >= 0.97


@pytest.mark.parametrize("hand", HANDS)
@pytest.mark.parametrize(("tonic", "kind"), list(ARPEGGIOS))
def test_arpeggio(tonic: str, kind: str, hand: Hand) -> None:
    """Law: so does the arpeggio of the tonic triad, but for one note at most."""
    assert agreement(chosen(arpeggio(tonic, kind), hand), ARPEGGIOS[tonic, kind][HANDS.index(hand)]) >= 6 / 7 - 1e-9


def test_chromatic_scale() -> None:
    """Common practice: third finger on black keys, thumb on white, second where two white keys meet."""
    keys = tuple(range(60, 73))
    assert chosen(keys, "right")[:-1] == "131312313131"
    assert chosen(keys, "left")[1:-1] == "31321313132"
