"""Fingers for whole phrases: the cheapest path from grip to grip.

Single notes cost what the ergonomic model says (`ergonomics`), chords the stretch between every two fingers (`hand`), going from
one to the other the same rules between outer notes; habits (`habits`) tilt the choice.  The search is exact over all fingerings
of two neighbouring touches: three single notes in a row are weighed together, as the rules ask.  A rest frees the hand; so
does, partly, a lifted note or the end of a phrase.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

from reduce.hands.ergonomics import FINGERS, Model, model_for, note_points, pair_points, triple_points
from reduce.hands.habits import NONE, Prices
from reduce.hands.hand import choices
from reduce.hands.keyboard import BLACK
from reduce.model.draft import Hand

JOINED, LIFTED, FREE = 2, 1, 0  # how a touch goes on to the next
_SHARE = {JOINED: 1.0, LIFTED: 0.5, FREE: 0.15}  # of the ergonomic price
_MOST = {JOINED: 40.0, LIFTED: 12.0, FREE: 3.0}  # beyond it the hand simply moves, with any finger
_CHANGED_FINGER = 6.0  # points for another finger on a key that is held
_REPEATED_CHORD = 3.0  # points for each other finger on a chord struck again (Balliauw et al. 2017, rule 15, has 1)
_FAR = 60  # distances beyond are as far as this one

_NEIGHBOUR = 3.0  # points for the second finger over the thumb, or the thumb under it: hands turn over the third and the fourth
_SLID = 4.0  # points for one finger on two different keys that are bound together and near
_NEAR = 4  # ... so near
_AS_BEFORE = 12.0  # points against other fingers than in the parallel place

State = tuple[tuple[int, ...], float, tuple[int, ...]]  # fingers on the struck keys, price, fingers on all keys down
# from one touch to the next: prices of three fingers in a row (if single notes), of each way of the one to each way of the other
Link = tuple[tuple[float, ...], tuple[tuple[float, ...], ...]]

# keys struck, keys held, how it goes on, habits, fingers in the parallel place (none: empty)
Step = tuple[tuple[int, ...], tuple[int, ...], int, Prices, tuple[int, ...]]


def easiest(
    keys: tuple[int, ...],
    model: Model,
    hand: Hand = "right",
    first: int | None = None,
    last: int | None = None,
) -> tuple[tuple[int, ...], float]:
    """The fingering of a line of single notes with the least total under ``model``, and that total.

    Exact: every fingering competes.  ``first`` and ``last`` fix the outer fingers.
    """
    turn = 1 if hand == "right" else -1
    at = [turn * model.places[k] for k in keys]
    steps = tuple(_node(model, BLACK[k]) for k in keys)
    nodes = [list(prices) for prices in steps]
    for i, fixed in ((0, first), (len(keys) - 1, last)):
        if fixed is not None:
            nodes[i] = [price if f == fixed else float("inf") for f, price in zip(FINGERS, nodes[i], strict=True)]
    if len(keys) == 1:
        finger = min(FINGERS, key=lambda f: nodes[0][f - 1])
        return (finger,), nodes[0][finger - 1]
    two = [_pairs(model, at[i + 1] - at[i], BLACK[keys[i]], BLACK[keys[i + 1]]) for i in range(len(keys) - 1)]
    price = [[nodes[0][f] + two[0][5 * f + g] + nodes[1][g] for g in range(5)] for f in range(5)]
    back: list[list[int]] = []
    for i in range(2, len(keys)):
        three = _triples(model, at[i - 1] - at[i - 2], at[i] - at[i - 1])
        price, came = _onward(price, three, [two[i - 1][5 * f : 5 * f + 5] for f in range(5)], nodes[i])
        back.append(came)
    f, g = min(((f, g) for f in range(5) for g in range(5)), key=lambda fg: price[fg[0]][fg[1]])
    total = price[f][g]
    found = [g, f]
    for came in reversed(back):
        f, g = came[5 * f + g], f
        found.append(f)
    return tuple(f + 1 for f in reversed(found)), total


def _onward(
    price: list[list[float]], three: tuple[float, ...], two: Sequence[Sequence[float]], node: Sequence[float]
) -> tuple[list[list[float]], list[int]]:
    """One note further: ``price[e][f]`` becomes ``price[f][g]``; ``came[5f+g]`` remembers the finger before."""
    new: list[list[float]] = []
    came: list[int] = []
    i = 0
    for (c0, c1, c2, c3, c4), pairs in zip(zip(*price, strict=True), two, strict=True):
        row = []
        for pair, own in zip(pairs, node, strict=True):
            a0, a1, a2, a3, a4 = c0 + three[i], c1 + three[i + 1], c2 + three[i + 2], c3 + three[i + 3], c4 + three[i + 4]
            i += 5
            best = min(a0, a1, a2, a3, a4)
            came.append(0 if a0 == best else 1 if a1 == best else 2 if a2 == best else 3 if a3 == best else 4)
            row.append(best + pair + own)
        new.append(row)
    return new, came


@lru_cache(maxsize=64)
def _node(model: Model, black: bool) -> tuple[float, ...]:
    return tuple(sum(note_points(model, f, black).values()) for f in FINGERS)


@lru_cache(maxsize=8192)
def _pairs(model: Model, distance: int, black_f: bool, black_g: bool) -> tuple[float, ...]:
    """Prices of two fingers in a row, ``5 * (f - 1) + (g - 1)``."""
    return tuple(sum(pair_points(model, f, g, distance, black_f, black_g).values()) for f in FINGERS for g in FINGERS)


@lru_cache(maxsize=16384)
def _triples(model: Model, first: int, second: int) -> tuple[float, ...]:
    """Prices of three fingers in a row, ``25 * (f - 1) + 5 * (g - 1) + (e - 1)`` with ``e`` the first of the three."""
    return tuple(sum(triple_points(model, e, f, g, first, second).values()) for f in FINGERS for g in FINGERS for e in FINGERS)


@lru_cache(maxsize=8192)
def phrase(steps: tuple[Step, ...], span_mm: float, hand: Hand) -> tuple[tuple[int, ...], ...]:
    """Fingers for each touch of a phrase, lowest struck key first; 0 where a key has no finger (more than five keys).

    ``steps`` hold keys from the bottom up; shift by octaves as you like, the answer stays (and is remembered).
    """
    states, prices, links = _tables(tuple([step[:4] for step in steps]), span_mm, hand)
    nodes = [
        [price + _AS_BEFORE if way[0] != step[4] else price for way, price in zip(ways, own, strict=True)] if step[4] else own
        for ways, own, step in zip(states, prices, steps, strict=True)
    ]
    if len(steps) == 1:
        best = min(range(len(states[0])), key=lambda i: nodes[0][i])
        return (states[0][best][0],)

    price: list[list[float]] = []
    back: list[list[int]] = []
    for i, (three, matrix) in enumerate(links, 1):
        if three:
            price, came = _onward(price, three, matrix, nodes[i])
            back.append(came)
        elif i == 1:
            price = [
                [first + go + node for go, node in zip(row, nodes[1], strict=True)] for first, row in zip(nodes[0], matrix, strict=True)
            ]
        else:
            columns = [list(column) for column in zip(*price, strict=True)]
            least = [min(column) for column in columns]
            best_before = [column.index(low) for column, low in zip(columns, least, strict=True)]
            price = [[low + go + node for go, node in zip(row, nodes[i], strict=True)] for low, row in zip(least, matrix, strict=True)]
            back.append([e for e in best_before for _ in range(len(states[i]))])
    f, g = min(((f, g) for f in range(len(states[-2])) for g in range(len(states[-1]))), key=lambda fg: price[fg[0]][fg[1]])
    found = [g, f]
    for i in range(len(steps) - 1, 1, -1):
        f, g = back[i - 2][len(states[i]) * f + g], f
        found.append(f)
    return tuple(ways[i][0] for ways, i in zip(states, reversed(found), strict=True))


@lru_cache(maxsize=1024)
def _tables(
    steps: tuple[tuple[tuple[int, ...], tuple[int, ...], int, Prices], ...], span_mm: float, hand: Hand
) -> tuple[tuple[tuple[State, ...], ...], tuple[list[float], ...], tuple[Link, ...]]:
    """What a phrase costs whatever was played before: the ways to take each touch, their prices, the prices from each to the next."""
    model = model_for(span_mm)
    states = tuple(_states(keys, held, span_mm, hand) for keys, held, _, _ in steps)
    nodes = tuple(
        [way[1] + (habit[way[0][0] - 1] + _node(model, BLACK[keys[0]])[way[0][0] - 1] if len(keys) == 1 else 0.0) for way in ways]
        for ways, (keys, _, _, habit) in zip(states, steps, strict=True)
    )
    turn = 1 if hand == "right" else -1
    places = model.places
    single = [len(keys) == 1 and not held for keys, held, _, _ in steps]
    links: list[Link] = []
    for i in range(1, len(steps)):
        here, there = steps[i - 1], steps[i]
        link = here[2]
        if not (single[i - 1] and single[i]):
            links.append(((), _across(model, here[0], here[1], there[0], there[1], link, span_mm, hand)))
            continue
        a, b = here[0][0], there[0][0]
        second = _clipped(turn * (places[b] - places[a]))
        pairs = _linked_pairs(model, second, BLACK[a], BLACK[b], link)
        if i >= 2 and single[i - 2]:
            first = _clipped(turn * (places[a] - places[steps[i - 2][0][0]]))
            links.append((_linked_triples(model, first, second, min(link, steps[i - 2][2])), pairs))
        else:
            links.append(((), pairs))
    return states, nodes, tuple(links)


@lru_cache(maxsize=8192)
def _linked_pairs(model: Model, distance: int, black_f: bool, black_g: bool, link: int) -> tuple[tuple[float, ...], ...]:
    """Prices of two fingers in a row by finger and next finger, as far as the touches are bound together."""
    share, most = _SHARE[link], _MOST[link]
    two = _pairs(model, distance, black_f, black_g)
    return tuple(tuple(min(share * (two[5 * f + g] + _clumsy(f + 1, g + 1, distance)), most) for g in range(5)) for f in range(5))


def _clumsy(f: int, g: int, distance: int) -> float:
    """Points for what the ergonomic model allows and no teacher prints.  Source: scale fingerings and legato touch, common practice."""
    if ((f, g) == (1, 2) and distance < 0) or ((f, g) == (2, 1) and distance > 0):
        return _NEIGHBOUR
    return _SLID if f == g and 0 < abs(distance) <= _NEAR else 0.0


@lru_cache(maxsize=16384)
def _linked_triples(model: Model, first: int, second: int, link: int) -> tuple[float, ...]:
    """Prices of three fingers in a row, as far as the touches are bound together."""
    three, share = _triples(model, first, second), _SHARE[link]
    return three if share == 1 else tuple([share * price for price in three])


def _clipped(distance: int) -> int:
    return max(-_FAR, min(_FAR, distance))


def _states(keys: tuple[int, ...], held: tuple[int, ...], span_mm: float, hand: Hand) -> tuple[State, ...]:
    low = 12 * (min((*keys, *held)) // 12)
    return _all_states(tuple(k - low for k in keys), tuple(k - low for k in held), span_mm, hand)


@lru_cache(maxsize=1 << 14)
def _all_states(keys: tuple[int, ...], held: tuple[int, ...], span_mm: float, hand: Hand) -> tuple[State, ...]:
    """Every choice of fingers for a touch.

    Keys that the hand cannot reach with what it holds are taken as if the held ones were left to the pedal; a chord too
    wide for the hand is fingered as a wider hand would, since it will be rolled.
    """
    if len(keys) == 1 and not held:
        return tuple(((f,), 0.0, (f,)) for f in FINGERS)
    row = tuple(sorted({*keys, *held}))
    ways = choices(row, max(span_mm, 165.0), hand) if held else ()
    if ways:
        places = [row.index(k) for k in keys]
        return tuple((tuple(way.fingers[p] for p in places), way.effort, way.fingers) for way in ways)
    if len(keys) == 1:
        return tuple(((f,), 0.0, (f,)) for f in FINGERS)
    inner = keys if len(keys) <= 5 else (*keys[:2], *keys[-3:])
    span = max(span_mm, 120.0)
    while not (ways := choices(inner, span, hand)):
        span *= 1.15
    if len(keys) > 5:
        gap = (0,) * (len(keys) - 5)
        return tuple(((*way.fingers[:2], *gap, *way.fingers[2:]), way.effort, way.fingers) for way in ways)
    return tuple((way.fingers, way.effort, way.fingers) for way in ways)


def _across(
    model: Model,
    keys_a: tuple[int, ...],
    held_a: tuple[int, ...],
    keys_b: tuple[int, ...],
    held_b: tuple[int, ...],
    link: int,
    span_mm: float,
    hand: Hand,
) -> tuple[tuple[float, ...], ...]:
    low = 12 * (min((*keys_a, *held_a, *keys_b, *held_b)) // 12)

    def down(keys: tuple[int, ...]) -> tuple[int, ...]:
        return tuple(k - low for k in keys)

    return _crossing(model, down(keys_a), down(held_a), down(keys_b), down(held_b), link, span_mm, hand)


@lru_cache(maxsize=8192)
def _crossed_pairs(model: Model, distance: int, black_f: bool, black_g: bool, share: float, most: float, count: int) -> tuple[float, ...]:
    """Prices of two fingers in a row, as a part of ``count`` of what a change of chord costs."""
    return tuple([min(share * price, most) / count for price in _pairs(model, distance, black_f, black_g)])


@lru_cache(maxsize=1 << 14)
def _crossing(
    model: Model,
    keys_a: tuple[int, ...],
    held_a: tuple[int, ...],
    keys_b: tuple[int, ...],
    held_b: tuple[int, ...],
    link: int,
    span_mm: float,
    hand: Hand,
) -> tuple[tuple[float, ...], ...]:
    """Price of going from each choice of fingers of one touch to each of the next, where either is more than one note."""
    turn = 1 if hand == "right" else -1
    share, most = _SHARE[link], _MOST[link]
    if len(keys_a) > 1 and len(keys_b) > 1:  # two chords are seldom bound together: the hand lifts
        share, most = min(share, _SHARE[LIFTED]), min(most, _MOST[LIFTED])
    ends = {(keys_a[0], keys_b[0]), (keys_a[-1], keys_b[-1])}
    tables = [
        (
            keys_a.index(a),
            keys_b.index(b),
            _crossed_pairs(model, _clipped(turn * (model.places[b] - model.places[a])), BLACK[a], BLACK[b], share, most, len(ends)),
        )
        for a, b in sorted(ends)
    ]
    all_a, all_b = tuple(sorted({*keys_a, *held_a})), tuple(sorted({*keys_b, *held_b}))
    kept = [(all_a.index(k), all_b.index(k)) for k in held_b if k in all_a]
    again = keys_a == keys_b
    rows = []
    states_b = _states(keys_b, held_b, span_mm, hand)
    for fingers_a, _, full_a in _states(keys_a, held_a, span_mm, hand):
        row = []
        holds = kept if len(full_a) == len(all_a) else []
        for fingers_b, _, full_b in states_b:
            price = 0.0
            if again:
                price += _REPEATED_CHORD * sum(f != g for f, g in zip(fingers_a, fingers_b, strict=True))
            else:
                for i, j, table in tables:
                    f, g = fingers_a[i], fingers_b[j]
                    if f and g:
                        price += table[5 * f + g - 6]
            if holds and len(full_b) == len(all_b):
                price += _CHANGED_FINGER * sum(full_a[i] != full_b[j] for i, j in holds)
            row.append(price)
        rows.append(tuple(row))
    return tuple(rows)


__all__ = ["FREE", "JOINED", "LIFTED", "NONE", "Step", "easiest", "phrase"]
