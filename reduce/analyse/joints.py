"""Where a phrase may begin: the evidence before each note of the tune."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from math import log2

from reduce.analyse.cadences import Cadence, close_under
from reduce.model.record import dataclass
from reduce.model.rules import Rules
from reduce.model.score import Bar, Note, Score
from reduce.model.texture import Lead, Parallel


@dataclass(frozen=True, slots=True)
class Joint:
    at: int
    bar: float  # place in bars from the beginning
    gain: float
    closed: float = 0.0  # where the last chord of a close begins, in bars
    close: float = 0.0  # further gain if the phrase began well before that


def joints_of(
    score: Score,
    notes: Sequence[Note],
    tune: tuple[Lead, ...],
    closes: tuple[Cadence, ...],
    parallels: tuple[Parallel, ...],
    rules: Rules,
) -> list[Joint]:
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
    places = Places(bars, score.resolution)
    joints = [Joint(0, 0.0, 0.0)]
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
            joints.append(Joint(note.onset, places.of(note.onset), gain))
        else:
            strength = close.strength * (1.0 if note.onset + beat > close.end else 0.6)
            joints.append(Joint(note.onset, places.of(note.onset), gain, places.of(close.at), w_cadence * strength))
    return joints


class Places:
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
