"""What every bar asks of the hands and the eyes, in plain figures."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from functools import lru_cache
from itertools import pairwise
from math import gcd, log2
from typing import NamedTuple

from reduce.hands.keyboard import centres
from reduce.hands.movement import travel
from reduce.hands.terms import Sheet, Terms
from reduce.hands.touch import HANDS, Touch
from reduce.model.draft import DraftNote, Hand
from reduce.model.pitch import STEPS, Pitch
from reduce.model.record import dataclass
from reduce.model.score import Bar, Key

_BURST = 4  # touches in a row that make a run
_TREBLE, _BASS = (30, 38), (18, 26)  # staff positions of the outer lines, steps above C0
_SHARPS = "FCGDAEB"
_RAISED_SEVENTH = 8  # places on the line of fifths from the first note of the relative major to the leading note: C to G♯ in A minor
_MIDDLE_C = 60  # its ledger line is the first that anybody learns: no load (common practice; primers begin there)


@dataclass(frozen=True, slots=True, kw_only=True)
class BarFigures:
    """One bar: ``leap`` octaves a second, ``value`` notes to a quarter, ``span`` semitones, ``moves`` of the busier hand.

    ``usual_moves`` and ``usual_leap`` are those of the hand that the scale of all levels is meant for, whoever plays;
    ``pressed_moves`` those moves that no rest is long enough for.
    """

    speed_one: float = 0.0
    speed_both: float = 0.0
    span_right: int = 0
    span_left: int = 0
    crowd_right: int = 0
    crowd_left: int = 0
    moves: int = 0
    leap: float = 0.0
    pressed_moves: int = 0
    usual_moves: int = 0
    usual_leap: float = 0.0
    rhythm: float = 0.0
    independence: float = 0.0
    accidentals: float = 0
    ledger: int = 0
    value: float = 0.0
    signature: int = 0
    familiar: float = 0.0  # share of the bar's hands whose pattern was played before
    silent: bool = False


def bar_figures(sheet: Sheet, lines: dict[Hand, tuple[Touch, ...]], terms: Terms) -> tuple[BarFigures, ...]:
    """Figures of every bar of the sheet; graces are left out."""
    draft = sheet.draft
    count = len(draft.bars)
    plain = {hand: [t for t in lines[hand] if not t.grace] for hand in HANDS}
    in_bar: dict[Hand, list[list[Touch]]] = {hand: [[] for _ in range(count)] for hand in HANDS}
    for hand in HANDS:
        for touch in plain[hand]:
            in_bar[hand][touch.bar].append(touch)
    speed = {hand: _bursts(plain[hand], count) for hand in HANDS}
    moved = _moved(plain, terms, terms.span, count)
    usual = moved if terms.span == terms.usual else _moved(plain, terms, terms.usual, count)
    seen: dict[Hand, set[tuple[object, ...]]] = {hand: set() for hand in HANDS}
    found = []
    for i, bar in enumerate(draft.bars):
        right, left = in_bar["right"][i], in_bar["left"][i]
        if not right and not left:
            found.append(BarFigures(silent=True, signature=abs(bar.key.fifths)))
            continue
        seconds = max(0.01, sheet.clock.between(bar.start, bar.end))
        onsets = {t.onset for t in right} | {t.onset for t in left}
        notes = [n for t in (*right, *left) for n in t.notes]
        old = [_known(seen[hand], in_bar[hand][i], bar.start) for hand in HANDS if in_bar[hand][i]]
        found.append(
            BarFigures(
                speed_one=max(speed["right"][i], speed["left"][i]),
                speed_both=len(onsets) / seconds if right and left else 0.0,
                span_right=max((t.down[-1] - t.down[0] for t in right), default=0),
                span_left=max((t.down[-1] - t.down[0] for t in left), default=0),
                crowd_right=max((len(t.down) for t in right), default=0),
                crowd_left=max((len(t.down) for t in left), default=0),
                moves=moved.moves[i],
                leap=moved.leap[i],
                pressed_moves=moved.pressed[i],
                usual_moves=usual.moves[i],
                usual_leap=usual.leap[i],
                rhythm=_rhythm(notes, right, left, bar, draft.resolution),
                independence=_independence(right, left),
                accidentals=_accidentals(notes, bar.key, terms.leading),
                ledger=max((ledger_lines(n) for n in notes if n.midi != _MIDDLE_C), default=0),
                value=max((draft.resolution / n.duration for n in notes if n.duration), default=0.0),
                signature=abs(bar.key.fifths),
                familiar=sum(old) / len(old),
            )
        )
    return tuple(found)


class _Moved(NamedTuple):
    """What the hands move in each bar: ``moves`` of the busier one, those of them that are ``pressed``, the fastest ``leap`` in octaves a
    second."""

    moves: list[int]
    pressed: list[int]
    leap: list[float]


def _moved(lines: dict[Hand, list[Touch]], terms: Terms, span: float, count: int) -> _Moved:
    """The moves in each bar for a hand of this span in millimetres.

    A hand that rests for as long as an octave takes at the level has found its next place: such a move is not pressed (common practice:
    move during the rest).
    """
    leap = [0.0] * count
    rested: set[int] = set()
    for hand in HANDS:
        for a, b in pairwise(lines[hand]):
            if a.rest >= terms.level.octave_seconds:
                rested.add(id(b))
            far = travel(a.keys, b.keys, span, terms.octave)
            if far >= terms.least and b.at > a.at:
                octaves = terms.start_share + (1 - terms.start_share) * far / terms.octave
                leap[b.bar] = max(leap[b.bar], octaves / (b.at - a.at))
    moved = [positions(lines[hand], terms.octave, span) for hand in HANDS]

    def busier(rows: Sequence[Sequence[Touch]]) -> list[int]:
        counts = [Counter(touch.bar for touch in row) for row in rows]
        return [max(found[bar] for found in counts) for bar in range(count)]

    return _Moved(busier(moved), busier([[touch for touch in row if id(touch) not in rested] for row in moved]), leap)


def positions(row: Sequence[Touch], octave: float, span: float) -> tuple[Touch, ...]:
    """The touches at which a hand has to leave its position: the fewest moves that keep every key within the hand's span.

    ``octave`` of the keyboard and ``span`` of the hand, millimetres.
    """
    at = centres(octave)
    width = round(10 * span) + 10
    moves = []
    low = high = 0
    for i, touch in enumerate(row):
        down, up = at[touch.keys[0]], at[touch.keys[-1]]
        if i and max(high, up) - min(low, down) <= max(width, up - down):
            low, high = min(low, down), max(high, up)
        else:
            if i:
                moves.append(touch)
            low, high = down, up
    return tuple(moves)


def entropy(row: Sequence[Touch]) -> float:
    """How unpredictable a hand's keys are, in bits (descriptor of Ramoneda et al. 2024)."""
    counts = Counter(k for t in row for k in t.keys)
    total = sum(counts.values())
    return -sum(c / total * log2(c / total) for c in counts.values()) if total else 0.0


def _bursts(row: Sequence[Touch], count: int) -> list[float]:
    """Notes a second in the quickest four touches of each bar."""
    fastest = [0.0] * count
    for i in range(len(row) - _BURST + 1):
        run = row[i : i + _BURST]
        seconds = run[-1].at - run[0].at
        if seconds > 0:
            fastest[run[-1].bar] = max(fastest[run[-1].bar], (_BURST - 1) / seconds)
    return fastest


def _known(seen: set[tuple[object, ...]], touches: Sequence[Touch], start: int) -> bool:
    """Whether the hand played the bar's rhythm and shape before; it will have from now on."""
    first = touches[0].keys[0]
    shape = tuple((t.onset - start, t.end - t.onset, tuple(k - first for k in t.keys)) for t in touches)
    known = shape in seen
    seen.add(shape)
    return known


def _rhythm(notes: Sequence[DraftNote], right: Sequence[Touch], left: Sequence[Touch], bar: Bar, quarter: int) -> float:
    """Points: a half for each note value beyond two, and for each kind of trouble in counting (see rules/load.toml).

    A note that lasts the whole bar is not counted: a hand that holds is the easiest company for one that moves (common practice).
    """
    start, beat, compound = bar.start, bar.meter.beat_ticks(quarter), bar.meter.compound
    lengths = {n.duration for n in notes}
    points = 0.5 * max(0, len({length for length in lengths if length < bar.length}) - 2)
    shortest = min(lengths)
    if shortest < quarter:
        points += 1
    if shortest * 2 < quarter:
        points += 1
    if shortest * 4 < quarter:
        points += 1
    if not compound and any(uneven(t.onset - start, quarter) for t in (*right, *left)):
        points += 1.5
        if crosses_beat(right, left, start, beat):
            points += 2
    if any(4 * n == 3 * quarter for n in lengths):
        points += 1
    return points + min(3, off_beats((right, left), start, beat))


def off_beats(rows: Sequence[Sequence[Touch]], start: int, beat: int) -> int:
    """Notes of a beat and more that begin off the beat and sound over the next one."""
    return sum(
        1
        for row in rows
        for t in row
        if (t.onset - start) % beat and (t.onset - start) // beat < (t.end - 1 - start) // beat and t.end - t.onset >= beat
    )


def uneven(ticks: int, quarter: int) -> bool:
    """Whether a place lies off the grid of thirty-seconds: triplets and the like."""
    return ticks * 8 % quarter != 0


def crosses_beat(right: Sequence[Touch], left: Sequence[Touch], start: int, beat: int) -> bool:
    """Whether the two hands divide one beat in numbers of which neither goes into the other: three against two, not four against two."""
    inside: dict[int, tuple[set[int], set[int]]] = {}
    for side, row in enumerate((right, left)):
        for t in row:
            number, place = divmod(t.onset - start, beat)
            if place:
                inside.setdefault(number, (set(), set()))[side].add(place)
    for above, below in inside.values():
        if above and below:
            a, b = (beat // gcd(beat, *places) for places in (above, below))
            if a % b and b % a:
                return True
    return False


def _independence(right: Sequence[Touch], left: Sequence[Touch]) -> float:
    """Points for onsets that only one of two moving hands has while the other sounds, and for keys held under moving ones.

    Hands that take turns are not independent of each other: that is how hands together begins (levels table).
    """
    points = 0.5 * any(t.held for t in right) + 0.5 * any(t.held for t in left)
    points += 0.25 * min(4, sum(bool(t.held) for t in (*right, *left)))
    a, b = {t.onset for t in right}, {t.onset for t in left}
    if len(a) > 1 and len(b) > 1:
        above = {t.onset for t in right if t.onset not in b and _sounds(left, t.onset)}
        below = {t.onset for t in left if t.onset not in a and _sounds(right, t.onset)}
        points += min(len(above), len(below)) + 0.25 * len(above | below)
    return points


def _sounds(row: Sequence[Touch], tick: int) -> bool:
    """Whether a hand has a key down at a tick."""
    return any(t.onset <= tick < t.end for t in row)


def _accidentals(notes: Sequence[DraftNote], key: Key, leading: float) -> float:
    """Signs that the key signature does not give, each once in its bar; the raised seventh of a minor key counts ``leading``."""
    given = dict.fromkeys(STEPS, 0)
    for i in range(abs(key.fifths)):
        given[_SHARPS[i % 7] if key.fifths > 0 else _SHARPS[6 - i % 7]] += 1 if key.fifths > 0 else -1
    signs = {(n.pitch.octave, n.pitch.fifths) for n in notes if n.pitch.alter != given[n.pitch.step]}
    raised = key.fifths + _RAISED_SEVENTH
    known = sum(fifths == raised for _, fifths in signs) if key.mode == "minor" else 0
    return len(signs) - known * (1 - leading)


def ledger_lines(note: DraftNote) -> int:
    """Ledger lines in the clef that needs fewer."""
    return _ledger(note.pitch)


@lru_cache(maxsize=256)
def _ledger(pitch: Pitch) -> int:
    place = pitch.diatonic
    return min(max((place - high) // 2, (low - place) // 2, 0) for low, high in (_TREBLE, _BASS))
