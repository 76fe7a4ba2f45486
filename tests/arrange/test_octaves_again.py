"""A passage of the tune and its return in one octave."""

from __future__ import annotations

import random
from itertools import pairwise, product

from reduce.arrange.explain import Ledger
from reduce.arrange.octaves import Compass, change_price, placed, prices_of
from reduce.arrange.octaves_again import placed_again, told_again, twins
from reduce.model.record import replace
from reduce.model.texture import Parallel
from tests.arrange import lines

PIECE = lines.score("meter 4/4\nkey C major\nOboe | c5:4 e5 g5 e5 | c5:2 r | f5:4 a5 c6 a5 | f5:2 r | e5:4 g5 b5 g5 | e5:1 |\n")
BARS = [bar.start for bar in PIECE.bars]
TUNE = lines.line(PIECE)
STARTS = {BARS[0], BARS[2], BARS[4]}
HOME = (0,) * len(TUNE)
COMPASS = Compass(lowest=48, highest=96, easy_low=60, easy_high=79, octave=0.3, outside=0.2, seam=0.01, tear=9, shifts=(-12, 0, 12))
FOURTH = Parallel(first=BARS[0], second=BARS[2], length=BARS[2], shift=5)
THIRD = Parallel(first=BARS[0], second=BARS[4], length=BARS[2], shift=4)


def test_a_note_and_its_return_lie_as_far_apart_as_the_passages() -> None:
    """Law: only notes of one moment and at the distance of the two passages are twins; a third in the scale may be another third."""
    assert twins(TUNE, [FOURTH]) == ((0, 5), (1, 6), (2, 7), (3, 8), (4, 9))
    assert twins(TUNE, [THIRD]) == ((0, 10), (2, 12), (4, 14))
    assert twins(TUNE, [replace(FOURTH, shift=-7)]) == ()


def test_a_passage_takes_the_octave_of_its_first_time() -> None:
    """Law: what comes again lies in the same octave unless its own price or the keyboard forbids it; for nothing, nothing is changed."""
    pairs = twins(TUNE, [FOURTH])
    alone = placed(TUNE, STARTS, COMPASS, home=HOME)
    assert alone == (*(0,) * 5, *(-12,) * 5, *(0,) * 5)
    assert placed_again(TUNE, alone, STARTS, COMPASS, HOME, pairs, 0.3) == (0,) * 15
    assert placed_again(TUNE, alone, STARTS, COMPASS, HOME, pairs, 0.0) == alone
    dear = replace(COMPASS, outside=0.4)
    alone = placed(TUNE, STARTS, dear, home=HOME)
    assert placed_again(TUNE, alone, STARTS, dear, HOME, pairs, 0.3) == alone == (*(0,) * 5, *(-12,) * 5, *(0,) * 5)
    low = replace(COMPASS, highest=83)  # C6 lies above it: the first time does not go down for that
    assert placed_again(TUNE, alone, STARTS, low, HOME, pairs, 2.0) == alone


def cost(shifts: tuple[int, ...], compass: Compass, pairs: tuple[tuple[int, int], ...], price: float) -> float:
    """What a placement costs, counted note by note."""
    at = compass.shifts.index
    total = sum(prices_of(tone, 0, compass, None)[at(shift)] for tone, shift in zip(TUNE, shifts, strict=True))
    for (a, old), (b, new) in pairwise(zip(TUNE, shifts, strict=True)):
        total += change_price(a, b, old, new, b.onset in STARTS or b.onset > a.end, compass)
    return total + price * sum(shifts[a] != shifts[b] for a, b in pairs)


def test_one_octave_for_all_places_is_never_dearer_than_each_its_own() -> None:
    """Law, against trying every phrase where it lies by itself and higher: the placement is the cheapest of all."""
    pairs = twins(TUNE, [FOURTH, THIRD])
    chance = random.Random(7)
    for _ in range(40):
        compass = replace(
            COMPASS, outside=chance.random() / 2, octave=chance.random(), easy_high=chance.randrange(74, 86), leap=chance.random() / 5
        )
        price = chance.random() / 2
        alone = placed(TUNE, STARTS, compass, home=HOME)
        found = placed_again(TUNE, alone, STARTS, compass, HOME, pairs, price)
        rows = product(*({shift for shift in compass.shifts if shift >= alone[first]} for first in (0, 5, 10)))
        every = [tuple(shift for shift in row for _ in range(5)) for row in rows]
        least = min(cost(row, compass, pairs, price) for row in every)
        assert abs(cost(found, compass, pairs, price) - least) < 1e-6


def test_the_reason_names_the_other_place_and_the_octave_that_was_refused() -> None:
    """Law: each stretch that lies elsewhere than by itself has one decision with its twin's bars and the runner-up."""
    pairs = twins(TUNE, [FOURTH])
    alone = placed(TUNE, STARTS, COMPASS, home=HOME)
    ledger = Ledger()
    moved = told_again(ledger, TUNE, alone, (0,) * 15, HOME, pairs, PIECE.bars, 0.3)
    assert moved == frozenset(range(5, 10))
    assert [(d.sentence, d.rejected[0].what) for d in ledger.decisions()] == [
        (
            "Bars 3–4, right hand: the tune is played in the written octave, as in bars 1–2, "
            "because a passage that comes again is known by its octave.",
            "an octave lower",
        )
    ]
