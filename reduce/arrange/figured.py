"""The accompaniment of a level: strikes get their keys.

Each harmony gets one hand position (its bass and the chord notes above it), chosen over the whole piece so that the hand moves little;
the figure then plays the notes of that position.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Mapping, Sequence

from reduce.arrange.figures import Strike
from reduce.arrange.fold import Inner
from reduce.arrange.joining import joined
from reduce.arrange.line import Tone
from reduce.arrange.one_position import seated
from reduce.arrange.outline import Outline
from reduce.arrange.strands import Key
from reduce.arrange.voicing import Slot, Taste, grips
from reduce.hands.keyboard import is_black
from reduce.model.record import dataclass
from reduce.model.texture import Chord

_FAR = 1e9
_STAFF = 41  # F2, the lowest note of the bass staff without a ledger line


@dataclass(frozen=True, slots=True, kw_only=True)
class Seat:
    """Where the left hand likes to lie: lowest and highest bass key, the key it is drawn to, and the prices of leaving it."""

    lowest: int
    highest: int
    home: int
    away: float  # per semitone from home
    step: float  # per semitone from bass to bass
    leap: float  # extra per semitone beyond a fifth
    other: float  # for each better chord note that is passed over, where there is a choice
    position: float = 0.0  # of leaving the position; 0 = the hand moves freely
    span: float = 0.0  # millimetres of the hand
    top: int = 127  # the highest key that a hand in one position reads


@dataclass(frozen=True, slots=True)
class Position:
    """One harmony under the left hand: keys low to high, the bass first; ``chord`` the index of the harmony."""

    chord: int
    keys: tuple[int, ...]
    runner_up: tuple[int, ...] = ()
    window: tuple[int, int] | None = None  # lowest and highest key of the hand's position, where it stays in one


def bass_keys(
    chords: Sequence[Chord],
    used: Sequence[int],
    tune: Outline,
    seat: Seat,
    grounds: Mapping[int, tuple[int, ...]],
    given: Sequence[Tone] = (),
    lacks: Callable[[int, int, int], float] = lambda _index, _key, _roof: 0.0,
) -> tuple[dict[int, int], dict[int, tuple[int, int]]]:
    """The bass key of each used harmony, by the path with the least way and the most room below the tune; and the hand's positions.

    ``grounds`` are the pitch classes, the best first, of the harmonies (by index) whose bass need not be the chord's own; there no ledger
    line is wanted either.  ``given`` are the notes of the tune that the hand has too.  ``lacks`` is the price of the
    notes of a harmony that find no place above a key and under a roof.  Positions are told where the seat has a price for leaving one.
    """
    layers: list[dict[int, float]] = []
    for index in used:
        chord = chords[index]
        pcs = grounds.get(index) or (chord.bass if chord.bass in chord.tones else chord.root,)
        roof = min((t.midi for t in tune.during(chord.start, chord.end)), default=128)
        row: dict[int, float] = {}
        for key in range(max(seat.lowest, _STAFF) if index in grounds else seat.lowest, seat.highest + 1):
            if key % 12 in pcs:
                row[key] = seat.away * abs(key - seat.home) + seat.other * pcs.index(key % 12) * (4 if index == used[-1] else 1)
                if key >= roof - 2:
                    row[key] += 4.0 + 0.3 * (key - roof + 3)
                row[key] += lacks(index, key, roof)
        layers.append(row or {seat.lowest + (pcs[0] - seat.lowest) % 12: 0.0})
    if seat.position:
        rows = [(chords[index].start, index, layer) for index, layer in zip(used, layers, strict=True)]
        rows = sorted([*rows, *((tone.onset, -1, {tone.midi: 0.0}) for tone in given)], key=lambda row: row[:2])
        highest = max([seat.highest, *(tone.midi for tone in given)])
        top = max([seat.top, *(tone.midi for tone in given)])
        path = seated([layer for _, _, layer in rows], seat.span, seat.lowest, highest, seat.position, top)
        found = [place for (_, index, _), place in zip(rows, path, strict=True) if index >= 0]
        return (
            {index: key for index, (key, _) in zip(used, found, strict=True)},
            {index: window for index, (_, window) in zip(used, found, strict=True)},
        )
    return dict(zip(used, _nearest(layers, seat), strict=True)), {}


def _nearest(layers: Sequence[Mapping[int, float]], seat: Seat) -> list[int]:
    """One key of each layer, by the path with the least way."""
    if not layers:
        return []
    best = dict(layers[0])
    back: list[dict[int, int]] = []
    for row in layers[1:]:
        now, arrive = {}, {}
        for key, price in row.items():
            cost, chosen = _FAR, next(iter(best))
            for earlier, so_far in best.items():
                way = abs(key - earlier)
                step = so_far + seat.step * way + (seat.leap * (way - 7) if way > 7 else 0.0)
                if step < cost:
                    cost, chosen = step, earlier
            now[key], arrive[key] = cost + price, chosen
        best = now
        back.append(arrive)
    key = min(best, key=best.__getitem__)
    keys = [key]
    for arrive in reversed(back):
        key = arrive[key]
        keys.append(key)
    return keys[::-1]


def positions(
    strikes: Sequence[Strike],
    chords: Sequence[Chord],
    bass: dict[int, int],
    windows: Mapping[int, tuple[int, int]],
    tune: Outline,
    spans: Mapping[int, int],
    most: int,
    worth: Callable[[Chord, int], float],
    taste: Taste,
    playable: Callable[[tuple[int, ...]], bool],
    ticks_a_second: Callable[[int], float],
    struck: Callable[[int, int, int], bool] = lambda _index, _pc, _low: True,
) -> dict[int, Position]:
    """The hand position of each harmony that the left hand plays; ``spans``: how many semitones it may take in each (by index).

    ``struck``: whether a chord (by index) may have a pitch class above its lowest key wherever it is struck; a chord of two keys takes no
    other, or it would be left with one.
    """
    wanted: dict[int, int] = {}
    kinds: dict[int, set[str]] = {}
    for strike in strikes:
        if strike.hand == "left":
            wanted[strike.chord] = max(wanted.get(strike.chord, 1), _needs(strike))
            kinds.setdefault(strike.chord, set()).add(strike.kind)
    used = sorted(wanted)
    slots = []
    previous = -_FAR
    for index in used:
        chord = chords[index]
        low, span = bass[index], spans[index]
        roof = min((t.midi for t in tune.during(chord.start, chord.end)), default=low + span + 1)
        hollow = kinds[index] <= {"bass", "octave", "root", "fifth", "open-fifth"}  # root and fifth only: no third wanted
        fifth = _fifth(chord)
        size = min(wanted[index], most if wanted[index] <= most else 4)
        gains = {pc: worth(chord, pc) for pc in chord.tones if pc != low % 12 and (not hollow or pc == fifth or fifth == low % 12)}
        gains = gains if hollow else {pc: value for pc, value in gains.items() if value > 0}
        if size == 2 and kinds[index] == {"chord"}:
            gains = {pc: value for pc, value in gains.items() if struck(index, pc, low)} or gains
        after = "inner" in kinds[index] and not kinds[index] & {"chord", "tremolo"}  # the chord comes after the bass, not with it
        slots.append(
            Slot(
                onset=chord.start,
                end=chord.end,
                low=low + 1,
                high=min(low + span, roof - 1),
                span=span,
                outer=None if after else low,
                outer_struck=not after,
                most=size - 1,
                gains=gains,
                required=min(size - 1, len(gains)),
                price_per_note=0.05,
                seconds=min(4.0, (chord.start - previous) / ticks_a_second(chord.start)),
            )
        )
        previous = chord.start
    return {
        index: Position(index, (bass[index], *found.keys), found.runner_up, windows.get(index))
        for index, found in zip(used, grips(slots, taste, playable), strict=True)
    }


def _fifth(chord: Chord) -> int:
    """The pitch class of the chord's fifth, perfect or not (the root where it has none)."""
    return next((pc for pc in chord.tones if (pc - chord.root) % 12 in (7, 6, 8)), chord.root)


def _needs(strike: Strike) -> int:
    if strike.kind.startswith("broken-"):
        return max(3, int(strike.kind[-1]))
    return {"chord": strike.size, "inner": strike.size + 1, "tremolo": strike.size, "fifth": 2, "open-fifth": 2}.get(strike.kind, 1)


def left_keys(
    strikes: Sequence[Strike],
    chords: Sequence[Chord],
    found: dict[int, Position],
    tune: Outline,
    near: Callable[[int, int], bool],
    lowest: int,
    span: int,
    black: int,
    tremolo: int = 0,
    step: int = 0,
) -> tuple[Key, ...]:
    """The keys of every left-hand strike, in one strand; a tremolo alternates low and high notes every ``tremolo`` ticks.

    Of a chord only those keys are played whose pitch class is ``near`` a moment: heard in the orchestra in the same bar; and no more
    than ``black`` black ones, the lower first.  A broken chord leads over to the next bass in steps of at most ``step`` semitones.
    """
    out: list[Key] = []
    topped = _topped(strikes, chords, found, tune, span)
    for strike in strikes:
        if strike.hand != "left" or strike.end <= strike.onset:
            continue
        chord, keys, window = chords[strike.chord], found[strike.chord].keys, found[strike.chord].window
        if strike.kind == "tremolo" and len(keys) > 1 and tremolo:
            out += _alternating(strike, keys, tremolo)
            continue
        if window is not None and strike.kind == "fifth":
            played: tuple[int, ...] = (_in_position(chord, keys[0], window),)
        elif strike.chord in topped and strike.kind in ("broken-2", "broken-3"):
            played = (keys[0] + 12,) if strike.kind == topped[strike.chord] else keys[1:]
        else:
            played = _played(strike, chord, keys, tune, lowest, span)
        if len(played) > 1 and strike.kind in ("chord", "inner"):
            played = tuple(k for k in played if near(k % 12, strike.onset)) or played[:1]
        out += [Key("left", 1, strike.onset, strike.end, key, key == played[0]) for key in few_black(played, black)]
    later = {strike.onset: found[strike.chord].keys for strike in strikes if strike.kind in ("broken-2", "broken-3", "broken-4")}
    return joined(out, later, step)


def _topped(
    strikes: Sequence[Strike], chords: Sequence[Chord], found: Mapping[int, Position], tune: Outline, span: int
) -> dict[int, str]:
    """The broken chords (by index) of two tones that have the octave of the lowest on top, and which strike of the figure it is.

    The figure goes to its nearer note first and back over it, so that the hand opens to the octave by two small steps: 1 5 8 5.
    """
    order: dict[int, list[str]] = {}
    for strike in strikes:
        if strike.hand == "left" and strike.kind.startswith("broken-") and strike.kind not in order.setdefault(strike.chord, []):
            order[strike.chord].append(strike.kind)
    out = {}
    for index, kinds in order.items():
        keys, chord = found[index].keys, chords[index]
        roof = min((tone.midi for tone in tune.during(chord.start, chord.end)), default=128)
        upper = [kind for kind in kinds if kind in ("broken-2", "broken-3")]
        if len(keys) == 2 and span >= 12 and keys[0] + 12 < roof and keys[1] < keys[0] + 12 and len(upper) == 2:
            out[index] = upper[1]
    return out


def few_black(keys: tuple[int, ...], most: int) -> tuple[int, ...]:
    """The chord without its black keys beyond so many, counted from below; the lowest key stays, alone if need be."""
    if not keys:
        return keys
    black = int(is_black(keys[0]))
    if black > most:
        return keys[:1]
    kept = [keys[0]]
    for key in keys[1:]:
        if not is_black(key):
            kept.append(key)
        elif black < most:
            black += 1
            kept.append(key)
    return tuple(kept)


def _in_position(chord: Chord, bass: int, window: tuple[int, int]) -> int:
    """The note that follows the bass without a move: the fifth, else another chord note, else the bass again."""
    low, high = window
    inside = [key for key in range(low, high + 1) if key % 12 in chord.tones and key != bass]
    fifth = _fifth(chord)
    return min(inside, key=lambda key: (key % 12 != fifth, key % 12 not in (chord.root, fifth), abs(key - bass)), default=bass)


def _alternating(strike: Strike, keys: tuple[int, ...], pulse: int) -> list[Key]:
    """Tremolo on the piano: the lowest note against the rest of the chord, measured."""
    out = []
    for turn, onset in enumerate(range(strike.onset, strike.end, pulse)):
        end = min(strike.end, onset + pulse)
        out += [Key("left", 1, onset, end, key, key == keys[0]) for key in (keys[1:] if turn % 2 else keys[:1])]
    return out


def _played(strike: Strike, chord: Chord, keys: tuple[int, ...], tune: Outline, lowest: int, span: int) -> tuple[int, ...]:
    kind = strike.kind
    fifth = _fifth(chord)
    if kind in ("bass", "octave"):
        if kind == "octave" and keys[0] - 12 >= lowest and span >= 12:
            return (keys[0] - 12, keys[0])
        return keys[:1]
    if kind == "root":
        return (next((k for k in keys if k % 12 == chord.root), keys[0]),)
    if kind == "fifth":
        above = keys[0] + (fifth - keys[0]) % 12
        spare = keys[-1] if len(keys) > 1 else above if above - keys[0] <= span else keys[0]
        return (next((k for k in keys[1:] if k % 12 == fifth), spare),)
    if kind == "open-fifth":
        return (keys[0], next((k for k in keys[1:] if k % 12 == fifth), keys[-1])) if len(keys) > 1 else keys
    if kind == "inner":
        return keys[1 : 1 + strike.size] or keys
    if kind == "unison":
        tone = tune.at(strike.onset)
        if tone is not None:
            down = tone.midi - 12
            while down >= tone.midi - 12 and down > lowest + 24:
                down -= 12
            return (max(lowest, down),)
        return keys[:1]
    if kind.startswith("broken-"):
        place = int(kind[-1]) - 1
        if place == 3 and len(keys) == 3 and span >= 12:
            tone = tune.at(strike.onset)
            if tone is None or keys[0] + 12 < tone.midi:
                return (keys[0] + 12,)
        if place < len(keys):
            return (keys[place],)
        return (keys[-1] if len(keys) < 3 else keys[(place - 1) % len(keys)],)
    return keys[: max(1, strike.size)]


def right_inner(
    strikes: Sequence[Strike],
    chords: Sequence[Chord],
    left: Sequence[Key],
    tune: Outline,
    struck: Callable[[int, int, int], bool],
    span: int,
    most: int,
    worth: Callable[[Chord, int], float],
    taste: Taste,
    playable: Callable[[tuple[int, ...]], bool],
    ticks_a_second: Callable[[int], float],
) -> tuple[Inner, ...]:
    """Chord notes below long notes of the tune; what the left hand sounds already is worth less."""
    slots: list[Slot] = []
    left_onsets = [key.onset for key in left]
    previous = -_FAR
    for strike in strikes:
        tone = tune.at(strike.onset)
        if strike.hand != "right" or tone is None or tone.onset != strike.onset:
            continue
        chord = chords[strike.chord]
        first = max(0, bisect_left(left_onsets, strike.onset) - 8)
        under = [k for k in left[first : bisect_left(left_onsets, tone.end)] if k.end > strike.onset]
        floor = max((k.midi for k in under), default=0)
        covered = {k.midi % 12 for k in under if k.onset <= strike.onset}
        gains = {pc: worth(chord, pc) * (0.45 if pc in covered else 1.0) for pc in chord.tones if pc != tone.midi % 12}
        gains = {pc: value for pc, value in gains.items() if value > 0 and struck(pc, strike.onset, tone.end)}
        slots.append(
            Slot(
                onset=strike.onset,
                end=tone.end,
                low=max(floor + 1, tone.midi - span),
                high=tone.midi - 3,
                span=span,
                outer=tone.midi,
                outer_struck=True,
                most=min(strike.size, most - 1),
                gains=gains,
                price_per_note=0.35,
                seconds=min(4.0, (strike.onset - previous) / ticks_a_second(strike.onset)),
            )
        )
        previous = strike.onset
    return tuple(
        Inner("right", slot.onset, slot.end, grip.keys, grip.runner_up, grip.margin)
        for slot, grip in zip(slots, grips(slots, taste, playable), strict=True)
        if grip.keys
    )
