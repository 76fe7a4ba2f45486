"""Parallel places arranged alike: what was chosen for a stretch is taken again where the source repeats it, in its own key."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping, Sequence

from reduce.arrange.figures import Strike
from reduce.arrange.line import Tone
from reduce.arrange.own_motion import Motion
from reduce.arrange.sounding import Sound
from reduce.model.record import dataclass, replace
from reduce.model.score import Bar
from reduce.model.texture import Chord, Parallel


@dataclass(frozen=True, slots=True)
class Echo:
    """The bar ``first`` (position among the kept ones), ``shift`` semitones lower, is what a later bar repeats."""

    first: int
    shift: int


def echoes(parallels: Sequence[Parallel], bars: Sequence[Bar], sounds: Sequence[Sound], least: int, agreement: float) -> dict[int, Echo]:
    """For each bar (position) that repeats an earlier kept one: the earliest such bar.

    ``least`` bars in a row must come again, and each must sound the same pitch classes as long for a share ``agreement`` of its sound, in
    its own key: where the source differs, so may the draft.
    """
    if not parallels or not bars:
        return {}
    places = {bar.start: place for place, bar in enumerate(bars)}
    contents = _contents(sounds, bars)
    found: dict[int, Echo] = {}
    for parallel in sorted(parallels, key=lambda p: (p.second, -p.length)):
        pairs = []
        for place, bar in enumerate(bars):
            if parallel.second <= bar.start and bar.end <= parallel.second + parallel.length:
                first = places.get(bar.start - parallel.second + parallel.first)
                if first is not None and bars[first].length == bar.length and bars[first].meter == bar.meter:
                    pairs.append((place, first))
        if len(pairs) < least:
            continue
        for place, first in pairs:
            root = found.get(first, Echo(first, 0))
            up = (root.shift + parallel.shift) % 12
            if place not in found and _agree(contents[root.first], contents[place], up) >= agreement:
                found[place] = Echo(root.first, up)
    return found


def _contents(sounds: Sequence[Sound], bars: Sequence[Bar]) -> list[tuple[int, ...]]:
    """For each bar how long each pitch class sounds, drums left out."""
    starts = [bar.start for bar in bars]
    out = [[0] * 12 for _ in bars]
    for sound in sounds:
        place = max(0, bisect_right(starts, sound.onset) - 1)
        while sound.role != "rhythm" and place < len(bars) and bars[place].start < sound.end:
            out[place][sound.midi % 12] += max(0, min(sound.end, bars[place].end) - max(sound.onset, bars[place].start))
            place += 1
    return [tuple(row) for row in out]


def _agree(first: Sequence[int], second: Sequence[int], up: int) -> float:
    """The share of sound that two bars have in common, the first one moved up by semitones; 1 for two silent bars."""
    size = sum(first) or 1, sum(second) or 1
    if not sum(first) or not sum(second):
        return float(sum(first) == sum(second))
    return sum(min(first[pc] / size[0], second[(pc + up) % 12] / size[1]) for pc in range(12))


def alike(steps: Mapping[int, int], found: Mapping[int, Echo]) -> dict[int, int]:
    """Steps of relief by bar, the same in all bars that repeat each other: the largest that one of them needs."""
    most: dict[int, int] = {}
    for place, step in steps.items():
        root = found[place].first if place in found else place
        most[root] = max(most.get(root, 0), step)
    out = dict(steps) | most
    for place, echo in found.items():
        if echo.first in most:
            out[place] = most[echo.first]
    return out


def chords_alike(chords: Sequence[Chord], bars: Sequence[Bar], found: Mapping[int, Echo]) -> tuple[Chord, ...]:
    """The harmony with repeated bars heard as their first time, in their own key; a chord that crosses into such a bar ends there."""
    if not found:
        return tuple(chords)
    starts = [chord.start for chord in chords]
    pieces: list[Chord] = []
    for place, bar in enumerate(bars):
        echo = found.get(place, Echo(place, 0))
        model = bars[echo.first]
        away = bar.start - model.start
        at = max(0, bisect_right(starts, model.start) - 1)
        while at < len(chords) and chords[at].start < model.end:
            chord = chords[at]
            at += 1
            if chord.end <= model.start:
                continue
            low, high = max(chord.start, model.start) + away, min(chord.end, model.end) + away
            up = echo.shift
            piece = replace(
                chord, start=low, end=high, root=(chord.root + up) % 12, bass=(chord.bass + up) % 12,
                tones=tuple((pc + up) % 12 for pc in chord.tones),
            )  # fmt: skip
            if pieces and pieces[-1].end == low and _same(pieces[-1], piece):
                piece = replace(pieces.pop(), end=high)
            pieces.append(piece)
    return tuple(pieces)


def _same(first: Chord, second: Chord) -> bool:
    return (first.root, first.bass, first.tones, first.chosen) == (second.root, second.bass, second.tones, second.chosen)


def strikes_alike(
    strikes: Sequence[Strike],
    chords: Sequence[Chord],
    bars: Sequence[Bar],
    tune: Sequence[Tone],
    own: Sequence[Motion],
    found: Mapping[int, Echo],
) -> tuple[Strike, ...]:
    """The strikes with repeated bars struck as their first time, wherever the orchestra's accompaniment moves as it did there.

    Those under the tune, in the right hand, and those in its rhythm come again where the tune has the same rhythm.
    """
    if not found:
        return tuple(strikes)
    bar_starts, chord_starts = [bar.start for bar in bars], [chord.start for chord in chords]
    by_bar: list[list[Strike]] = [[] for _ in bars]
    for strike in strikes:
        by_bar[bisect_right(bar_starts, strike.onset) - 1].append(strike)
    rhythms: list[list[tuple[int, int]]] = [[] for _ in bars]
    for tone in tune:
        place = max(0, bisect_right(bar_starts, tone.onset) - 1)
        rhythms[place].append((tone.onset - bars[place].start, tone.end - tone.onset))
    out: list[Strike] = []
    for place, bar in enumerate(bars):
        echo = found.get(place)
        sung_alike = echo is not None and rhythms[place] == rhythms[echo.first]
        if echo is None or not _moves_alike(own, bars, place, echo.first):
            out += by_bar[place]
            continue
        if not sung_alike and any(strike.sung for strike in (*by_bar[place], *by_bar[echo.first])):
            out += by_bar[place]
            continue
        away = bar.start - bars[echo.first].start
        for strike in by_bar[echo.first]:
            onset = strike.onset + away
            chord = bisect_right(chord_starts, onset) - 1
            if (strike.hand == "right" and not sung_alike) or chord < 0 or chords[chord].end <= onset:
                continue
            end = strike.end + away if strike.hand == "right" else min(bar.end, strike.end + away)
            out.append(replace(strike, onset=onset, end=end, chord=chord))
        out += [strike for strike in by_bar[place] if strike.hand == "right" and not sung_alike]
    return tuple(sorted(out, key=lambda strike: (strike.onset, strike.hand)))


def _moves_alike(own: Sequence[Motion], bars: Sequence[Bar], place: int, first: int) -> bool:
    """Whether the accompaniment of two bars sounds between about the same moments (within an eighth of the bar)."""
    if not own:
        return True
    a, b, bar = own[place], own[first], bars[place]
    if a.silent or b.silent:
        return a.silent == b.silent and a.doubled == b.doubled
    away = bar.start - bars[first].start
    return 8 * max(abs(a.first - b.first - away), abs(a.last - b.last - away)) <= bar.length


def sizes_alike(rows: Mapping[int, int], bars: Sequence[Bar], found: Mapping[int, Echo]) -> dict[int, int]:
    """How many keys a hand strikes at each onset (``rows``), where a bar repeats another: as many as in the place that has fewest there."""
    starts = [bar.start for bar in bars]
    roots = {echo.first for echo in found.values()}
    shared: dict[tuple[int, int], list[int]] = {}
    for onset in rows:
        place = bisect_right(starts, onset) - 1
        if place in found or place in roots:
            root = found[place].first if place in found else place
            shared.setdefault((root, onset - bars[place].start), []).append(onset)
    return {onset: fewest for group in shared.values() if (fewest := min(rows[onset] for onset in group)) for onset in group}
