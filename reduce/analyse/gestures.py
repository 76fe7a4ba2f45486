"""What one playing line does in one bar."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from reduce.model.record import dataclass
from reduce.model.rules import Rules
from reduce.model.score import Bar, Note

Ballot = dict[str, float]  # kind of rules/figures.toml -> how well it fits, 0..1


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """The settings of ``figures.naming`` (meanings there)."""

    strokes: int
    pattern: int
    step: int
    wide: int
    chord_share: float
    change: float

    @classmethod
    def of(cls, rules: Rules) -> Limits:
        family = "figures.naming."
        return cls(
            strokes=rules.whole(family + "tremolo-strokes"),
            pattern=rules.whole(family + "pattern-notes"),
            step=rules.whole(family + "step"),
            wide=rules.whole(family + "wide"),
            chord_share=rules.number(family + "chord-share"),
            change=rules.number(family + "change"),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Gesture:
    """A line in a bar: ``onsets`` in ticks from the bar line, the lowest and highest MIDI number at each, ``pulse`` the usual distance.

    ``filled`` is the share of the bar that sounds, ``fit`` the share of notes that belong to the bar's chords, ``strokes`` through
    the stems, ``pair`` whether two-note tremolos are written, ``low`` whether it is the bass.
    """

    onsets: tuple[int, ...]
    bottoms: tuple[int, ...]
    tops: tuple[int, ...]
    pulse: int
    beat: int
    phase: int  # ticks of the bar that an upbeat bar lacks
    length: int
    filled: float
    fit: float
    strokes: int
    pair: bool
    low: bool
    held_over: bool

    @classmethod
    def of(cls, notes: Sequence[Note], bar: Bar, resolution: int, chord_set: int, low: bool) -> Gesture:
        """Read the notes (by onset) of one stream in one bar; ``chord_set`` is the 12-bit set of its chords' pitch classes."""
        bottoms: dict[int, int] = {}
        tops: dict[int, int] = {}
        ends: dict[int, int] = {}
        held_over = False
        strokes = 0
        fitting = 0
        pair = False
        bar_end = bar.end
        for note in notes:
            if note.onset < bar.start:
                held_over = True
                ends[bar.start] = max(ends.get(bar.start, 0), min(note.end, bar_end))
                continue
            place, midi = note.onset, note.midi
            end = min(place + note.duration, bar_end)
            if place not in bottoms:
                bottoms[place] = tops[place] = midi
                ends[place] = end
            else:
                bottoms[place] = min(bottoms[place], midi)
                tops[place] = max(tops[place], midi)
                ends[place] = max(ends[place], end)
            if note.tremolo or note.tremolo_pair:
                strokes = max(strokes, note.tremolo)
                pair = pair or bool(note.tremolo_pair)
            fitting += chord_set >> midi % 12 & 1
        onsets = sorted(bottoms)
        beat = bar.meter.beat_ticks(resolution)
        gaps: dict[int, int] = {}
        for first, second in pairwise(onsets):
            gaps[second - first] = gaps.get(second - first, 0) + 1
        sounding = 0
        reached = bar.start
        for place in sorted(ends):
            sounding += max(0, ends[place] - max(place, reached))
            reached = max(reached, ends[place])
        pulse = max(gaps, key=lambda gap: (gaps[gap], gap)) if gaps else bar.length
        full = bar.meter.ticks(resolution)
        return cls(
            onsets=tuple(onset - bar.start for onset in onsets),
            bottoms=tuple(bottoms[onset] for onset in onsets),
            tops=tuple(tops[onset] for onset in onsets),
            pulse=pulse >> strokes if strokes and not pair else pulse,
            beat=beat,
            phase=full - bar.length if bar.pickup and bar.length < full else 0,
            length=bar.length,
            filled=sounding / bar.length if bar.length else 0.0,
            fit=fitting / len(notes),
            strokes=strokes,
            pair=pair,
            low=low,
            held_over=held_over,
        )


def name_gesture(gesture: Gesture, limits: Limits) -> Ballot:
    """How well each name fits.  The names and their meanings are those of orchestration and piano teaching (common practice)."""
    count = len(gesture.onsets)
    if gesture.strokes or gesture.pair:
        return {"tremolo" if gesture.strokes >= limits.strokes else "measured-tremolo": 1.0}
    if not count:
        return {"held": 1.0}
    beat = gesture.beat
    on_beat = [(onset + gesture.phase) % beat == 0 for onset in gesture.onsets]
    moves = [second - first for first, second in pairwise(gesture.tops)]
    gaps = [second - first for first, second in pairwise(gesture.onsets)]
    even = sum(1 for gap in gaps if gap == gesture.pulse) / len(gaps) if gaps else 0.0
    still = sum(1 for move in moves if not move) / len(moves) if moves else 0.0
    ballot: Ballot = {}
    if count >= 2 and not any(on_beat):
        ballot["off-beats"] = 1.0
    elif not gesture.held_over and count >= 2 and gesture.length > 2 * beat and gesture.onsets[0] + gesture.phase == beat:
        ballot["off-beats"] = 0.7  # the strong beat is left to the bass
    if 2 * gesture.pulse > beat and (count <= max(1, gesture.length // beat // 2) or gesture.filled > 0.9):
        ballot["held"] = 0.9 if count <= max(1, gesture.length // beat // 2) else 0.5
    if still >= 0.75 and count >= 3:
        ballot["measured-tremolo" if 4 * gesture.pulse <= beat and count >= 4 else "repeated"] = 0.6 + 0.4 * even
    if count >= limits.pattern and len(set(gesture.tops)) >= 2:
        steps = [move for move in moves if 0 < abs(move) <= limits.step]
        leaps = [move for move in moves if abs(move) > limits.step]
        run = _longest_run(moves, limits.step)
        if run >= max(4, limits.pattern) and 2 * gesture.pulse <= beat:
            ballot["scale-run"] = min(1.0, 0.4 + 0.6 * run / max(1, len(moves)))
        if 2 * len(leaps) >= len(moves) and gesture.fit >= limits.chord_share and even >= 0.6:
            compass = max(gesture.tops) - min(gesture.tops)
            climbs = _longest_climb(moves) >= 3 and compass > limits.wide
            ballot["arpeggio" if climbs else "broken-chord"] = 0.5 + 0.5 * even
        if gesture.low and even >= 0.6 and beat <= 2 * gesture.pulse <= 2 * beat and len(steps) >= len(leaps) and still < 0.4:
            ballot["walking-bass"] = 0.9
    if gesture.low and 3 <= count < limits.pattern and gesture.pulse == beat and even == 1.0 and still == 0.0:
        ballot["walking-bass"] = 0.8
    own = _bass_and_chords(gesture)
    if own:
        ballot[own] = 1.1
    if not ballot:
        ballot["held" if gesture.pulse >= beat else "other"] = 0.6
    return ballot


def call_of(gesture: Gesture, limits: Limits) -> Ballot:
    """Brass calls: struck chord tones, repeated or leaping, in uneven short and long values (common practice)."""
    count = len(gesture.onsets)
    if count < 3 or gesture.fit < limits.chord_share:
        return {}
    gaps = {second - first for first, second in pairwise(gesture.onsets)}
    moves = [abs(second - first) for first, second in pairwise(gesture.tops)]
    plain = sum(1 for move in moves if move == 0 or move > limits.step)
    if len(gaps) >= 2 and min(gaps) * 2 <= gesture.beat and plain >= 0.8 * len(moves):
        return {"fanfare": 1.05}
    return {}


def _bass_and_chords(gesture: Gesture) -> str:
    """A low note on the beat and higher ones after it in one line: waltz bass in three, march bass in two or four."""
    beats = gesture.length // gesture.beat
    places = [(onset + gesture.phase) / gesture.beat for onset in gesture.onsets]
    if len(places) < 3 or not gesture.bottoms:
        return ""
    if beats == 3 and places == [0, 1, 2]:
        first, second, third = gesture.bottoms
        return "waltz-bass" if second - first >= 5 and third - first >= 5 and gesture.tops[1] > gesture.bottoms[1] else ""
    if len(places) == 4 and all(b - a == places[1] - places[0] for a, b in pairwise(places)):
        one, two, three, four = gesture.bottoms
        chords = gesture.tops[1] > two and gesture.tops[3] > four
        return "march-bass" if chords and two - one >= 5 and four - three >= 5 and beats != 3 else ""
    return ""


def _longest_run(moves: Sequence[int], step: int) -> int:
    """Most steps in one direction in a row."""
    best = run = 0
    last = 0
    for move in moves:
        run = 0 if not 0 < abs(move) <= step else run + 1 if move * last > 0 else 1
        last = move
        best = max(best, run)
    return best


def _longest_climb(moves: Sequence[int]) -> int:
    """Most leaps or steps in one direction in a row."""
    best = run = 0
    last = 0
    for move in moves:
        run = run + 1 if move * last > 0 else (1 if move else 0)
        last = move
        best = max(best, run)
    return best
