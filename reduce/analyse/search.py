"""The chain of chords that explains a stretch of music best."""

from __future__ import annotations

from collections.abc import Sequence
from operator import add
from typing import Any

from reduce.analyse.slices import Slice
from reduce.analyse.templates import Template, candidates, chord_masks
from reduce.model.record import dataclass
from reduce.model.rules import Rules

_BEAM = 4  # chords kept at each point
_SHARE = 5  # chords kept from each slice as candidates for the stretches that hold it
_HOPELESS = 4.0  # tone-beats by which a stretch may fall behind a shorter one before longer ones are given up


@dataclass(frozen=True, slots=True)
class Segment:
    """Slices ``first``..``stop`` (not included) heard as one chord id; ``margin`` over the best chord on another root, ``rival``."""

    first: int
    stop: int
    chord: int
    margin: float
    rival: int


@dataclass(frozen=True, slots=True)
class Prices:
    """The settings of ``harmony.segment-search`` and the progressions of ``harmony.key-sense``, in tone-beats (meanings there)."""

    change: tuple[float, float, float, float]  # by the strength of the point, 0 bar line .. 3 off the beat
    absent: tuple[float, float, float, float]  # root, third, fifth, seventh
    bass: tuple[float, float, float, float, float]  # root, third, fifth, seventh, foreign
    seventh_lost: float
    longest: int
    motion: tuple[float, ...]  # by semitones from root to root

    @classmethod
    def of(cls, rules: Rules) -> Prices:
        def price(name: str) -> float:
            return rules.number("harmony.segment-search." + name)

        def sense(name: str) -> float:
            return rules.number("harmony.key-sense." + name)

        motion = [0.0] * 12
        motion[5] = sense("fifth-down")
        motion[7] = sense("fifth-up")
        motion[1] = motion[2] = sense("step-up")
        motion[8] = motion[9] = sense("third-down")
        motion[6] = motion[11] = sense("far")
        return cls(
            (price("change-bar"), price("change-half"), price("change-beat"), price("change-off-beat")),
            (price("root-absent"), price("third-absent"), price("fifth-absent"), price("seventh-absent")),
            (price("root-in-bass"), 0.0, price("fifth-in-bass"), price("seventh-in-bass"), price("foreign-bass")),
            price("seventh-lost"),
            rules.whole("harmony.segment-search.longest"),
            tuple(motion),
        )


class Vocabulary:
    """All chords by id (``root * kinds + kind``): their tones as columns, and what each lacks in a set of pitch classes."""

    def __init__(self, templates: Sequence[Template], prices: Prices) -> None:
        self.shapes = tuple(template.tones for template in templates)
        self.kinds = len(self.shapes)
        chords = [(root, template) for root in range(12) for template in templates]
        # the zero at place 12 of every slice's values stands for the seventh that a triad does not have
        self.tones = [tuple((root + tone) % 12 for tone in template.tones) + (12,) * (4 - len(template.tones)) for root, template in chords]
        self.sets = [mask for mask, _, _ in chord_masks(self.shapes)]
        self._costs = [template.cost for _, template in chords]
        self._prices = prices
        self._lacks: dict[int, list[float | None]] = {}
        self._meant: dict[int, list[tuple[Any, ...]]] = {}  # the chords that a set may mean, with their tones and what they lack

    def lacks(self, mask: int) -> list[float | None]:
        """Prices already known for a set of pitch classes, by chord id."""
        found = self._lacks.get(mask)
        if found is None:
            found = self._lacks[mask] = [None] * len(self.tones)
        return found

    def lack(self, mask: int, chord: int) -> float:
        """The price of a chord's kind and of its tones that do not sound.

        What makes the kind has to be heard: the seventh (and three tones in all) of a seventh chord, and a fifth that is not perfect.
        """
        root, third, fifth, seventh = self.tones[chord]
        prices = self._prices.absent
        price = self._costs[chord]
        if not mask >> root & 1:
            price += prices[0]
        if not mask >> third & 1:
            price += prices[1]
        if not mask >> fifth & 1:
            price += prices[2] if (fifth - root) % 12 == 7 else prices[3]
        if seventh < 12 and (not mask >> seventh & 1 or (mask & self.sets[chord]).bit_count() < 3):
            price += prices[3]
        return price

    def likely(self, piece: Slice, fit: Sequence[float]) -> dict[int, None]:
        """The few chords that explain one slice best."""
        if not piece.mask:
            return {}
        known = self._meant.get(piece.mask)
        if known is None:
            meant = candidates(piece.mask, self.shapes)
            known = self._meant[piece.mask] = [(chord, *self.tones[chord], self.lack(piece.mask, chord)) for chord in meant]
        value, beats = piece.value, piece.beats
        rated = [
            (value[root] + value[third] + value[fifth] + value[seventh] - lack + fit[chord] * beats, chord)
            for chord, root, third, fifth, seventh, lack in known
        ]
        rated.sort(reverse=True)
        return dict.fromkeys([chord for _, chord in rated[:_SHARE]])


# a state at a point: score, chord, where it began, place in the list there, margin, rival
_State = tuple[float, int, int, int, float, int]


def best_chain(
    slices: Sequence[Slice], first: int, stop: int, words: Vocabulary, prices: Prices, fits: Sequence[Sequence[float]]
) -> list[Segment]:
    """The best chain of chords over ``slices[first:stop]``, by dynamic programming over its cuts.

    ``fits[i]`` holds for slice ``first + i`` what each chord id gains from the key.  Each stretch is scored against the chords that
    are likely in one of its slices: tones of the chord count for it, foreign ones against it, missing ones and the bass have their
    price; a chord pays for beginning and gains or loses by its progression from the one before.
    """
    length = stop - first
    likely = [words.likely(slices[first + index], fits[index]) for index in range(length)]
    states: list[list[_State]] = [[] for _ in range(length + 1)]
    states[0].append((0.0, -1, -1, -1, 0.0, -1))
    for begin in range(length):
        kept = states[begin] = _foremost(states[begin])
        if not slices[first + begin].mask:  # a rest belongs to the chord before it
            states[begin + 1].extend((state[0], state[1], begin, place, 0.0, -1) for place, state in enumerate(kept))
            continue
        _extend(slices, first, begin, length, words, prices, fits[begin], likely, kept, states)
    chain: list[Segment] = []
    states[length].sort(reverse=True)
    point, place = length, 0
    while point > 0:
        _, chord, began, where, margin, rival = states[point][place]
        if chord >= 0:
            chain.append(Segment(first + began, first + point, chord, margin, rival))
        point, place = began, where
    chain.reverse()
    return chain


def _foremost(states: list[_State]) -> list[_State]:
    """The best state for each chord, the best few of them."""
    states.sort(reverse=True)
    seen: set[int] = set()
    kept: list[_State] = []
    for state in states:
        if state[1] not in seen:
            seen.add(state[1])
            kept.append(state)
            if len(kept) == _BEAM:
                break
    return kept


def _extend(
    slices: Sequence[Slice],
    first: int,
    begin: int,
    length: int,
    words: Vocabulary,
    prices: Prices,
    fit: Sequence[float],
    likely: Sequence[dict[int, None]],
    kept: Sequence[_State],
    states: Sequence[list[_State]],
) -> None:
    """All stretches that begin at one point: their best chords become states at their ends."""
    tones, sets, kinds = words.tones, words.sets, words.kinds
    b_root, b_third, b_fifth, b_seventh, b_foreign = prices.bass
    motion, new = prices.motion, prices.change[slices[first + begin].strength]
    ground = [0.0] * 13  # beats by the pitch class in the bass
    grounds = 0  # these classes
    beats = 0.0
    total: Sequence[float] = (0.0,) * 13
    foreign, mask = 0.0, 0
    pool: dict[int, None] = {}
    before = [(state[0], state[1], state[1] // kinds, tones[state[1]][3] < 12) for state in kept]  # score, chord, its root, a seventh?
    ahead: dict[int, tuple[float, int]] = {}  # by chord: the best way to reach it here
    best = -1e9
    for end in range(begin, min(length, begin + prices.longest)):
        piece = slices[first + end]
        if piece.mask:
            total = [*map(add, total, piece.value)] if mask else piece.value
            foreign += piece.foreign
            mask |= piece.mask
            beats += piece.beats
            if piece.bass >= 0:
                ground[piece.bass] += piece.beats
                grounds |= 1 << piece.bass
            pool |= likely[end]
        lacks = words.lacks(mask)
        plain = b_foreign * beats  # of a chord with none of its tones in the bass
        rated = []
        for chord in pool:
            root, third, fifth, seventh = tones[chord]
            lack = lacks[chord]
            if lack is None:
                lack = lacks[chord] = words.lack(mask, chord)
            if grounds & sets[chord]:
                g_root, g_third, g_fifth, g_seventh = ground[root], ground[third], ground[fifth], ground[seventh]
                low = b_root * g_root + b_third * g_third + b_fifth * g_fifth + b_seventh * g_seventh
                low += b_foreign * (beats - g_root - g_third - g_fifth - g_seventh)
            else:
                low = plain
            rated.append((total[root] + total[third] + total[fifth] + total[seventh] - lack + fit[chord] * beats + low, chord))
        rated.sort(reverse=True)
        first_rated = rated[0]
        lead = first_rated[0] - foreign
        first_root = first_rated[1] // kinds
        other_root = (first_rated[0] - 9.0, -1)
        for pair in rated:
            if pair[1] // kinds != first_root:
                other_root = pair
                break
        target = states[end + 1]
        for score, chord in rated[:_BEAM]:
            root, seventh = tones[chord][0], tones[chord][3]
            rival, other = first_rated if root != first_root else other_root
            way = ahead.get(chord)
            if way is None:
                way = (-1e9, 0)
                for place, (reached, old, old_root, fuller) in enumerate(before):
                    if old != chord and old >= 0:  # the same chord going on does not pay
                        reached += motion[(root - old_root) % 12] - new
                        if fuller and old_root == root and seventh == 12:
                            reached -= prices.seventh_lost
                    if reached > way[0]:
                        way = (reached, place)
                ahead[chord] = way
            target.append((way[0] + score - foreign, chord, begin, way[1], score - rival, other))
        if lead < best - _HOPELESS:
            break
        best = max(best, lead)
