"""Folding: the inner voices of the orchestra become chords under the tune and over the bass.

The left hand is voiced first (it carries the accompaniment's rhythm), then the right hand adds what is still missing
below the tune.  Both searches see the whole piece; what a hand cannot reach is never a candidate.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Container, Mapping, Sequence

from reduce.arrange.inner import INNER_ROLES, Pulse
from reduce.arrange.outline import ChordFinder, Outline
from reduce.arrange.sounding import Sound, over
from reduce.arrange.voicing import Grip, Slot, Taste, grips
from reduce.model.draft import Hand
from reduce.model.record import dataclass
from reduce.model.texture import Chord

_NONE: Mapping[int, frozenset[int]] = {}
_WANTED = 2.0  # value of a note whose instrument the arranger keeps: more than any other note has
Playable = Callable[[tuple[int, ...]], bool]


@dataclass(frozen=True, slots=True)
class Inner:
    """Inner keys that one hand strikes at ``onset`` and holds to ``end``; ``runner_up`` is the next best grip."""

    hand: Hand
    onset: int
    end: int
    keys: tuple[int, ...]
    runner_up: tuple[int, ...] = ()
    margin: float = 0.0


@dataclass(frozen=True, slots=True)
class Room:
    """One strike of a hand as the search saw it: the slot, the inner keys it got, and how many the hand may hold at most."""

    hand: Hand
    slot: Slot
    keys: tuple[int, ...]
    size: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Size:
    """What a hand may take: semitones struck or held together, keys at once (outer line included).

    ``some`` and ``more`` are the seconds that a strike needs for more than the fewest notes, and for all that the hand can hold.
    """

    span: int
    keys: int
    some: float
    more: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Balance:
    """How the value of a chord note is weighed, from ``rules/voicing.toml``."""

    third: float
    seventh: float
    fifth: float
    foreign: float  # a sounding pitch class outside the chord
    heard: float  # share of value left to a pitch class that tune or bass already sound
    covered: float  # ... that the other hand already sounds
    struck: float  # extra for what the source strikes at that moment
    counter: float  # extra for a note of a countermelody
    doubt: float  # extra for a note of the line that may have the tune
    along: float  # extra for a note that runs with the tune in thirds or sixths
    floor: float  # least value of the lowest note that sounds where the bass rests
    held: float  # least share of the time that a chord is held in which a note must sound
    octave: float  # extra for the tune's lower octave where the orchestra is loud and has it
    note_left: float  # price of each note
    note_right: float

    def place(self, chord: Chord, pc: int) -> float:
        """The value of a pitch class for its place in a chord."""
        place = (pc - chord.root) % 12
        return self.third if place in (3, 4) else self.seventh if place in (9, 10, 11) else self.fifth if place == 7 else 1.0


def left_hand(
    pulses: Sequence[Pulse],
    sounds: Sequence[Sound],
    bass: Outline,
    tune: Outline,
    chords: Sequence[Chord],
    size: Size,
    balance: Balance,
    taste: Taste,
    ticks_a_second: Callable[[int], float],
    playable: Playable,
    after: Mapping[int, frozenset[int]] = _NONE,
    home: float = 0.0,
) -> tuple[tuple[Inner, ...], tuple[Room, ...]]:
    """Chord notes above the bass at each pulse of the accompaniment, and what each strike had room for.

    ``after``: the pitch classes of chords that follow a bass stroke, by tick; they lie around ``home``, whatever octave the source has.
    """
    slots: list[Slot] = []
    chord_at = ChordFinder(chords)
    previous = -(10**9)
    for pulse, heard in zip(pulses, over(sounds, [(p.onset, p.end) for p in pulses]), strict=True):
        onset = pulse.onset
        inner = [s for s in heard if s.role in INNER_ROLES]
        end = pulse.end
        ground = bass.during(onset, end)
        if ground:  # hold the chord only as long as the moving bass stays in reach
            floor = ground[0].midi
            for tone in ground[1:]:
                if abs(tone.midi - floor) > size.span // 2 and tone.onset > onset:
                    end = tone.onset
                    break
            ground = bass.during(onset, end)
        ceiling = min((t.midi for t in tune.during(onset, end)), default=68) - 1
        down = bass.at(onset)
        if ground:
            low = max(t.midi for t in ground) + 1
            high = min(t.midi for t in ground) + size.span
        else:
            low, high = 43, 67
        high = min(high, ceiling)
        seconds = (onset - previous) / ticks_a_second(onset)
        room = min(seconds, (pulse.end - onset) / ticks_a_second(onset))  # time to this strike and from it
        tune_now, bass_now = tune.at(onset), down
        known = {t.midi % 12 for t in (tune_now, bass_now) if t is not None}
        gains = _gains(inner, onset, end, chord_at(onset), known, balance, fresh=seconds < 0.5)
        exact = {s.midi: 1.0 for s in inner}
        deepest: int | None = None
        lies: float | None = None
        if not ground and onset in after:
            exact, lies = {}, home
            stroke, chord = bass.before(onset), chord_at(onset)
            low = max(low, stroke.midi) if stroke is not None else low  # the stroke stays the lowest
            if chord is not None:
                gains = {pc: balance.place(chord, pc) for pc in after[onset]}
        elif not ground:  # where the bass rests, the lowest of what sounds goes on below
            lowest = min((s.midi for s in heard if s.role not in ("melody", "rhythm")), default=None)
            if lowest is not None:
                deepest = lowest % 12
                gains[deepest] = max(gains.get(deepest, 0.0), balance.floor)
                exact[lowest] = 1.0
        roomy = size.some if lies is not None else size.more  # one shape struck again needs less time
        slots.append(
            Slot(
                onset=onset,
                end=end,
                low=low,
                high=high,
                span=size.span,
                outer=down.midi if down is not None else None,
                outer_struck=down is not None and down.onset == onset,
                most=max(
                    0,
                    min(size.keys - (1 if ground else 0), 3 if room > roomy else 2 if room > size.some else 1),
                ),
                required=0 if lies is None else min(3, len(gains)),
                gains=gains,
                exact=exact,
                floor=deepest,
                home=lies,
                price_per_note=balance.note_left * (1.0 if seconds > 0.3 else 1.6),
                seconds=seconds,
            )
        )
        previous = onset
    return _inner("left", size, slots, grips(slots, taste, playable))


def right_hand(
    pulses: Sequence[Pulse],
    sounds: Sequence[Sound],
    left: Sequence[Inner],
    bass: Outline,
    tune: Outline,
    chords: Sequence[Chord],
    size: Size,
    balance: Balance,
    taste: Taste,
    ticks_a_second: Callable[[int], float],
    playable: Playable,
    two_voices: bool,
    loud: Callable[[int], bool],
) -> tuple[tuple[Inner, ...], tuple[Room, ...]]:
    """Chord notes below the tune, at the tune notes that carry them; never above it.  Also what each strike had room for.

    Where the tune rests at a pulse, the hand has what the orchestra strikes above the left hand.
    With ``two_voices`` the chord may be held under a moving tune; otherwise it shares the tune note's own length.
    """
    slots: list[Slot] = []
    chord_at = ChordFinder(chords)
    left_onsets = [i.onset for i in left]
    previous = -(10**9)
    for pulse, heard in zip(pulses, over(sounds, [(p.onset, p.end) for p in pulses]), strict=True):
        onset = pulse.onset
        top = tune.at(onset)
        if top is not None and top.onset != onset:
            continue
        inner = [s for s in heard if s.role in INNER_ROLES]
        if top is None:
            seconds = (onset - previous) / ticks_a_second(onset)
            slot = _alone(pulse, inner, bass, left, left_onsets, chord_at(onset), size, balance, seconds)
            if slot is not None:
                slots.append(slot)
                previous = onset
            continue
        sounding_to = max((s.end for s in inner if s.onset <= onset), default=onset)
        end = min(pulse.end, sounding_to)
        if not two_voices or end <= top.end or not inner:
            end = top.end
        moving = tune.during(onset, end)
        # under a moving tune the chord stays only while the hand reaches both
        highest = lowest = top.midi
        for tone in moving[1:]:
            if max(highest, tone.midi) - min(lowest, tone.midi) > size.span - 3:
                end = max(top.end, min(end, tone.onset))
                break
            highest, lowest = max(highest, tone.midi), min(lowest, tone.midi)
        floor, covered, below = _under(left, left_onsets, bass, onset, end)
        seconds = (onset - previous) / ticks_a_second(onset)
        ground = bass.at(onset)
        known = {t.midi % 12 for t in (top, ground) if t is not None}
        gains = _gains(inner, onset, end, chord_at(onset), known, balance, fresh=False, below=below)
        for pc in covered:
            if pc in gains:
                gains[pc] *= balance.covered
        length = (top.end - top.onset) / ticks_a_second(onset)
        along = {s.midi % 12 for s in inner if s.role == "melody-third" and s.onset == onset}
        for pc in along:
            gains[pc] = gains.get(pc, 0.0) + balance.along
        if length > 0.3 and loud(onset) and any(s.onset == onset and s.midi == top.midi - 12 for s in heard):
            gains[top.midi % 12] = gains.get(top.midi % 12, 0.0) + balance.octave
        most = size.keys - 1
        if length < size.some:
            most = 1 if along and length > 0.55 * size.some else 0
        elif length < size.more:
            most = min(most, 1)
        slots.append(
            Slot(
                onset=onset,
                end=end,
                low=max(floor + 1, highest - size.span),
                high=lowest - 1,
                span=size.span,
                outer=top.midi,
                outer_struck=True,
                most=min(most, 3),
                gains=gains,
                exact={s.midi: 1.0 for s in inner},
                price_per_note=balance.note_right * (1.0 if length > 0.5 else 1.5),
                seconds=seconds,
            )
        )
        previous = onset
    return _inner("right", size, slots, grips(slots, taste, playable))


def _alone(
    pulse: Pulse, inner: Sequence[Sound], bass: Outline, left: Sequence[Inner], left_onsets: Sequence[int], chord: Chord | None, size: Size,
    balance: Balance, seconds: float,
) -> Slot | None:  # fmt: skip
    """The right hand's strike while the tune rests: above the left hand and no higher than the orchestra; None where that has all tones."""
    onset, end = pulse.onset, pulse.end
    floor, covered, below = _under(left, left_onsets, bass, onset, end)
    ground = bass.at(onset)
    known = {ground.midi % 12} if ground is not None else set()
    now = [s.midi for s in inner if s.onset == onset]
    if {key % 12 for key in now} <= covered | known:
        return None
    gains = _gains(inner, onset, end, chord, known, balance, fresh=False, below=below)
    return Slot(
        onset=onset, end=end, low=floor + 1, high=max(now, default=0), span=size.span, outer=None, outer_struck=False,
        most=min(size.keys, 3 if seconds > size.more else 2 if seconds > size.some else 1),
        gains={pc: gain * (balance.covered if pc in covered else 1.0) for pc, gain in gains.items()},
        exact={s.midi: 1.0 for s in inner}, price_per_note=balance.note_right, seconds=seconds,
    )  # fmt: skip


def _under(
    left: Sequence[Inner], left_onsets: Sequence[int], bass: Outline, onset: int, end: int
) -> tuple[int, set[int], set[int]]:
    """What the left hand has between two ticks: its highest key, its chords' pitch classes, and those of them that are down at once."""
    floor = max((t.midi for t in bass.during(onset, end)), default=0)
    covered: set[int] = set()
    below: set[int] = set()
    for chord in left[max(0, bisect_left(left_onsets, onset) - 1) : bisect_left(left_onsets, end)]:
        if chord.end > onset and chord.keys:
            floor = max(floor, chord.keys[-1])
            covered.update(k % 12 for k in chord.keys)
            if chord.onset <= onset:
                below.update(k % 12 for k in chord.keys)
    return floor, covered, below


def _inner(hand: Hand, size: Size, slots: Sequence[Slot], chosen: Sequence[Grip]) -> tuple[tuple[Inner, ...], tuple[Room, ...]]:
    pairs = list(zip(slots, chosen, strict=True))
    inner = tuple(Inner(hand, slot.onset, slot.end, grip.keys, grip.runner_up, grip.margin) for slot, grip in pairs if grip.keys)
    return inner, tuple(Room(hand, slot, grip.keys, size.keys - 1) for slot, grip in pairs)


def _gains(
    inner: Sequence[Sound],
    onset: int,
    end: int,
    chord: Chord | None,
    known: set[int],
    balance: Balance,
    *,
    fresh: bool,
    below: Container[int] = (),
) -> dict[int, float]:
    """What each pitch class is worth at a strike: its share of the sound, its place in the chord, and whether it is struck now.

    ``fresh``: the strike before was so recent that what merely goes on sounding need not be struck again.
    ``below``: what the left hand has down then.
    """
    weight: dict[int, float] = {}
    extra: dict[int, float] = {}
    heard: dict[int, int] = {}  # ticks in which a pitch class sounds, and the end of the last of them
    reach: dict[int, int] = {}
    total = 0.0
    for sound in inner:
        length = min(sound.end, end) - max(sound.onset, onset)
        if length <= 0:
            continue
        pc = sound.midi % 12
        value = float(length)
        reached = min(sound.end, end)
        heard[pc] = heard.get(pc, 0) + max(0, reached - max(sound.onset, reach.get(pc, onset)))
        reach[pc] = max(reached, reach.get(pc, onset))
        now = sound.onset == onset
        if fresh and not now:
            value *= 0.35
        weight[pc] = weight.get(pc, 0.0) + value
        total += value
        bonus = (balance.struck if now else 0.0) + (balance.counter if sound.role == "counter" else 0.0)
        if sound.wanted:
            bonus += _WANTED
        if sound.rival:
            bonus += balance.doubt
        if bonus > extra.get(pc, 0.0):
            extra[pc] = bonus
    gains: dict[int, float] = {}
    weight = {pc: value for pc, value in weight.items() if heard[pc] >= balance.held * (end - onset)}
    if chord is not None and chord.chosen:  # the arranger's chord: its tones and no others
        weight = dict.fromkeys(chord.tones, total)
        total = total * len(chord.tones) or 1.0
    for pc, value in weight.items():
        share = (value / total) ** 0.5
        if chord is not None:
            share *= balance.place(chord, pc) if pc in chord.tones else balance.foreign
        if pc in known:
            share *= balance.heard
        gains[pc] = share + (extra.get(pc, 0.0) if pc not in known else 0.0)
    if chord is None or not chord.chosen:
        for pc in _too_early(inner, onset, weight, known, below):
            gains.pop(pc, None)
    return gains


def _too_early(inner: Sequence[Sound], onset: int, weight: Mapping[int, float], known: Container[int], below: Container[int]) -> set[int]:
    """Pitch classes that would sound a semitone beside another one before the orchestra does so, if ever.

    A suspension and what it becomes are not struck together: of the two the chord has the one that lasts longer while it is held; the
    tune and the bass (``known``) stay as they are, and so does what the left hand has of the moment (``below``).
    """
    now = {sound.midi % 12 for sound in inner if sound.onset <= onset < sound.end}
    out: set[int] = set()
    for pc in weight:
        if pc in now or pc in known:
            continue
        for other in ((pc + 1) % 12, (pc - 1) % 12):
            fixed = other in known or (other in now and other in below)
            if fixed or (other in now and other in weight and other not in out):
                out.add(pc if fixed or weight[pc] <= weight[other] else other)
    return out
