"""The published ergonomic model of keyboard fingering: what two, and what three, notes in a row cost a hand.

Source: Parncutt, Sloboda, Clarke, Raekallio & Desain (1997), Music Perception 14(4), 341-382: Table 1 and rules 1 to 12; the
variant for hands of three sizes and for any texture: Balliauw, Herremans, Palhazi Cuervo & Sörensen (2017), ITOR 24(3).
Both are one set of rules with different tables and weights, so both are a `Model` here.

Three readings that the printed rules leave open, without which the printed totals do not come out:
returning to the same key with another finger is a half change of position of size 0; a crossed pair counts as a small span in
the row of its two fingers; in a cyclic fragment pairs, triples and colours go round the join.

Everything is said for the right hand; the left is its mirror image (distances change sign).
"""

from __future__ import annotations

from dataclasses import field
from functools import lru_cache
from itertools import pairwise

from reduce.hands.hand import PAIRS
from reduce.hands.keyboard import BLACK, STEP
from reduce.model.draft import Hand
from reduce.model.record import dataclass

FINGERS = (1, 2, 3, 4, 5)
RULES = (
    "stretch", "small-span", "large-span", "position-change-count", "position-change-size", "weak-finger",
    "three-four-five", "three-to-four", "four-on-black", "thumb-on-black", "five-on-black", "thumb-passing",
)  # fmt: skip
NOT_PLAYABLE = 1e6
Row = tuple[float, float, float, float, float, float]  # MinPrac MinComf MinRel MaxRel MaxComf MaxPrac

# Parncutt et al. 1997, Table 1, semitones from the lower-numbered finger up to the higher one, in the order of PAIRS.
_PARNCUTT: tuple[Row, ...] = (
    (-5, -3, 1, 5, 8, 10),
    (-4, -2, 3, 7, 10, 12),
    (-3, -1, 5, 9, 12, 14),
    (-1, 1, 7, 10, 13, 15),
    (1, 1, 1, 2, 3, 5),
    (1, 1, 3, 4, 5, 7),
    (2, 2, 5, 6, 8, 10),
    (1, 1, 1, 2, 2, 4),
    (1, 1, 3, 4, 5, 7),
    (1, 1, 1, 2, 3, 5),
)


def _built(*rows: tuple[float, float, float, float]) -> tuple[Row, ...]:
    """Full rows from MinPrac MinRel MaxRel MaxPrac: comfort lies two steps inside, below only for thumb pairs (same source)."""
    return tuple(
        (low, low + 2 if pair[0] == 1 else low, easy, wide, most - 2, most)
        for pair, (low, easy, wide, most) in zip(PAIRS, rows, strict=True)
    )


# Balliauw et al. 2017, steps of a fourteenth of an octave (the keyboard with two imaginary black keys).
_SMALL = _built(
    (-7, 1, 3, 10), (-6, 3, 6, 12), (-4, 5, 8, 13), (-2, 7, 10, 14), (1, 1, 2, 6),
    (1, 3, 4, 8), (2, 5, 6, 10), (1, 1, 2, 4), (1, 3, 4, 8), (1, 1, 2, 6),
)  # fmt: skip
_MEDIUM = _built(
    (-8, 1, 5, 10), (-7, 3, 9, 14), (-5, 5, 11, 15), (-2, 7, 12, 16), (1, 1, 2, 7),
    (1, 3, 4, 8), (2, 5, 6, 12), (1, 1, 2, 4), (1, 3, 4, 8), (1, 1, 2, 6),
)  # fmt: skip
_LARGE = _built(
    (-10, 1, 6, 11), (-8, 3, 9, 15), (-6, 5, 11, 16), (-2, 7, 12, 18), (1, 1, 2, 7),
    (1, 3, 4, 8), (2, 5, 6, 12), (1, 1, 2, 4), (1, 3, 4, 8), (1, 1, 2, 6),
)  # fmt: skip
_SIZES = ((165.0, _SMALL), (16 * 165.0 / 14, _MEDIUM), (18 * 165.0 / 14, _LARGE))  # mm from thumb to little finger


@dataclass(frozen=True, slots=True)
class Weights:
    """Points of each rule; ``before`` and ``after`` are added where the neighbouring note is on a white key."""

    stretch: float = 2
    span_thumb: float = 1
    span_other: float = 2
    change_size: float = 1
    weak: tuple[int, ...] = (4, 5)
    three_four_five: float = 1
    three_to_four: float = 1
    four_to_three: float = 0
    four_on_black: float = 1
    four_on_black_back: float = 1
    thumb_black: float = 1
    thumb_black_before: float = 2
    thumb_black_after: float = 2
    five_black_before: float = 2
    five_black_after: float = 2
    pass_level: float = 1
    pass_black: float = 3
    beyond: float = NOT_PLAYABLE  # a step outside the practical range
    same_finger: float = NOT_PLAYABLE  # one finger on two keys in a row, bound together
    finger_back: float = 0  # the same finger on the first and third notes with the second between


@dataclass(frozen=True, eq=False)
class Model:
    """One hand's ergonomics: ``table`` by ordered pair of fingers, ``places`` the key positions that it is made for."""

    name: str
    table: dict[tuple[int, int], Row]
    places: tuple[int, ...]
    weights: Weights = field(default_factory=Weights)


def _table(rows: tuple[Row, ...]) -> dict[tuple[int, int], Row]:
    """Rows for every ordered pair: reversed pairs swap and negate, a finger with itself allows no distance."""
    table: dict[tuple[int, int], Row] = {(f, f): (0, 0, 0, 0, 0, 0) for f in FINGERS}
    for (f, g), row in zip(PAIRS, rows, strict=True):
        table[f, g] = row
        table[g, f] = (-row[5], -row[4], -row[3], -row[2], -row[1], -row[0])
    return table


PARNCUTT = Model("Parncutt et al. 1997", _table(_PARNCUTT), tuple(range(128)))
_PLAIN = Weights(
    span_other=1,
    weak=(4,),
    three_four_five=0,
    three_to_four=1,
    four_to_three=1,
    four_on_black_back=0,
    thumb_black=0.5,
    thumb_black_before=1,
    thumb_black_after=1,
    five_black_before=1,
    five_black_after=1,
    pass_black=2,
    beyond=10,
    same_finger=10,
    finger_back=1,
)


@lru_cache(maxsize=32)
def model_for(span_mm: float) -> Model:
    """The model of Balliauw et al. for a hand of ``span_mm``, between and beyond their three sizes in proportion.

    In a line the fingers need not be down together, so hands that span less than an octave use the table for small ones.
    """
    span = max(span_mm, _SIZES[0][0])
    if span >= _SIZES[-1][0]:
        rows = _SIZES[-1][1]
    else:
        (low, small), (high, large) = next(pair for pair in pairwise(_SIZES) if span <= pair[1][0])
        part = (span - low) / (high - low)
        rows = tuple(_between(a, b, part) for a, b in zip(small, large, strict=True))
    return Model(f"hand of {span_mm:.0f} mm", _table(rows), STEP, _PLAIN)


def _between(a: Row, b: Row, part: float) -> Row:
    mixed = [x + part * (y - x) for x, y in zip(a, b, strict=True)]
    return mixed[0], mixed[1], mixed[2], mixed[3], mixed[4], mixed[5]


def note_points(model: Model, finger: int, black: bool) -> dict[str, float]:
    """Rules that need one note: weak fingers, and the thumb on a black key."""
    points: dict[str, float] = {}
    if finger in model.weights.weak:
        points["weak-finger"] = 1
    if black and finger == 1:
        points["thumb-on-black"] = model.weights.thumb_black
    return points


def pair_points(model: Model, f: int, g: int, distance: int, black_f: bool, black_g: bool) -> dict[str, float]:
    """Rules that need two notes in a row: fingers ``f`` then ``g``, ``distance`` in the model's steps, rightward positive."""
    w = model.weights
    points: dict[str, float] = {}
    low, comf_low, rel_low, rel_high, comf_high, high = model.table[f, g]
    thumb = f == 1 or g == 1
    if f == g:
        if distance:
            points["stretch"] = w.same_finger + abs(distance)
    else:
        out = max(0, low - distance, distance - high)
        points["stretch"] = w.stretch * max(0, comf_low - distance, distance - comf_high) + w.beyond * out
        # Spans are measured from the lower-numbered finger to the higher one, whatever their order in time.
        small, large = max(0, rel_low - distance), max(0, distance - rel_high)
        if f > g:
            small, large = large, small
        points["small-span"] = (w.span_thumb if thumb else w.span_other) * small
        points["large-span"] = (w.span_thumb if thumb else w.span_other) * large
        if (f, g) == (3, 4):
            points["three-to-four"] = w.three_to_four
        elif (f, g) == (4, 3):
            points["three-to-four"] = w.four_to_three
        if (f, g) == (3, 4) and black_g and not black_f:
            points["four-on-black"] = w.four_on_black
        elif (f, g) == (4, 3) and black_f and not black_g:
            points["four-on-black"] = w.four_on_black_back
        if thumb and distance and (distance < 0) == (f == 1):
            on_black, other_black = (black_f, black_g) if f == 1 else (black_g, black_f)
            if on_black == other_black:
                points["thumb-passing"] = w.pass_level
            elif on_black:
                points["thumb-passing"] = w.pass_black
    if black_f and not black_g:
        points["thumb-on-black"] = w.thumb_black_after if f == 1 else 0
        points["five-on-black"] = w.five_black_after if f == 5 else 0
    elif black_g and not black_f:
        points["thumb-on-black"] = w.thumb_black_before if g == 1 else 0
        points["five-on-black"] = w.five_black_before if g == 5 else 0
    return points


def triple_points(model: Model, f: int, g: int, h: int, first: int, second: int) -> dict[str, float]:
    """Rules that need three notes in a row: fingers ``f g h``, distances first-to-second and second-to-third."""
    w = model.weights
    points: dict[str, float] = {}
    span = first + second
    low, comf_low, _, _, comf_high, high = model.table[f, h]
    if span == 0:
        if f != h:
            points["position-change-count"] = 1
    else:
        out = max(0, comf_low - span, span - comf_high)
        if out:
            between = first * second > 0
            full = g == 1 and between and not low <= span <= high
            points["position-change-count"] = 2 if full else 1
            points["position-change-size"] = w.change_size * out
        if f == h and first * second > 0:
            points["position-change-count"] = points.get("position-change-count", 0) + w.finger_back
    if {f, g, h} == {3, 4, 5}:
        points["three-four-five"] = w.three_four_five
    return points


def score(
    keys: tuple[int, ...], fingers: tuple[int, ...], model: Model = PARNCUTT, hand: Hand = "right", cyclic: bool = False
) -> dict[str, float]:
    """Points of a fingered line, by rule (all of `RULES`, in their order); their sum is the total that the model prints."""
    total = dict.fromkeys(RULES, 0.0)
    turn = 1 if hand == "right" else -1
    at = [turn * model.places[k] for k in keys]
    black = [BLACK[k] for k in keys]
    count = len(keys)

    def add(points: dict[str, float]) -> None:
        for rule, value in points.items():
            total[rule] += value

    for i in range(count):
        add(note_points(model, fingers[i], black[i]))
    for i in range(count if cyclic else count - 1):
        j = (i + 1) % count
        add(pair_points(model, fingers[i], fingers[j], at[j] - at[i], black[i], black[j]))
    for i in range(count if cyclic else count - 2):
        j, k = (i + 1) % count, (i + 2) % count
        add(triple_points(model, fingers[i], fingers[j], fingers[k], at[j] - at[i], at[k] - at[j]))
    return total
