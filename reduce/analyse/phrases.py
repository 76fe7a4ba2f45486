"""Where the tune breathes, and which phrases are alike."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from itertools import pairwise
from math import log2

from reduce.analyse.beats import bar_at, beats_of
from reduce.analyse.cadences import cadence_at, cadences
from reduce.analyse.joints import Joint, Places, joints_of
from reduce.model.rules import Rules
from reduce.model.score import Note, Score
from reduce.model.texture import Chord, Lead, LocalKey, Parallel, Phrase


def phrases(
    score: Score,
    tune: tuple[Lead, ...],
    chords: tuple[Chord, ...],
    keys: tuple[LocalKey, ...],
    rules: Rules,
    parallels: tuple[Parallel, ...] = (),
) -> tuple[Phrase, ...]:
    """The phrases of the piece from its first bar to its last without gaps; each begins with its upbeat.

    Evidence for a joint before a note of the tune: a rest, a long note, the end of a slur, a cadence, a repeat sign or double bar, a
    new carrier of the tune, the beginning of a repeated stretch, and the return of a known beginning.  The best set of joints over
    the whole piece is taken, preferring phrases of the usual lengths (dynamic programming).  Labels: equal letters for equal
    material, a stroke for a variant.
    """
    if not score.bars:
        return ()
    notes = _tune_notes(score, tune)
    if not notes:
        return (Phrase(start=0, end=score.end, label="A"),)
    beats = beats_of(score.bars, score.resolution)
    closes = cadences(chords, keys, [tick for tick, strength, _ in beats if strength <= 1])
    joints = joints_of(score, notes, tune, closes, parallels, rules)
    end_place = Places(score.bars, score.resolution).of(score.end)
    cuts = _best_cuts(joints, Joint(score.end, end_place, 0.0), _grouping(score, chords, rules), rules)
    bounds = [*cuts, score.end]
    labels = _labels(score, notes, bounds, rules)
    found = []
    for start, end, label in zip(bounds, bounds[1:], labels, strict=False):
        bar = bar_at(score.bars, end - 1)
        found.append(Phrase(start=start, end=end, label=label, cadence=cadence_at(closes, end, bar.meter.beat_ticks(score.resolution))))
    return tuple(found)


def _tune_notes(score: Score, tune: tuple[Lead, ...]) -> list[Note]:
    by_id = score.note_by_id
    notes = [by_id[name] for lead in tune for name in lead.notes if name in by_id]
    return sorted((note for note in notes if note.duration), key=lambda note: note.onset)


def _grouping(score: Score, chords: tuple[Chord, ...], rules: Rules) -> float:
    """How many printed bars are felt as one.

    Two where a bar takes less than ``quick`` seconds at the first tempo, four below half of it, half a bar where it takes three times
    as long.  Without a tempo: half a bar where the harmony changes with the beat.
    """
    quarters = next((tempo.quarters for tempo in score.tempos if tempo.quarters), None)
    if not quarters:
        return 0.5 if len(chords) >= rules.number("form.phrase-lengths.chords") * len(score.bars) else 1
    seconds = 60 * max(bar.length for bar in score.bars) / score.resolution / quarters
    quick = rules.number("form.phrase-lengths.quick")
    return 0.5 if seconds >= 3 * quick else 1 if seconds >= quick else 2 if seconds >= quick / 2 else 4


def _best_cuts(joints: Sequence[Joint], end: Joint, scale: float, rules: Rules) -> list[int]:
    """Ticks of the phrase beginnings with the greatest sum of evidence less the price of unusual lengths (in ``scale`` bars)."""
    family = "form.phrase-lengths."
    usual = [scale * size for size in rules.numbers(family + "bars")]
    odd, each = rules.number(family + "odd"), rules.number(family + "each")
    shortest, longest = scale * rules.number(family + "shortest"), scale * rules.number(family + "longest")
    ends = [*joints, end]
    reach = scale * rules.number(family + "to-close")
    prices: dict[int, float] = {}  # by length in 48ths of a bar
    best = [0.0] + [-1e9] * (len(ends) - 1)
    back = [0] * len(ends)
    places = [joint.bar for joint in ends]
    low = 0
    for index in range(1, len(ends)):
        here, gain, closed, closing = places[index], ends[index].gain, ends[index].closed, ends[index].close
        while here - places[low] > longest and low < index - 1:
            low += 1
        for place in range(low, index):
            length = here - places[place]
            if length < shortest and index < len(ends) - 1:
                break
            grain = round(48 * length)
            price = prices.get(grain)
            if price is None:
                away = min(abs(log2(max(length, 0.25) / size)) for size in usual)
                price = prices[grain] = each + odd * min(1.0, 2 * away)
            close = closing if closed - places[place] >= reach else 0.0
            score = best[place] + gain + close - price
            if score > best[index]:
                best[index] = score
                back[index] = place
        if best[index] == -1e9:
            best[index], back[index] = best[index - 1] - odd, index - 1
    cuts: list[int] = []
    index = len(ends) - 1
    while index > 0:
        index = back[index]
        cuts.append(ends[index].at)
    return cuts[::-1]


def _labels(score: Score, notes: Sequence[Note], bounds: Sequence[int], rules: Rules) -> list[str]:
    """Letters by likeness of the tune: what is struck when, with its interval from the first strong note, in any key."""
    same, variant = rules.number("form.phrase-labels.same"), rules.number("form.phrase-labels.variant")
    onsets = [note.onset for note in notes]
    shapes: list[dict[int, int]] = []
    for start, end in pairwise(bounds):
        first, stop = bisect_left(onsets, start), bisect_left(onsets, end)
        bar = bar_at(score.bars, start)
        line = bar.start if start == bar.start or 2 * (start - bar.start) < bar.length else bar.end
        shapes.append({notes[index].onset - line: notes[index].midi for index in range(first, stop)})
    labels: list[str] = []
    known: list[tuple[str, dict[int, int]]] = []
    for shape in shapes:
        likeness, letter = max(((_likeness(shape, other), name) for name, other in known), default=(0.0, ""))
        if likeness >= same:
            labels.append(letter)
        elif likeness >= variant:
            labels.append(letter + "′" * (1 if "′" not in letter else 0))
        else:
            letter = _letter(len({name for name, _ in known}))
            known.append((letter, shape))
            labels.append(letter)
    return labels


def _likeness(one: dict[int, int], other: dict[int, int]) -> float:
    """Share of notes that agree in place and pitch, at the transposition that agrees best."""
    if not one or not other:
        return 0.0
    shared = [other[place] - midi for place, midi in one.items() if place in other]
    if not shared:
        return 0.0
    counts: dict[int, int] = {}
    for shift in shared:
        counts[shift] = counts.get(shift, 0) + 1
    return 2 * max(counts.values()) / (len(one) + len(other))


def _letter(index: int) -> str:
    letters = ""
    index += 1
    while index:
        index, rest = divmod(index - 1, 26)
        letters = chr(65 + rest) + letters
    return letters
