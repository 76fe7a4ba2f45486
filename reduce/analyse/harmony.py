"""Chords from moment to moment: the cut of the whole piece that explains its notes best."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from itertools import pairwise

from reduce.analyse.certainty import Odds, certainty
from reduce.analyse.expectation import key_fit
from reduce.analyse.keys import local_keys
from reduce.analyse.numerals import Speller, chord_name, roman
from reduce.analyse.search import Prices, Segment, Vocabulary, best_chain
from reduce.analyse.slices import Slice, Weights, slices_of
from reduce.analyse.templates import Template, load_templates
from reduce.analyse.tones import Tone, tones_of, tones_of_draft
from reduce.model.draft import Draft
from reduce.model.rules import Rules
from reduce.model.score import Bar, Score
from reduce.model.texture import Chord, LocalKey


def harmony(score: Score, rules: Rules) -> tuple[tuple[Chord, ...], tuple[LocalKey, ...]]:
    """Chords and local keys of the score: keys by profile, chords in these keys, keys again with the chords' functions."""
    return harmony_of(tones_of(score), score.bars, score.resolution, rules)


def harmony_of(tones: Sequence[Tone], bars: Sequence[Bar], resolution: int, rules: Rules) -> tuple[tuple[Chord, ...], tuple[LocalKey, ...]]:
    """`harmony` for any tones on a grid of bars (see `chords_of`)."""
    slices = slices_of(tones, bars, resolution, Weights.of(rules))
    ear = _Ear(slices, tones, rules)
    first = local_keys(slices, bars, rules)
    segments = ear.hear(first)
    keys = local_keys(slices, bars, rules, ear.chords(segments, first))
    return ear.chords(ear.hear_again(segments, first, keys), keys), keys


def harmony_of_draft(draft: Draft, rules: Rules, keys: tuple[LocalKey, ...] = ()) -> tuple[tuple[Chord, ...], tuple[LocalKey, ...]]:
    """Chords and keys of a draft, as a pupil would find them in its notes: the answers of a worksheet.

    ``keys`` are those of the piece in these bars, where they are known: a few bars alone may seem to have another.
    """
    if keys:
        return chords_of(tones_of_draft(draft), draft.bars, draft.resolution, keys, rules), keys
    return harmony_of(tones_of_draft(draft), draft.bars, draft.resolution, rules)


def chords(score: Score, keys: tuple[LocalKey, ...], rules: Rules) -> tuple[Chord, ...]:
    """The chords of the score without gaps, except where a whole bar or more is silent.

    ``keys`` (may be empty) says what the ear expects.  See `chords_of`.
    """
    return chords_of(tones_of(score), score.bars, score.resolution, keys, rules)


def chords_of(tones: Sequence[Tone], bars: Sequence[Bar], resolution: int, keys: tuple[LocalKey, ...], rules: Rules) -> tuple[Chord, ...]:
    """The chords of any tones on a grid of bars (a score, or a draft whose worksheet is to be written).

    ``tones`` sorted by onset.  Method: dynamic programming over the cuts of the piece, each stretch scored against chord templates
    (Pardo and Birmingham 2002, Computer Music Journal 26/2), with foreign notes weighed by the steps around them, the bass, the
    key and the usual progressions; where we deviate, the values of ``rules/harmony.toml`` say so.
    """
    slices = slices_of(tones, bars, resolution, Weights.of(rules))
    ear = _Ear(slices, tones, rules)
    return ear.chords(ear.hear(keys), keys)


_MINOR, _DIMINISHED = (0, 3, 7), (0, 3, 6)
_SCALES = {"major": (0, 2, 4, 5, 7, 9, 11), "minor": (0, 2, 3, 5, 7, 8, 9, 10, 11)}  # minor with both sixths and sevenths


class _Ear:
    """Hears the slices of one piece in given keys."""

    def __init__(self, slices: Sequence[Slice], tones: Sequence[Tone], rules: Rules) -> None:
        self._slices = slices
        self._rules = rules
        self._templates = load_templates(rules)
        self._prices = Prices.of(rules)
        self._words = Vocabulary(self._templates, self._prices)
        self._speller = Speller(tones)
        self._odds = Odds.of(rules)
        self._fits: dict[tuple[int, str] | None, tuple[float, ...]] = {None: (0.0,) * (12 * len(self._templates))}

    def hear(self, keys: tuple[LocalKey, ...]) -> list[Segment]:
        """The best chain of chords between the silences of the piece."""
        fits = self._expected(keys)
        found: list[Segment] = []
        for first, stop in _runs(self._slices):
            found.extend(best_chain(self._slices, first, stop, self._words, self._prices, fits[first:stop]))
        return found

    def hear_again(self, segments: list[Segment], before: tuple[LocalKey, ...], keys: tuple[LocalKey, ...]) -> list[Segment]:
        """The chain in other keys: heard anew where they differ, with a neighbour on each side."""
        old, new = self._expected(before), self._expected(keys)
        moved = [any(old[index] is not new[index] for index in range(each.first, each.stop)) for each in segments]
        found: list[Segment] = []
        place = 0
        while place < len(segments):
            stop = place
            while stop < len(segments) and any(moved[max(0, stop - 1) : stop + 2]):
                if stop > place and segments[stop].first != segments[stop - 1].stop:
                    break
                stop += 1
            if stop == place:
                found.append(segments[place])
                place += 1
                continue
            first, end = segments[place].first, segments[stop - 1].stop
            found.extend(best_chain(self._slices, first, end, self._words, self._prices, new[first:end]))
            place = stop
        return found

    def _expected(self, keys: tuple[LocalKey, ...]) -> list[tuple[float, ...]]:
        """For each slice what every chord gains or loses in the key that holds there."""
        rows = []
        place = 0
        for piece in self._slices:
            while place + 1 < len(keys) and keys[place + 1].start <= piece.start:
                place += 1
            key = (keys[place].tonic, keys[place].mode) if keys else None
            if key not in self._fits:
                assert key is not None
                self._fits[key] = key_fit(key[0], key[1] == "minor", self._templates, self._rules)
            rows.append(self._fits[key])
        return rows

    def chords(self, segments: list[Segment], keys: tuple[LocalKey, ...]) -> tuple[Chord, ...]:
        """The records of a chain, named in their keys."""
        starts = [key.start for key in keys]
        return tuple(
            self._record(segment, keys[max(0, bisect_right(starts, self._slices[segment.first].start) - 1)] if keys else None)
            for segment in _joined(segments, self._slices)
        )

    def _record(self, segment: Segment, key: LocalKey | None) -> Chord:
        root, kind = divmod(segment.chord, len(self._templates))
        pieces = self._slices[segment.first : segment.stop]
        template = self._in_scale(self._templates[kind], root, pieces, key)
        start, end = pieces[0].start, pieces[-1].end
        names = self._speller.names(start, end, key)
        root = _spelled_root(root, template, names)
        tones = tuple((root + tone) % 12 for tone in template.tones)
        bass = next((piece.bass for piece in pieces if piece.bass >= 0), root)
        if bass not in tones:
            lowest = {tone: sum(piece.beats for piece in pieces if piece.bass == tone) for tone in tones}
            bass = max(tones, key=lambda tone: lowest[tone]) if any(lowest.values()) else root  # the root first, where two are equal
        rival = ""
        if segment.rival >= 0:
            other, other_kind = divmod(segment.rival, len(self._templates))
            rival = chord_name(other, self._templates[other_kind].quality, other, names, self._rules)
        return Chord(
            start=start,
            end=end,
            root=root,
            quality=template.quality,
            bass=bass,
            tones=tones,
            certainty=round(certainty(segment, pieces, root, template, self._odds), 3),
            name=chord_name(root, template.quality, bass, names, self._rules),
            roman=roman(root, template, bass, names, key),
            runner_up=rival,
        )

    def _in_scale(self, template: Template, root: int, pieces: Sequence[Slice], key: LocalKey | None) -> Template:
        """The kind of a chord: a minor triad whose fifth does not sound has the fifth of the key (G sharp and B in A minor: D)."""
        fifth = (root + 7) % 12
        if template.tones != _MINOR or key is None or any(piece.mask >> fifth & 1 for piece in pieces):
            return template
        scale = {(key.tonic + tone) % 12 for tone in _SCALES[key.mode]}
        if fifth in scale or (root + 6) % 12 not in scale:
            return template
        return next((other for other in self._templates if other.tones == _DIMINISHED), template)


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


def _joined(segments: Sequence[Segment], slices: Sequence[Slice]) -> list[Segment]:
    """Neighbouring stretches of one chord are one, unless the bass moves to another chord tone at a bar line."""
    joined: list[Segment] = []
    for segment in segments:
        last = joined[-1] if joined else None
        if last is None or last.chord != segment.chord or last.stop != segment.first or _new_bass(last, segment, slices):
            joined.append(segment)
            continue
        weight, more = last.stop - last.first, segment.stop - segment.first
        margin = (last.margin * weight + segment.margin * more) / (weight + more)
        joined[-1] = Segment(last.first, segment.stop, last.chord, margin, last.rival)
    return joined


def _new_bass(last: Segment, segment: Segment, slices: Sequence[Slice]) -> bool:
    return slices[segment.first].strength == 0 and slices[last.first].bass != slices[segment.first].bass


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
