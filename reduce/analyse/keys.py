"""The key of each stretch, by what sounds in it and by the best path over the whole piece."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from itertools import pairwise
from math import log

from reduce.analyse.slices import Slice
from reduce.model.rules import Rules
from reduce.model.score import Bar
from reduce.model.texture import Chord, LocalKey

_NEAR = {  # keys one accidental or one mode away: (semitones to the new tonic, new mode is minor) by mode
    False: ((7, False), (5, False), (9, True), (4, True), (2, True), (0, True)),
    True: ((7, True), (5, True), (3, False), (10, False), (8, False), (0, False), (7, False)),
}


@lru_cache(maxsize=1 << 13)
def profile_scores(mask: int, major: tuple[float, ...], minor: tuple[float, ...]) -> tuple[float, ...]:
    """Log-likelihood of a set of pitch classes in each of 24 keys (0..11 major, 12..23 minor), in nats.

    Source: Temperley 2007, Music and Probability, chapter 6: each degree is present in a segment with its own probability.
    """
    scores = []
    for profile in (major, minor):
        shares = [(log(1 - share), log(share)) for share in profile]
        for tonic in range(12):
            total = 0.0
            for pc in range(12):
                total += shares[pc - tonic][mask >> pc & 1]
            scores.append(total)
    return tuple(scores)


def local_keys(slices: Sequence[Slice], bars: Sequence[Bar], rules: Rules, chords: tuple[Chord, ...] = ()) -> tuple[LocalKey, ...]:
    """The keys of the piece without gaps, by profile and best path; ``chords`` (may be empty) add their functions.

    Segments are ``window`` beats long inside a bar.  Certainty is the margin over the best other key in the same stretch.
    """
    if not slices or not bars:
        return ()
    family = "harmony.key-profiles."
    major, minor = rules.numbers(family + "major"), rules.numbers(family + "minor")
    window = rules.number(family + "window")
    change, far, signature = rules.number(family + "change"), rules.number(family + "far"), rules.number(family + "signature")
    ends = rules.number(family + "ends")
    segments = _segments(slices, window, chords)
    by_index = {each.index: each for each in bars}
    near = []
    for index in range(24):
        tonic, is_minor = index % 12, index >= 12
        near.append([(tonic + move) % 12 + (12 if mode else 0) for move, mode in _NEAR[is_minor]])
    scores = [0.0] * 24
    back: list[list[int]] = []
    emissions: list[tuple[float, ...]] = []
    functions = _function_scores(segments, chords, rules.number(family + "cadence"))
    for place, (_, _, mask, bar_index) in enumerate(segments):
        emission = list(profile_scores(mask, major, minor)) if mask else [0.0] * 24
        fifths = by_index[bar_index].key.fifths
        mode = by_index[bar_index].key.mode
        home = fifths * 7 % 12
        emission[home] += signature * (0.5 if mode == "minor" else 1.0)
        emission[(home + 9) % 12 + 12] += signature * (0.5 if mode == "major" else 1.0)
        if place in (0, len(segments) - 1):
            emission[home] += ends
            emission[(home + 9) % 12 + 12] += ends
        for index, more in functions[place]:
            emission[index] += more
        best = max(range(24), key=scores.__getitem__)
        floor = scores[best] - change - far
        changed = [score - change for score in scores]
        new = []
        step = []
        for index, top in enumerate(scores):
            where = index
            if floor > top:
                top, where = floor, best
            for other in near[index]:
                if changed[other] > top:
                    top, where = changed[other], other
            new.append(top + emission[index])
            step.append(where)
        scores = new
        back.append(step)
        emissions.append(tuple(emission))
    index = max(range(24), key=scores.__getitem__)
    path = [index]
    for step in reversed(back[1:]):
        index = step[index]
        path.append(index)
    path.reverse()
    found: list[LocalKey] = []
    first = 0
    for place in range(1, len(path) + 1):
        if place < len(path) and path[place] == path[first]:
            continue
        sums = [sum(column) for column in zip(*emissions[first:place], strict=True)]
        own = sums[path[first]]
        rival = max(value for key, value in enumerate(sums) if key != path[first])
        margin = max(-20.0, min(20.0, own - rival))
        found.append(
            LocalKey(
                start=segments[first][0] if found else 0,
                end=segments[place - 1][1],
                tonic=path[first] % 12,
                mode="minor" if path[first] >= 12 else "major",
                certainty=round(1 / (1 + 2.718281828 ** (-margin / 2)), 3),
            )
        )
        first = place
    return tuple(found)


def _function_scores(
    segments: Sequence[tuple[int, int, int, int]], chords: tuple[Chord, ...], cadence: float
) -> list[list[tuple[int, float]]]:
    """What the chords add: a dominant that goes to its tonic speaks for that key from the one to the other."""
    rows: list[list[tuple[int, float]]] = [[] for _ in segments]
    place = 0
    for first, second in pairwise(chords):
        move = (second.root - first.root) % 12
        minor = second.quality == "minor"
        if not (minor or second.quality == "major") or first.end != second.start:
            continue
        if move == 5 and first.quality in ("major", "dominant-seventh"):
            strength = cadence * (1.0 if first.quality == "dominant-seventh" else 0.6)
        elif move == 1 and first.quality in ("diminished", "half-diminished", "diminished-seventh"):
            strength = 0.6 * cadence
        else:
            continue
        if second.bass != second.root:
            strength *= 0.6
        while place + 1 < len(segments) and segments[place][1] <= second.start:
            place += 1
        key = second.root + (12 if minor else 0)
        rows[place].append((key, strength))
        if place:
            rows[place - 1].append((key, strength))
    return rows


def _segments(slices: Sequence[Slice], window: float, chords: tuple[Chord, ...]) -> list[tuple[int, int, int, int]]:
    """Stretches as (start, end, set of what is heard for more than a moment, bar): each chord inside a bar, or ``window`` beats."""
    starts = {chord.start for chord in chords}
    found: list[tuple[int, int, int, int]] = []
    group: list[Slice] = []
    beats = 0.0
    for piece in slices:
        if group and (piece.bar != group[0].bar or (piece.start in starts if chords else beats >= window)):
            found.append(_heard(group))
            group, beats = [], 0.0
        group.append(piece)
        beats += piece.beats
    if group:
        found.append(_heard(group))
    return found


def _heard(group: Sequence[Slice]) -> tuple[int, int, int, int]:
    weights = [sum(column) for column in zip(*(piece.value for piece in group), strict=True)]
    least = 0.04 * sum(weights)
    mask = 0
    for pc in range(12):
        if weights[pc] > least:
            mask |= 1 << pc
    return group[0].start, group[-1].end, mask, group[0].bar
