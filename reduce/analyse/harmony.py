"""Chords from moment to moment: the cut of the whole piece that explains its notes best."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import exp

from reduce.analyse.keys import local_keys
from reduce.analyse.numerals import Speller, chord_name, roman
from reduce.analyse.templates import Template, candidates, chord_masks, load_templates
from reduce.analyse.tones import Ornament, Slice, Tone, slices_of, tones_of
from reduce.model.rules import Rules
from reduce.model.score import Bar, Score
from reduce.model.texture import Chord, LocalKey

MAJOR = frozenset((0, 2, 4, 5, 7, 9, 11))
MINOR = frozenset((0, 2, 3, 5, 7, 8, 11))  # harmonic; the natural seventh counts half
_BEAM = 4  # chords kept at each point
_SHARE = 5  # chords kept from each slice as candidates for the stretches that hold it


def harmony(score: Score, rules: Rules) -> tuple[tuple[Chord, ...], tuple[LocalKey, ...]]:
    """Chords and local keys of the score: keys by profile, chords in these keys, keys again with the chords' functions."""
    return harmony_of(tones_of(score), score.bars, score.resolution, rules)


def harmony_of(
    tones: Sequence[Tone], bars: Sequence[Bar], resolution: int, rules: Rules
) -> tuple[tuple[Chord, ...], tuple[LocalKey, ...]]:
    """`harmony` for any tones on a grid of bars (see `chords_of`)."""
    slices = slice_tones(tones, bars, resolution, rules)
    first = local_keys(slices, bars, rules)
    heard = chords_of_slices(slices, tones, first, rules)
    keys = local_keys(slices, bars, rules, heard)
    if keys != first:
        heard = chords_of_slices(slices, tones, keys, rules)
    return heard, keys


def chords(score: Score, keys: tuple[LocalKey, ...], rules: Rules) -> tuple[Chord, ...]:
    """The chords of the score without gaps, except where a whole bar or more is silent.

    ``keys`` (may be empty) says what the ear expects.  See `chords_of`.
    """
    return chords_of(tones_of(score), score.bars, score.resolution, keys, rules)


def chords_of(
    tones: Sequence[Tone], bars: Sequence[Bar], resolution: int, keys: tuple[LocalKey, ...], rules: Rules
) -> tuple[Chord, ...]:
    """The chords of any tones on a grid of bars (a score, or a draft whose worksheet is to be written).

    ``tones`` sorted by onset.  Method: dynamic programming over the cuts of the piece, each stretch scored against chord templates
    (Pardo and Birmingham 2002, Computer Music Journal 26/2), with foreign notes weighed by the steps around them, the bass, the
    key and the usual progressions; where we deviate, the values of ``rules/harmony.toml`` say so.
    """
    slices = slice_tones(tones, bars, resolution, rules)
    return chords_of_slices(slices, tones, keys, rules)


def slice_tones(tones: Sequence[Tone], bars: Sequence[Bar], resolution: int, rules: Rules) -> list[Slice]:
    """The slices of `reduce.analyse.tones.slices_of` with the prices of ``rules``."""
    family = "harmony.foreign-notes."
    shares: dict[Ornament, float] = {
        "": rules.number(family + "plain"),
        "passing": rules.number(family + "passing"),
        "neighbour": rules.number(family + "neighbour"),
        "suspension": rules.number(family + "suspension"),
        "appoggiatura": rules.number(family + "appoggiatura"),
        "escape": rules.number(family + "escape"),
        "anticipation": rules.number(family + "anticipation"),
    }
    return slices_of(
        tones, bars, resolution, off_beat=rules.number(family + "off-beat"), as_foreign=shares, held_foreign=rules.number(family + "held")
    )


@dataclass(frozen=True, slots=True)
class _Prices:
    change: tuple[float, float, float, float]
    root: float
    third: float
    fifth: float
    seventh: float
    bass: tuple[float, float, float, float, float]  # root, third, fifth, seventh, foreign
    longest: int
    motion: tuple[float, ...]

    @classmethod
    def of(cls, rules: Rules) -> _Prices:
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
            price("root-absent"),
            price("third-absent"),
            price("fifth-absent"),
            price("seventh-absent"),
            (price("root-in-bass"), 0.0, price("fifth-in-bass"), price("seventh-in-bass"), price("foreign-bass")),
            rules.whole("harmony.segment-search.longest"),
            tuple(motion),
        )


def key_fit(tonic: int, minor: bool, templates: Sequence[Template], rules: Rules) -> tuple[float, ...]:
    """What each chord id gains or loses in a key, in tone-beats: its tones in the scale, its function, applied dominants."""

    def sense(name: str) -> float:
        return rules.number("harmony.key-sense." + name)

    outside, applied = sense("outside"), sense("applied")
    function = {0: sense("tonic"), 7: sense("dominant"), 5: sense("subdominant"), 2: sense("subdominant"), 11: sense("leading")}
    scale = MINOR if minor else MAJOR
    fits: list[float] = []
    for root in range(12):
        degree = (root - tonic) % 12
        for template in templates:
            strange = 0.0
            for tone in template.tones:
                step = (degree + tone) % 12
                if step not in scale:
                    strange += 0.5 if minor and step == 10 else 1.0
            fit = -outside * strange
            if not strange or (minor and degree == 7 and template.tones[1] == 3):
                fit += function.get(degree, 0.0)
            elif strange and (
                (template.tones[:2] == (0, 4) and (degree + 5) % 12 in scale and degree != 0)
                or (template.tones[:3] == (0, 3, 6) and (degree + 1) % 12 in scale)
            ):
                fit += applied * min(1.0, strange)
            fits.append(fit)
    return tuple(fits)


def chords_of_slices(slices: Sequence[Slice], tones: Sequence[Tone], keys: tuple[LocalKey, ...], rules: Rules) -> tuple[Chord, ...]:
    """The chords of slices already cut (see `chords_of`)."""
    templates = load_templates(rules)
    segments: list[_Segment] = []
    for first, stop in _runs(slices):
        segments.extend(_search(slices, first, stop, templates, keys, rules))
    speller = Speller(tones)
    found: list[Chord] = []
    for segment in _joined(segments, slices, templates):
        found.append(_record(segment, slices, templates, keys, speller, rules))
    return tuple(found)


@dataclass(slots=True)
class _Segment:
    first: int
    stop: int
    chord: int
    margin: float
    rival: int


def _runs(slices: Sequence[Slice]) -> list[tuple[int, int]]:
    """Stretches of slices between silences of a bar or more; shorter rests belong to the chord before them."""
    runs: list[tuple[int, int]] = []
    start = -1
    index = 0
    while index < len(slices):
        if slices[index].mask:
            if start < 0:
                start = index
            index += 1
            continue
        stop = index
        beats = 0.0
        whole_bar = False
        while stop < len(slices) and not slices[stop].mask:
            beats += slices[stop].beats
            whole_bar = whole_bar or (slices[stop].strength == 0 and beats > slices[stop].beats)
            stop += 1
        long = stop == len(slices) or (whole_bar and beats >= 2) or (slices[index].strength == 0 and slices[stop].strength == 0)
        if start >= 0 and long:
            runs.append((start, index))
            start = -1
        index = stop
    if start >= 0:
        runs.append((start, len(slices)))
    return runs


def _search(
    slices: Sequence[Slice], first: int, stop: int, templates: Sequence[Template], keys: tuple[LocalKey, ...], rules: Rules
) -> list[_Segment]:
    """The best chain of chords over ``slices[first:stop]``."""
    price = _Prices.of(rules)
    shapes = tuple(template.tones for template in templates)
    kinds = len(shapes)
    count = 12 * kinds
    # chord tones by id; the zero at place 12 of each value stands for the missing seventh of a triad
    t0 = [index // kinds for index in range(count)]
    t1 = [(index // kinds + shapes[index % kinds][1]) % 12 for index in range(count)]
    t2 = [(index // kinds + shapes[index % kinds][2]) % 12 for index in range(count)]
    t3 = [(index // kinds + shapes[index % kinds][3]) % 12 if len(shapes[index % kinds]) > 3 else 12 for index in range(count)]
    sets = [mask for mask, _, _ in chord_masks(shapes)]
    cost = [templates[index % kinds].cost for index in range(count)]
    fits: dict[tuple[int, bool], tuple[float, ...]] = {}
    flat = (0.0,) * count
    motion, change = price.motion, price.change
    p_root, p_third, p_fifth, p_seventh = price.root, price.third, price.fifth, price.seventh
    b_root, b_third, b_fifth, b_seventh, b_foreign = price.bass

    # prices by set of pitch classes, kept for all stretches with the same set
    absent: dict[tuple[int, int], float] = {}

    def missing(mask: int, chord: int) -> float:
        lack = cost[chord]
        if not mask >> t0[chord] & 1:
            lack += p_root
        if not mask >> t1[chord] & 1:
            lack += p_third
        if not mask >> t2[chord] & 1:
            lack += p_fifth
        if t3[chord] < 12 and (not mask >> t3[chord] & 1 or (mask & sets[chord]).bit_count() < 3):
            lack += p_seventh
        return lack

    key_at: list[tuple[float, ...]] = []
    position = 0
    for index in range(first, stop):
        while position + 1 < len(keys) and keys[position + 1].start <= slices[index].start:
            position += 1
        if not keys:
            key_at.append(flat)
            continue
        key = keys[position]
        which = (key.tonic, key.mode == "minor")
        if which not in fits:
            fits[which] = key_fit(key.tonic, key.mode == "minor", templates, rules)
        key_at.append(fits[which])

    best_of: list[list[int]] = []
    for index in range(first, stop):
        piece = slices[index]
        value, mask, fit = piece.value, piece.mask, key_at[index - first]
        rated = []
        for chord in candidates(mask, shapes) if mask else ():
            gain = value[t0[chord]] + value[t1[chord]] + value[t2[chord]] + value[t3[chord]]
            rated.append((gain - missing(mask, chord) + fit[chord], chord))
        rated.sort(reverse=True)
        best_of.append([chord for _, chord in rated[:_SHARE]])

    # states at a point: (score, chord, where it began, place in the list there, margin, rival)
    length = stop - first
    states: list[list[tuple[float, int, int, int, float, int]]] = [[] for _ in range(length + 1)]
    states[0].append((0.0, -1, -1, -1, 0.0, -1))
    longest = price.longest
    for begin in range(length):
        here = sorted(states[begin], reverse=True)
        seen: set[int] = set()
        kept = []
        for state in here:
            if state[1] not in seen:
                seen.add(state[1])
                kept.append(state)
                if len(kept) == _BEAM:
                    break
        states[begin] = kept
        piece = slices[first + begin]
        fit = key_at[begin]
        new = change[piece.strength]
        total = [0.0] * 13
        foreign = 0.0
        mask = 0
        bass = -1
        pool: list[int] = []
        best_last = 0.0
        for end in range(begin, min(length, begin + longest)):
            piece = slices[first + end]
            if piece.mask:
                total = [a + b for a, b in zip(total, piece.value, strict=True)]
                foreign += piece.foreign
                mask |= piece.mask
                if bass < 0:
                    bass = piece.bass
                for chord in best_of[end]:
                    if chord not in pool:
                        pool.append(chord)
            if not pool:  # a rest belongs to the chord before it
                states[end + 1].extend((score, chord, begin, place, 0.0, -1) for place, (score, chord, _, _, _, _) in enumerate(kept))
                break
            rated = []
            for chord in pool:
                pair = (mask, chord)
                lack = absent.get(pair)
                if lack is None:
                    lack = absent[pair] = missing(mask, chord)
                a, b, c, d = t0[chord], t1[chord], t2[chord], t3[chord]
                ground = b_root if bass == a else b_third if bass == b else b_fifth if bass == c else b_seventh if bass == d else b_foreign
                rated.append((total[a] + total[b] + total[c] + total[d] - lack + fit[chord] + ground, chord))
            rated.sort(reverse=True)
            lead = rated[0][0]
            target = states[end + 1]
            for score, chord in rated[:_BEAM]:
                rival = next((pair for pair in rated if pair[1] // kinds != chord // kinds), (lead - 9.0, -1))
                root = chord // kinds
                best = -1e9
                where = 0
                for place, state in enumerate(kept):
                    old = state[1]
                    step = 0.0 if old < 0 or old == chord else motion[(root - old // kinds) % 12] - new
                    if state[0] + step > best:
                        best = state[0] + step
                        where = place
                if kept[where][1] == chord:
                    score -= fit[chord]  # the same chord going on has had its gain
                target.append((best + score - foreign, chord, begin, where, score - rival[0], rival[1]))
            if end > begin and lead - foreign < best_last - 4.0:
                break
            best_last = max(best_last, lead - foreign)
    for point in range(1, length + 1):
        states[point].sort(reverse=True)
    chain: list[_Segment] = []
    point, place = length, 0
    while point > 0:
        _, chord, began, where, margin, rival_chord = states[point][place]
        if chord >= 0:
            chain.append(_Segment(first + began, first + point, chord, margin, rival_chord))
        point, place = began, where
    chain.reverse()
    return chain


def _joined(segments: Sequence[_Segment], slices: Sequence[Slice], templates: Sequence[Template]) -> list[_Segment]:
    """Neighbouring stretches of one chord are one, unless the bass moves to another chord tone on a strong beat."""
    joined: list[_Segment] = []
    for segment in segments:
        if joined:
            last = joined[-1]
            if last.chord == segment.chord and last.stop == segment.first and not _new_bass(last, segment, slices):
                weight = last.stop - last.first
                more = segment.stop - segment.first
                last.margin = (last.margin * weight + segment.margin * more) / (weight + more)
                last.stop = segment.stop
                continue
        joined.append(segment)
    return joined


def _new_bass(last: _Segment, segment: _Segment, slices: Sequence[Slice]) -> bool:
    return slices[segment.first].strength == 0 and slices[last.first].bass != slices[segment.first].bass


def _record(
    segment: _Segment,
    slices: Sequence[Slice],
    templates: Sequence[Template],
    keys: tuple[LocalKey, ...],
    speller: Speller,
    rules: Rules,
) -> Chord:
    root, kind = divmod(segment.chord, len(templates))
    template = templates[kind]
    start, end = slices[segment.first].start, slices[segment.stop - 1].end
    bass = next((piece.bass for piece in slices[segment.first : segment.stop] if piece.bass >= 0), root)
    key = next((key for key in reversed(keys) if key.start <= start), keys[0] if keys else None)
    names = speller.names(start, end, key)
    root = _spelled_root(root, template, names)
    tones = tuple((root + tone) % 12 for tone in template.tones)
    if bass not in tones:
        bass = next((piece.bass for piece in slices[segment.first : segment.stop] if piece.bass in tones), root)
    beats = sum(piece.beats for piece in slices[segment.first : segment.stop])
    rival = ""
    if segment.rival >= 0:
        other, other_kind = divmod(segment.rival, len(templates))
        rival = chord_name(other, templates[other_kind].quality, other, names, rules)
    return Chord(
        start=start,
        end=end,
        root=root,
        quality=template.quality,
        bass=bass,
        tones=tones,
        certainty=round(1 / (1 + exp(-1.5 * segment.margin / max(1.0, beats))), 3),
        name=chord_name(root, template.quality, bass, names, rules),
        roman=roman(root, template, bass, names, key),
        runner_up=rival,
    )


def _spelled_root(root: int, template: Template, names: Mapping[int, int]) -> int:
    """The root of a chord that divides the octave evenly (diminished seventh, augmented triad), from its spelling in thirds.

    B-D-F-A♭ stands on B and B-D-F-G♯ on G♯, though they are the same keys (common practice).
    """
    tones = template.tones
    gap = 12 // len(tones)
    if any(second - first != gap for first, second in pairwise(tones)):
        return root
    turn = 7 * gap % 12  # a minor third up is three places flatward, a major third four sharpward
    step = turn if turn <= 6 else turn - 12
    for tone in tones:
        place = names[(root + tone) % 12]
        if all(names[(root + tone + other) % 12] == place + step * index for index, other in enumerate(tones)):
            return (root + tone) % 12
    return root
