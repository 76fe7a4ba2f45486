"""Where the tune breathes, and which phrases are alike."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import log2

from reduce.analyse.cadences import Cadence, cadence_at, cadences, close_under
from reduce.analyse.tones import beats_of
from reduce.model.rules import Rules
from reduce.model.score import Bar, Note, Score
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
    joints = _joints(score, notes, tune, closes, parallels, rules)
    end_place = _Places(score.bars, score.resolution).of(score.end)
    cuts = _best_cuts(joints, _Joint(score.end, end_place, 0.0), _grouping(score, chords, rules), rules)
    bounds = [*cuts, score.end]
    labels = _labels(score, notes, bounds, rules)
    found = []
    for start, end, label in zip(bounds, bounds[1:], labels, strict=False):
        bar = _bar_at(score.bars, end - 1)
        found.append(Phrase(start=start, end=end, label=label, cadence=cadence_at(closes, end, bar.meter.beat_ticks(score.resolution))))
    return tuple(found)


def _tune_notes(score: Score, tune: tuple[Lead, ...]) -> list[Note]:
    by_id = score.note_by_id
    notes = [by_id[name] for lead in tune for name in lead.notes if name in by_id]
    return sorted((note for note in notes if note.duration), key=lambda note: note.onset)


def _bar_at(bars: Sequence[Bar], tick: int) -> Bar:
    return bars[max(0, bisect_right(bars, tick, key=lambda bar: bar.start) - 1)]


@dataclass(frozen=True, slots=True)
class _Joint:
    at: int
    bar: float  # place in bars from the beginning
    gain: float
    closed: float = 0.0  # where the last chord of a close begins, in bars
    close: float = 0.0  # further gain if the phrase began well before that


def _joints(
    score: Score,
    notes: Sequence[Note],
    tune: tuple[Lead, ...],
    closes: tuple[Cadence, ...],
    parallels: tuple[Parallel, ...],
    rules: Rules,
) -> list[_Joint]:
    """The moments before tune notes where a phrase may begin, with the evidence summed."""
    family = "form.phrase-joints."
    w_rest, w_long, w_slur = rules.number(family + "rest"), rules.number(family + "long-note"), rules.number(family + "slur")
    w_cadence, w_sign, w_lead = rules.number(family + "cadence"), rules.number(family + "sign"), rules.number(family + "new-carrier")
    w_again, w_start, w_fermata = rules.number(family + "again"), rules.number(family + "same-beginning"), rules.number(family + "fermata")
    bars = score.bars
    slur_ends = {(mark.part, mark.end) for mark in score.marks if mark.kind == "slur"}
    inside = _inside_slurs(score, notes)
    signs = {bar.start for bar in bars if bar.repeat_start} | {
        bar.end for bar in bars if bar.repeat_end or bar.barline in ("light-light", "light-heavy", "heavy-light", "heavy-heavy")
    }
    leads = {lead.start for lead in tune[1:]}
    w_still, w_texture = rules.number(family + "still"), rules.number(family + "texture")
    struck = sorted({note.onset for note in score.notes if note.kind == "struck" and note.duration})
    playing = _playing(score)
    again = {match.second for match in parallels} | {match.first for match in parallels}
    beginnings = _beginnings(notes)
    places = _Places(bars, score.resolution)
    joints = [_Joint(0, 0.0, 0.0)]
    usual = 0.0
    for index in range(1, len(notes)):
        note, before = notes[index], notes[index - 1]
        if note.onset <= joints[-1].at or note.onset <= before.onset:
            continue
        bar = bars[note.bar]
        beat = bar.meter.beat_ticks(score.resolution)
        length = note.onset - before.onset
        usual = length if not usual else 0.85 * usual + 0.15 * length
        gap = max(0, note.onset - before.end)
        line = bar.start if note.onset == bar.start or 2 * (note.onset - bar.start) < bar.length else bar.end
        gain = 0.0
        if gap:
            gain += w_rest * min(1.0, gap / beat)
        follows = notes[index + 1].onset - note.onset if index + 1 < len(notes) else length
        ratio = length / max(1.0, usual, follows)
        if ratio > 1.5 and length >= beat:
            gain += w_long * min(1.0, log2(ratio) / 2)
        if (before.part, before.onset) in slur_ends or (before.part, before.end) in slur_ends:
            gain += w_slur
        if index in inside:
            gain -= w_slur
        if length >= beat and bisect_left(struck, note.onset) - bisect_right(struck, before.onset) == 0:
            gain += w_still
        if line in (bar.start, bar.end) and note.onset <= line:
            index_of_line = bar.index + (line == bar.end)
            if 0 < index_of_line < len(bars):
                gain += w_texture * _change(playing[index_of_line - 1], playing[index_of_line])
        if before.fermata:
            gain += w_fermata
        close = close_under(closes, before.onset, note.onset, beat)
        # a sign or a repeat at the bar line means the note there; an upbeat to it only half
        at_line = 1.0 if before.onset < line <= note.onset else 0.5
        if line in signs or any(before.onset < sign <= note.onset for sign in (bar.start, bar.end) if sign in signs):
            gain += w_sign * at_line
        if note.onset in leads or any(before.onset < start <= note.onset for start in (bar.start, bar.end) if start in leads):
            gain += w_lead
        if line in again and note.onset <= line:
            gain += w_again * at_line
        if index in beginnings:
            gain += w_start
        if close is None:
            joints.append(_Joint(note.onset, places.of(note.onset), gain))
        else:
            strength = close.strength * (1.0 if note.onset + beat > close.end else 0.6)
            joints.append(_Joint(note.onset, places.of(note.onset), gain, places.of(close.at), w_cadence * strength))
    return joints


class _Places:
    """Moments in bars from the beginning, split and short bars counted by what they last."""

    def __init__(self, bars: Sequence[Bar], resolution: int) -> None:
        self._starts = [bar.start for bar in bars]
        self._full = [bar.meter.ticks(resolution) or bar.length for bar in bars]
        self._before = [0.0]
        for bar, full in zip(bars, self._full, strict=True):
            self._before.append(self._before[-1] + bar.length / full)

    def of(self, tick: int) -> float:
        index = max(0, bisect_right(self._starts, tick) - 1)
        return self._before[index] + (tick - self._starts[index]) / self._full[index]


def _playing(score: Score) -> list[int]:
    """For each bar the parts that strike in it, as bits."""
    rows = [0] * len(score.bars)
    for note in score.notes:
        if note.duration:
            rows[note.bar] |= 1 << note.part
    return rows


def _change(before: int, after: int) -> float:
    """Share of the parts in either bar that play in one of them only."""
    either = (before | after).bit_count()
    return (before ^ after).bit_count() / either if either else 0.0


def _inside_slurs(score: Score, notes: Sequence[Note]) -> set[int]:
    """Tune notes under a slur that began earlier and has not ended."""
    onsets = [note.onset for note in notes]
    inside: set[int] = set()
    for mark in score.marks:
        if mark.kind != "slur":
            continue
        for index in range(bisect_right(onsets, mark.onset), bisect_right(onsets, mark.end)):
            if notes[index].part == mark.part and notes[index].onset <= mark.end and notes[index - 1].part == mark.part:
                inside.add(index)
    return inside


def _beginnings(notes: Sequence[Note]) -> set[int]:
    """Indices of notes where a run of five intervals and lengths, as a stretch before it began after a break, comes again."""
    keys: dict[tuple[int, ...], list[int]] = {}
    for index in range(len(notes) - 5):
        shape: list[int] = []
        for place in range(index, index + 5):
            shape.append(notes[place + 1].midi - notes[place].midi)
            shape.append(notes[place + 1].onset - notes[place].onset)
        keys.setdefault(tuple(shape), []).append(index)
    found: set[int] = set()
    for places in keys.values():
        if len(places) < 2:
            continue
        for place in places:
            # only where the run before it differs between the two places: the match begins here
            if place == 0 or len({_step_before(notes, other) for other in places}) > 1:
                found.add(place)
    return found


def _step_before(notes: Sequence[Note], index: int) -> tuple[int, int]:
    if index == 0:
        return (99, 0)
    return (notes[index].midi - notes[index - 1].midi, notes[index].onset - notes[index - 1].onset)


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


def _best_cuts(joints: Sequence[_Joint], end: _Joint, scale: float, rules: Rules) -> list[int]:
    """Ticks of the phrase beginnings with the greatest sum of evidence less the price of unusual lengths (in ``scale`` bars)."""
    family = "form.phrase-lengths."
    usual = [scale * size for size in rules.numbers(family + "bars")]
    odd, each = rules.number(family + "odd"), rules.number(family + "each")
    shortest, longest = scale * rules.number(family + "shortest"), scale * rules.number(family + "longest")
    ends = [*joints, end]
    reach = rules.number(family + "to-close")
    best = [0.0] + [-1e9] * (len(ends) - 1)
    back = [0] * len(ends)
    low = 0
    for index in range(1, len(ends)):
        while ends[index].bar - ends[low].bar > longest and low < index - 1:
            low += 1
        for place in range(low, index):
            length = ends[index].bar - ends[place].bar
            if length < shortest and index < len(ends) - 1:
                break
            away = min(abs(log2(max(length, 0.25) / size)) for size in usual)
            close = ends[index].close if ends[index].closed - ends[place].bar >= reach * scale else 0.0
            score = best[place] + ends[index].gain + close - each - odd * min(1.0, 2 * away)
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
        bar = _bar_at(score.bars, start)
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
