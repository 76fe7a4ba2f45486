"""The last look over both hands: bars that sound the same have the same keys."""

from __future__ import annotations

from collections.abc import Sequence

from reduce.arrange.desk import Desk, speed
from reduce.arrange.hands_again import hands_again
from reduce.arrange.sounding import bed
from reduce.arrange.strands import Key, assembled
from reduce.model.record import replace
from tests.arrange import lines

PIECE = lines.score(lines.RESTATED)
TUNE, _, CELLO = (lines.line(PIECE, part) for part in range(3))
BAR = PIECE.bars[1].start
OUTER = assembled(TUNE, CELLO, ())


def inner(place: int, midi: int, *, length: int = BAR) -> Key:
    """An inner key of the left hand from the beginning of a bar on."""
    return Key("left", 1, place * BAR, place * BAR + length, midi, outer=False)


def again(keys: Sequence[Key], hers: Sequence[tuple[int, int]] = (), lowest: int = 0) -> list[tuple[int, int]]:
    """Bar and key of the left hand's inner notes afterwards."""
    return [(key.onset // BAR, key.midi) for key in played(keys, hers, lowest)]


def ends(keys: Sequence[Key]) -> list[int]:
    """Where they end."""
    return [key.end for key in played(keys)]


def played(
    keys: Sequence[Key], hers: Sequence[tuple[int, int]] = (), lowest: int = 0, outer: Sequence[Key] = OUTER
) -> list[Key]:  # fmt: skip
    """The left hand's inner notes afterwards; the outer ones stay."""
    texture = lines.texture(PIECE)
    desk = Desk(
        score=PIECE, texture=texture, rules=lines.rules("advanced"), bars=PIECE.bars, shift=0, steps=0,
        sounds=bed(PIECE, texture, 0, 0, PIECE.end), pace=speed((), PIECE.resolution),
    )  # fmt: skip
    found, _ = hands_again(
        tuple(sorted((*outer, *keys), key=lambda k: k.onset)), desk, hers, lambda row: all(k.midi >= lowest for k in row)
    )
    assert [k.midi for k in found if k.outer] == [k.midi for k in outer]
    return [key for key in found if not key.outer]


def test_the_form_of_most_bars_is_taken_in_all_of_them() -> None:
    """Law: bars of one sound and one tune are played alike, in any key; among equals the fuller form is taken, then the earlier one."""
    assert again([inner(0, 52), inner(2, 54)]) == [(0, 52), (2, 54), (3, 52)]
    assert again([inner(0, 55), inner(2, 54), inner(3, 52)]) == [(0, 52), (2, 54), (3, 52)]
    assert again([inner(0, 52), inner(3, 55)]) == [(0, 52), (2, 54), (3, 52)]


def test_a_bar_that_was_left_empty_is_played_too() -> None:
    """Where the draft has nothing at all in a bar that sounds as two others do, it gets what they have."""
    assert [(key.onset // BAR, key.midi) for key in played([inner(0, 52), inner(3, 52)], outer=())] == [(0, 52), (2, 54), (3, 52)]


def test_what_breaks_a_limit_or_is_the_arrangers_stays() -> None:
    """Law: no bar is made like another one past a limit, nor where the arranger chose something herself."""
    assert again([inner(0, 40), inner(2, 54), inner(3, 52)], lowest=41) == [(0, 52), (2, 54), (3, 52)]
    assert again([inner(0, 52), inner(2, 54)], hers=[(3 * BAR, 4 * BAR)]) == [(0, 52), (2, 54)]


def test_a_note_held_into_the_bar_goes_on() -> None:
    """Law: a key that is held over the bar line is held on as long as in the other bar, not struck anew."""
    tied = replace(inner(2, 52), onset=3 * BAR - BAR // 2, end=3 * BAR + BAR // 2)
    assert again([inner(0, 52), tied]) == [(0, 52), (2, 52)]
    assert ends([inner(0, 52), tied]) == [BAR, 4 * BAR]
