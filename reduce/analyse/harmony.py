"""Chords from moment to moment: the cut of the whole piece that explains its notes best."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise
from math import exp

from reduce.analyse.keys import local_keys
from reduce.analyse.numerals import Speller, chord_name, roman
from reduce.analyse.search import Prices, Segment, Vocabulary, best_chain
from reduce.analyse.templates import Template, load_templates
from reduce.analyse.tones import Ornament, Slice, Tone, slices_of, tones_of
from reduce.model.rules import Rules
from reduce.model.score import Bar, Score
from reduce.model.texture import Chord, LocalKey

MAJOR = frozenset((0, 2, 4, 5, 7, 9, 11))
MINOR = frozenset((0, 2, 3, 5, 7, 8, 11))  # harmonic; the natural seventh counts half


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
                fit = min(0.0, fit + applied * min(1.0, strange))
            fits.append(fit)
    return tuple(fits)


def chords_of_slices(slices: Sequence[Slice], tones: Sequence[Tone], keys: tuple[LocalKey, ...], rules: Rules) -> tuple[Chord, ...]:
    """The chords of slices already cut (see `chords_of`)."""
    templates = load_templates(rules)
    prices = Prices.of(rules)
    words = Vocabulary(templates, prices)
    segments: list[Segment] = []
    for first, stop in _runs(slices):
        segments.extend(best_chain(slices, first, stop, words, prices, _fits(slices, first, stop, templates, keys, rules)))
    speller = Speller(tones)
    found: list[Chord] = []
    for segment in _joined(segments, slices):
        found.append(_record(segment, slices, templates, keys, speller, rules))
    return tuple(found)


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


def _fits(
    slices: Sequence[Slice], first: int, stop: int, templates: Sequence[Template], keys: tuple[LocalKey, ...], rules: Rules
) -> list[tuple[float, ...]]:
    """For each slice what every chord gains or loses in the key that holds there."""
    if not keys:
        return [(0.0,) * (12 * len(templates))] * (stop - first)
    tables: dict[tuple[int, str], tuple[float, ...]] = {}
    rows = []
    place = 0
    for index in range(first, stop):
        while place + 1 < len(keys) and keys[place + 1].start <= slices[index].start:
            place += 1
        key = keys[place]
        if (key.tonic, key.mode) not in tables:
            tables[key.tonic, key.mode] = key_fit(key.tonic, key.mode == "minor", templates, rules)
        rows.append(tables[key.tonic, key.mode])
    return rows


def _joined(segments: Sequence[Segment], slices: Sequence[Slice]) -> list[Segment]:
    """Neighbouring stretches of one chord are one, unless the bass moves to another chord tone on a strong beat."""
    joined: list[Segment] = []
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


def _new_bass(last: Segment, segment: Segment, slices: Sequence[Slice]) -> bool:
    return slices[segment.first].strength == 0 and slices[last.first].bass != slices[segment.first].bass


def _record(
    segment: Segment,
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
