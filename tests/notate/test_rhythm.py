"""Note values that show the beat, rests by the beat, tuplets.

Expected writings: common practice as handbooks of engraving teach it (Gould, *Behind Bars*, 2011, chapters on rhythm and
rests; Read, *Music Notation*, 1969), from memory.
"""

from __future__ import annotations

import pytest

from reduce.model.score import Meter
from reduce.notate.metre import WHOLE, note_values, rest_values, value
from tests.notate.scores import rhythm, written

Q = WHOLE // 4
NAMES = {"whole": "1", "half": "2", "quarter": "4", "eighth": "8", "16th": "16", "32nd": "32"}
METERS = {
    "4/4": Meter((4,), 4), "3/4": Meter((3,), 4), "6/8": Meter((6,), 8), "9/8": Meter((9,), 8), "12/8": Meter((12,), 8),
    "5/4": Meter((5,), 4), "7/8": Meter((7,), 8), "2/2": Meter((2,), 2), "2+3/8": Meter((2, 3), 8), "3/8": Meter((3,), 8),
}  # fmt: skip


def spelled(meter: str, start: float, end: float, *, rest: bool = False, double_dots: bool = False) -> str:
    """Values from ``start`` to ``end`` (in quarters from the bar line)."""
    at, until = int(start * Q), int(end * Q)
    full = METERS[meter].ticks(Q)
    values = rest_values(METERS[meter], full, at, until) if rest else note_values(METERS[meter], full, at, until, double_dots)
    assert sum(v.length for v in values) == until - at
    return " ".join(NAMES[v.type] + "." * v.dots for v in values)


@pytest.mark.parametrize(
    ("meter", "start", "end", "expected"),
    [
        ("4/4", 0, 4, "1"),
        ("4/4", 0, 3, "2."),
        ("4/4", 1, 4, "2."),
        ("4/4", 1, 3, "2"),  # quarter - half - quarter: the plain syncopation
        ("4/4", 0.5, 2, "4."),
        ("4/4", 0.5, 1.5, "4"),
        ("4/4", 1.5, 2.5, "8 8"),  # the middle of the bar shows
        ("4/4", 1, 2.5, "4 8"),
        ("4/4", 0.5, 2.5, "4. 8"),
        ("4/4", 0, 2.5, "2 8"),
        ("4/4", 0.25, 0.75, "8"),
        ("4/4", 0.75, 1.25, "16 16"),
        ("4/4", 0, 0.75, "8."),
        ("3/4", 0, 3, "2."),
        ("3/4", 1, 3, "2"),
        ("3/4", 1.5, 3, "8 4"),  # two dotted quarters would make it 6/8
        ("3/4", 0, 1.5, "4."),
        ("6/8", 0, 3, "2."),
        ("6/8", 1, 2, "8 8"),  # two halves of the bar show
        ("6/8", 0.5, 1.5, "4"),
        ("6/8", 0, 2, "4. 8"),
        ("9/8", 0, 4.5, "2. 4."),
        ("9/8", 1.5, 4.5, "2."),
        ("12/8", 1.5, 4.5, "4. 4."),
        ("5/4", 0, 5, "2. 2"),
        ("5/4", 2, 4, "4 4"),
        ("7/8", 0, 3.5, "2 4."),
        ("7/8", 1.5, 2.5, "8 8"),
        ("2+3/8", 0, 2.5, "4 4."),
        ("2/2", 0, 4, "1"),
    ],
)
def test_a_note_shows_the_beat(meter: str, start: float, end: float, expected: str) -> None:
    """A note that would hide the middle of the bar, or a beat it does not begin on, is written as tied pieces."""
    assert expected == spelled(meter, start, end)


@pytest.mark.parametrize(
    ("meter", "start", "end", "expected"),
    [
        ("4/4", 0, 2, "2"),
        ("4/4", 1, 3, "4 4"),  # no rest over the middle
        ("4/4", 0, 3, "2 4"),
        ("4/4", 1, 4, "4 2"),
        ("4/4", 0.5, 2, "8 4"),
        ("4/4", 0, 0.75, "8 16"),
        ("4/4", 0.25, 1, "16 8"),
        ("3/4", 0, 2, "4 4"),  # no half rest in three
        ("3/4", 1, 3, "4 4"),
        ("6/8", 0, 1.5, "4."),
        ("6/8", 0, 1, "4"),
        ("6/8", 0.5, 1.5, "8 8"),
        ("6/8", 1, 3, "8 4."),
        ("12/8", 0, 3, "2."),
        ("9/8", 0, 3, "4. 4."),
    ],
)
def test_rests_by_the_beat(meter: str, start: float, end: float, expected: str) -> None:
    """A rest fills a beat or a group of beats and is never syncopated."""
    assert expected == spelled(meter, start, end, rest=True)


def test_double_dots_are_for_readers() -> None:
    """The dotted-dotted quarter of a French overture is one note from the level that has it, a tie below."""
    assert "4.." == spelled("4/4", 0, 1.75, double_dots=True)
    assert "4 8." == spelled("4/4", 0, 1.75)


@pytest.mark.parametrize(
    ("length", "expected"), [(Q, ("quarter", 0)), (3 * Q, ("half", 1)), (5 * Q, None), (8 * Q, ("breve", 0)), (7 * Q, None)]
)
def test_one_value(length: int, expected: tuple[str, int] | None) -> None:
    """A length is one note value or none."""
    found = value(length)
    assert expected == (found and (found.type, found.dots))


def test_a_pick_up_counts_from_the_right() -> None:
    """Three quarters before the first full bar are beats 2 to 4: quarter and half, not a dotted half that begins nowhere."""
    root = written("meter 4/4\npickup 2.\nright | c5:4 d5:2 | c5:1 |\nleft | r:2. | c3:1 |")
    assert "4 2" == rhythm(root)
    assert "r4 r2" == rhythm(root, voice=5)
    assert "yes" == root.find("part/measure").get("implicit")


@pytest.mark.parametrize(
    ("bar", "expected"),
    [
        ("c5:8t d5 e5 f5:4 g5:2", "8/3 8/3 8/3 4 2"),
        ("c5:4t d5 e5 f5:2", "4/3 4/3 4/3 2"),
        ("c5:8t d5:4t e5:2 f5:4", "8/3 4/3 2 4"),
        ("c5:8t r:8t e5:8t f5:4 g5:2", "8/3 r8/3 8/3 4 2"),
        ("c5:16t d5 e5 f5 g5 a5 f5:4 g5:2", "16/6 16/6 16/6 16/6 16/6 16/6 4 2"),
        ("c5:8t d5:16t e5:16t f5:8t f5:4 g5:2", "8/3 16/3 16/3 8/3 4 2"),
    ],
)
def test_tuplets_from_the_ticks(bar: str, expected: str) -> None:
    """Values that no power of two explains are bracketed once, over the beat or beats that they fill."""
    root = written(f"meter 4/4\nright | {bar} |\nleft | c3:1 |")
    assert expected == rhythm(root)
    starts, stops = root.findall(".//tuplet[@type='start']"), root.findall(".//tuplet[@type='stop']")
    assert len(starts) == len(stops) == 1


def test_a_triplet_shows_the_beat_too() -> None:
    """A triplet note that begins inside one beat and ends inside the next is tied at the beat."""
    root = written("meter 2/4\nright | c5:8t d5:8t e5:4t f5:8t g5:8t |\nleft | c3:2 |")
    assert "8/3 8/3 8/3~ 8/3 8/3 8/3" == rhythm(root)
    assert 2 == len(root.findall(".//tuplet[@type='start']"))
    assert "4/3 8/3 8/3 4/3" == rhythm(written("meter 2/4\nright | c5:4t d5:8t e5:8t f5:4t |\nleft | c3:2 |"))


def test_silence() -> None:
    """A silent bar has a whole-bar rest in any metre; a beamed tuplet needs no bracket."""
    root = written("meter 3/4\nright | r:2. | c5:8t d5 e5 r:2 |\nleft | c3:2. | c3:2. |")
    assert "rbar" == rhythm(root)
    assert "yes" == root.find("part/measure/note/rest").get("measure")
    assert ["no"] == [start.get("bracket") for start in root.findall(".//tuplet[@type='start']")]


def test_a_bar_of_a_thousand_beats_is_split_like_any_other() -> None:
    """Law: however long a bar is, a note that crosses it from its second beat to the end is tied, and nothing of it is lost."""
    bar, start = 500 * WHOLE, WHOLE // 4
    values = note_values(Meter((2,), 4), bar, start, bar, double_dots=False)
    assert sum(one.length for one in values) == bar - start
    assert values[0].type == "quarter"
