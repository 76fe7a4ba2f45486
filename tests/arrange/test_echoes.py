"""Parallel places are arranged alike."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import replace
from pathlib import Path

import pytest

import reduce
from reduce.arrange.echoes import Echo, alike, sizes_alike
from reduce.arrange.octaves import Compass, alike_again
from tests import tiny
from tests.arrange import lines

# bars 1-4 come again in bars 9-12, and a fifth higher in bars 13-16; between them something else
THEME = {
    "Violin 1": "c5:4 e5 g5 e5 | f5:2 d5 | e5:4 g5 e5 c5 | d5:2 c5",
    "Violin 2": "e4:8 g4 e4 g4 e4 g4 e4 g4 | f4 a4 f4 a4 f4 g4 f4 g4 | e4 g4 e4 g4 e4 g4 e4 g4 | f4 g4 f4 g4 e4:2",
    "Cello": "c3:1 | f3:2 g3 | c3:1 | g2:2 c3",
}
FIFTH = {
    "Violin 1": "g5:4 b5 d6 b5 | c6:2 a5 | b5:4 d6 b5 g5 | a5:2 g5",
    "Violin 2": "b4:8 d5 b4 d5 b4 d5 b4 d5 | c5 e5 c5 e5 c5 d5 c5 d5 | b4 d5 b4 d5 b4 d5 b4 d5 | c5 d5 c5 d5 b4:2",
    "Cello": "g3:1 | c4:2 d4 | g3:1 | d3:2 g3",
}
OTHER = {
    "Violin 1": "a4:2. b4:4 | c5:2. b4:4 | a4:2 g#4 | a4:1",
    "Violin 2": "c4:1 | e4:1 | d4:1 | c4:1",
    "Cello": "a2:1 | a2:1 | e3:1 | a2:1",
}
PIECE = "meter 4/4\nkey C major\ntempo 88\n" + "".join(
    f"{name} | {THEME[name]} | {OTHER[name]} | {THEME[name]} | {FIFTH[name]} |\n" for name in THEME
)


def _bars(level: str, folder: Path) -> list[dict[str, list[tuple[int, int]]]]:
    """Each bar's strikes by hand: place in the bar and length."""
    path = folder / "piece.musicxml"
    path.write_bytes(tiny.musicxml(PIECE))
    draft = reduce.draft(path, level=level, length="full").draft
    starts = [bar.start for bar in draft.bars]
    out: list[dict[str, list[tuple[int, int]]]] = [{"right": [], "left": []} for _ in draft.bars]
    for note in draft.notes:
        place = bisect_right(starts, note.onset) - 1
        out[place][note.hand].append((note.onset - starts[place], note.duration))
    return out


@pytest.mark.parametrize("level", ["first-year", "late-beginner", "early-intermediate", "intermediate"])
def test_a_repeat_is_arranged_alike(level: str, tmp_path: Path) -> None:
    """Law: what the source repeats, at the same pitch, has the same strikes in both hands; the last bar of the piece may come to rest."""
    bars = _bars(level, tmp_path)
    assert bars[:4] == bars[8:12]


@pytest.mark.parametrize("level", ["late-beginner", "early-intermediate", "intermediate"])
def test_a_transposed_repeat_has_the_same_left_hand(level: str, tmp_path: Path) -> None:
    """Law: a fifth higher the left hand keeps its figure (but for the close), whatever number of keys lies well there."""
    bars = _bars(level, tmp_path)
    assert [{*bar["left"]} for bar in bars[:3]] == [{*bar["left"]} for bar in bars[12:15]]


def test_relief_is_shared() -> None:
    """Law: a bar that needs relief brings it to all bars that it repeats or is repeated by; others stay."""
    found = {4: Echo(0, 0), 8: Echo(0, 5), 5: Echo(1, 0)}
    assert {0: 2, 4: 2, 8: 2, 3: 1} == alike({8: 2, 3: 1, 4: 1}, found)
    assert {} == alike({}, found)


def test_as_many_keys_in_both_places() -> None:
    """Law: a strike that comes again has the fewest keys that one of its places has; strikes of other bars are not named."""
    bars = lines.score("meter 4/4\nOboe | c5:1 | d5:1 | c5:1 |\n").bars
    at = [bar.start for bar in bars]
    assert {at[0]: 2, at[2]: 2} == sizes_alike({at[0]: 3, at[1]: 1, at[2]: 2}, bars, {2: Echo(0, 0)})


@pytest.mark.parametrize("level", ["early-intermediate", "intermediate"])
def test_what_sounds_the_same_again_has_the_same_keys(level: str, tmp_path: Path) -> None:
    """Law: note for note the same music has the same keys in both hands, whatever came before it."""
    path = tmp_path / "piece.musicxml"
    path.write_bytes(tiny.musicxml(PIECE))
    draft = reduce.draft(path, level=level, length="full").draft
    starts = [bar.start for bar in draft.bars]
    keys: list[set[tuple[str, int, int]]] = [set() for _ in draft.bars]
    for note in draft.notes:
        place = bisect_right(starts, note.onset) - 1
        keys[place].add((note.hand, note.onset - starts[place], note.midi))
    assert keys[:4] == keys[8:12]


def test_an_octave_is_taken_again_only_where_no_phrase_is_torn() -> None:
    """Law: bars that come again take the octave of their first time, with the rest of their phrase where they are most of it; no phrase
    changes its octave inside for it."""
    piece = lines.score("meter 4/4\nkey C major\nOboe | c5:4 d5 e5 f5 | g5:1 | c5:4 d5 e5 f5 | g5:1 |\n")
    tune, bars = lines.line(piece), piece.bars
    compass = Compass(lowest=48, highest=84, easy_low=60, easy_high=79, octave=1, outside=1, seam=1, tear=9)
    first, again = (-12,) * 5, {2: (0, 0), 3: (1, 0)}
    phrased = {bars[0].start, bars[2].start}
    assert alike_again(tune, (*first, *(0,) * 5), phrased, bars, again, compass) == (-12,) * 10
    torn = {3: (1, 0)}  # only the last note of the second phrase comes again
    assert alike_again(tune, (*first, *(0,) * 5), phrased, bars, torn, compass) == (*first, *(0,) * 5)
    most = {2: (0, 0)}  # most of it does: it goes as a whole
    assert alike_again(tune, (*first, *(0,) * 5), phrased, bars, most, compass) == (-12,) * 10
    high = replace(compass, lowest=61)  # C4 lies below it: nothing is moved
    assert alike_again(tune, (*(-12,) * 4, 0, *(0,) * 5), phrased, bars, most, high) == (*(-12,) * 4, 0, *(0,) * 5)
