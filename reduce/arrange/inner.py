"""When the inner notes strike, where the draft follows the rhythm of the source's own accompaniment."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import Counter
from collections.abc import Callable, Mapping, Sequence, Set

from reduce.arrange.line import Tone
from reduce.arrange.sounding import Sound
from reduce.model.record import dataclass
from reduce.model.score import Bar
from reduce.model.texture import Role

_SHAKEN = 1  # strokes through a stem: a note that is repeated or trembles
INNER_ROLES: frozenset[Role] = frozenset({"harmony", "figuration", "counter", "melody-third"})


@dataclass(frozen=True, slots=True)
class Pulse:
    """A moment at which a hand strikes inner notes, and how long the source keeps them (ticks)."""

    onset: int
    end: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Pace:
    """Shortest time between strikes, in seconds: of new notes, of the same notes again, and of the right hand's chords."""

    strike: float
    repeat: float
    right: float


def strength(onset: int, bar: Bar, resolution: int) -> int:
    """Metric weight of a moment: 4 downbeat, 3 half bar, 2 beat, 1 half beat, 0 weaker."""
    at = onset - bar.start
    if bar.pickup and bar.length < bar.meter.ticks(resolution):
        at += bar.meter.ticks(resolution) - bar.length
    if at == 0:
        return 4
    beat = bar.meter.beat_ticks(resolution)
    beats = bar.meter.ticks(resolution) // beat
    if at % beat == 0:
        return 3 if beats % 2 == 0 and at * 2 == bar.meter.ticks(resolution) else 2
    half = beat // 3 if bar.meter.compound else beat // 2
    return 1 if half and at % half == 0 else 0


def left_pulses(
    sounds: Sequence[Sound],
    bars: Sequence[Bar],
    resolution: int,
    pace: Pace,
    ticks_a_second: Callable[[int], float],
    bass: Set[int] = frozenset(),
) -> tuple[Pulse, ...]:
    """The moments at which the accompaniment strikes, thinned to what a hand can repeat.

    A tremolo is repeated eighths.  Repeated notes of one stream count half and keep a wider distance than moving ones (common practice:
    orchestral repetition becomes slower repetition on the piano).  ``bass``: moments at which the same hand strikes its bass.
    """
    weight: dict[int, float] = {}
    ends: dict[int, int] = {}
    moving: set[int] = set()
    last: dict[int, Sound] = {}
    step = resolution // 2
    shaken: dict[int, int] = {}
    for sound in sounds:
        if sound.role not in INNER_ROLES:
            continue
        before = last.get(sound.stream)
        again = before is not None and before.midi == sound.midi and before.onset < sound.onset <= before.end + resolution // 2
        weight[sound.onset] = weight.get(sound.onset, 0.0) + (0.5 if again else 1.0)
        if not again:
            moving.add(sound.onset)
        if sound.end > ends.get(sound.onset, 0):
            ends[sound.onset] = sound.end
        if sound.note.tremolo >= _SHAKEN and sound.end - sound.onset > step:
            for onset in range(sound.onset + step, sound.end, step):
                shaken[onset] = max(shaken.get(onset, 0), min(sound.end, onset + step))
        if before is None or before.onset != sound.onset:
            last[sound.stream] = sound
    for onset, end in shaken.items():
        weight[onset] = weight.get(onset, 0.0) + 0.5
        ends[onset] = max(ends.get(onset, 0), end)
    starts = [bar.start for bar in bars]
    ranked = sorted(weight, key=lambda onset: (-_rank(onset, bars, starts, resolution, weight), onset))
    kept: list[int] = []
    for onset in ranked:
        speed = ticks_a_second(onset)
        distance = (pace.strike if onset in moving else pace.repeat) * speed
        place = bisect_left(kept, onset)
        if place > 0 and onset - kept[place - 1] < distance:
            continue
        if place < len(kept) and kept[place] - onset < min(distance, pace.strike * speed):
            continue
        kept.insert(place, onset)
    kept = _even(kept, weight, moving, bars, resolution, pace, ticks_a_second, bass)
    out = []
    ordered = sorted(ends)
    for index, onset in enumerate(kept):
        following = kept[index + 1] if index + 1 < len(kept) else None
        # thinned repetitions belong to the pulse before them: it lasts until the last of them ends
        low = bisect_left(ordered, onset)
        high = bisect_left(ordered, following) if following is not None else len(ordered)
        end = max(ends[o] for o in ordered[low : min(high, low + 64)])
        out.append(Pulse(onset, min(end, following) if following is not None else end))
    return tuple(out)


def _even(
    kept: Sequence[int], struck: Mapping[int, float], moving: Set[int], bars: Sequence[Bar], resolution: int, pace: Pace,
    ticks_a_second: Callable[[int], float], bass: Set[int],
) -> list[int]:  # fmt: skip
    """The pulses with every thinned beat made even, alike through a bar: equal parts that the source strikes and a hand can follow.

    A beat that loses strikes has no rhythm of its own left; equal strikes read and play better than what remains by chance
    (common practice: repeated sixteenths become repeated eighths).  Beats that lose nothing keep the source's rhythm.
    """
    out: list[int] = []
    here, everything, firm = sorted(kept), sorted(struck), sorted(bass)

    def within(onsets: Sequence[int], start: int, end: int) -> Sequence[int]:
        return onsets[bisect_left(onsets, start) : bisect_left(onsets, end)]

    for bar in bars:
        beat = bar.meter.beat_ticks(resolution)
        first = bar.end - -(-bar.length // beat) * beat  # an upbeat ends on the bar line
        finest: dict[int, dict[int, list[int]]] = {}  # thinned beat -> number of parts -> their moments
        for start in range(max(first, bar.start), bar.end, beat):
            end = start + beat
            if end > bar.end or len(within(here, start, end)) == len(within(everything, start, end)):
                continue
            finest[start] = {}
            for parts in (6, 3, 1) if bar.meter.compound else (4, 3, 2, 1):
                even = [start + k * beat // parts for k in range(parts)]
                apart = beat / parts / ticks_a_second(start)
                if beat % parts == 0 and all(t in struck and apart >= (pace.strike if t in moving else pace.repeat) for t in even):
                    finest[start][parts] = even
        count = Counter(max(ways) for ways in finest.values() if ways)
        common = min(count, key=lambda parts: (-count[parts], parts), default=1)
        for start in range(first, bar.end, beat):
            ways = {parts: even for parts, even in finest.get(start, {}).items() if parts <= common}
            own = ways[max(ways)] if ways else within(here, max(start, bar.start), min(start + beat, bar.end))
            out += _one_division(own, start, beat, struck, within(firm, start, start + beat))
    return out


def _one_division(onsets: Sequence[int], start: int, beat: int, struck: Mapping[int, float], firm: Sequence[int]) -> Sequence[int]:
    """Of the strikes of one beat those in twos or those in threes: no two against three in one hand.

    The bass decides (``firm``, its strikes in the beat), else what weighs more.
    """
    everything = {*onsets, *firm}
    twos, threes, sixes = ({o for o in everything if (o - start) * parts % beat == 0} for parts in (8, 3, 6))
    if everything in (twos, threes) or everything - twos - threes or everything - sixes:  # sixths, fifths ... are a rhythm of their own
        return onsets
    chosen = max(threes, twos, key=lambda grid: (grid.issuperset(firm), sum(struck[o] for o in onsets if o in grid)))
    return [o for o in onsets if o in chosen]


def free_pulses(
    pulses: Sequence[Pulse], tune: Sequence[Tone], sounds: Sequence[Sound], bars: Sequence[Bar], resolution: int, least: float
) -> tuple[Pulse, ...]:
    """The strikes of the accompaniment for which the right hand is free, since the tune rests for ``least`` bars or longer.

    They last until the tune goes on.  ``pulses``: all strikes of the accompaniment; what only goes on sounding is not struck again.
    """
    starts = [bar.start for bar in bars]
    ends, onsets = [tone.end for tone in tune], [tone.onset for tone in tune]
    struck = {sound.onset for sound in sounds if sound.role in INNER_ROLES}
    out = []
    for pulse in pulses:
        place = bisect_right(onsets, pulse.onset)
        rest = (ends[place - 1] if place else bars[0].start, onsets[place] if place < len(onsets) else bars[-1].end)
        bar = bars[bisect_right(starts, pulse.onset) - 1].meter.ticks(resolution)
        if rest[0] <= pulse.onset and rest[1] - rest[0] >= least * bar and pulse.onset in struck:
            out.append(Pulse(pulse.onset, min(pulse.end, rest[1])))
    return tuple(out)


def right_pulses(
    tune: Sequence[Tone],
    sounds: Sequence[Sound],
    bars: Sequence[Bar],
    resolution: int,
    pace: Pace,
    ticks_a_second: Callable[[int], float],
    free: Sequence[Pulse] = (),
) -> tuple[Pulse, ...]:
    """The tune notes that may carry chord notes: those on beats, long ones, and all that others follow in thirds or sixths.

    Between them stand the strikes for which the hand is ``free``.
    """
    struck: dict[int, int] = {}
    along: set[int] = set()
    for sound in sounds:
        if sound.role in INNER_ROLES:
            struck[sound.onset] = struck.get(sound.onset, 0) + 1
            if sound.role == "melody-third":
                along.add(sound.onset)
    starts = [bar.start for bar in bars]
    chosen: list[int] = []
    for tone in tune:
        bar = bars[bisect_right(starts, tone.onset) - 1]
        weight = strength(tone.onset, bar, resolution)
        speed = ticks_a_second(tone.onset)
        long = tone.end - tone.onset >= pace.right * speed
        if tone.onset in along:
            chosen.append(tone.onset)
            continue
        if not (weight >= 2 or long or (struck.get(tone.onset, 0) >= 2 and weight >= 1)):
            continue
        if chosen and tone.onset - chosen[-1] < pace.right * speed and weight < 2:
            continue
        chosen.append(tone.onset)
    ends = {tone.onset: tone.end for tone in tune} | {pulse.onset: pulse.end for pulse in free}
    last = max((*ends.values(), *(sound.end for sound in sounds if sound.role in INNER_ROLES)), default=0)  # a last chord sounds on
    filled = {pulse.onset for pulse in free}
    chosen = sorted({*chosen, *filled})
    stops = [*chosen[1:], last]
    return tuple(
        Pulse(onset, min(stop, ends[onset]) if onset in filled else stop) for onset, stop in zip(chosen, stops, strict=False)
    )


def _rank(onset: int, bars: Sequence[Bar], starts: Sequence[int], resolution: int, weight: dict[int, float]) -> float:
    bar = bars[max(0, bisect_right(starts, onset) - 1)]
    return strength(onset, bar, resolution) + min(weight[onset], 6.0) * 0.25
