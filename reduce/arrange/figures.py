"""The accompaniment: when each hand strikes, and what kind of thing it strikes.

Which keys are pressed is left to the voicing search; here a section gets its figure and a bar its strikes.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Collection, Mapping, Sequence
from itertools import groupby

from reduce.arrange.figures_pattern import HOLD, REST, pattern
from reduce.arrange.figures_sections import NOWHERE, Section, Settled, sections, with_choices, with_settled
from reduce.arrange.figures_told import told
from reduce.arrange.line import Tone
from reduce.arrange.own_motion import Motion
from reduce.arrange.tune_rhythm import FIGURE, Stroke, in_its_rhythm, strokes
from reduce.model.decision import Decision
from reduce.model.draft import Hand
from reduce.model.record import dataclass, replace
from reduce.model.rules import Rules
from reduce.model.score import Bar
from reduce.model.texture import Chord, Figure, Phrase

KINDS = {
    "B": "bass",
    "O": "octave",
    "R": "root",
    "F": "fifth",
    "V": "open-fifth",
    "C": "chord",
    "c": "inner",
    "T": "tremolo",
    "U": "unison",
    "1": "broken-1",
    "2": "broken-2",
    "3": "broken-3",
    "4": "broken-4",
}


@dataclass(frozen=True, slots=True)
class Strike:
    """One touch of the accompaniment, ``onset``..``end`` ticks.

    ``kind``: bass (the chord's bass), octave (the same doubled below), root, fifth, open-fifth (root and fifth together), chord (the
    whole chord on its bass), inner (upper chord notes without the bass), broken-1..4 (one note of the broken chord, from below),
    tremolo (alternating chord notes), unison (the tune doubled below).  ``size`` keys at most; ``chord`` is the index of the chord.
    ``rest`` marks the strike on which a phrase comes to rest, ``sung`` one that goes with a note of the tune because all do.
    """

    onset: int
    end: int
    hand: Hand
    kind: str
    size: int
    chord: int
    rest: bool = False
    sung: bool = False


def accompany(
    chords: Sequence[Chord],
    figures: Sequence[Figure],
    bars: Sequence[Bar],
    rules: Rules,
    *,
    resolution: int,
    quarters: float = 0.0,
    density: float = 1.0,
    tune: Sequence[Tone] = (),
    bass: Sequence[Tone] = (),
    phrases: Sequence[Phrase] = (),
    chosen: Sequence[tuple[int, int, str]] = (),
    own: Sequence[Motion] = (),
    unfit: Mapping[str, Collection[int]] = NOWHERE,
    only: str = "",
    settled: Sequence[Settled] = (),
) -> tuple[tuple[Strike, ...], tuple[Decision, ...], tuple[Section, ...]]:
    """The strikes under a tune, section by section, sorted by onset, one decision a section, and the sections.

    ``chords`` are already thinned to the level; ``quarters`` a minute is the draft's tempo (0 = the level's slowest); ``density`` is the
    share of the level's pace that the accompaniment may use; ``bass`` is the real bass line for figures that follow it.  ``own`` is what
    the orchestra's accompaniment does in each bar: the figure rests where it does, and is never busier nor fuller.  ``unfit`` are the bars
    (positions) that ask for too much at once under a figure; ``only`` is a figure that is tried out under all bars; ``settled`` are
    figures that stretches have instead of those found.
    """
    tempo = quarters or rules.level.tempo_min
    along = in_its_rhythm(own, bars, tune, rules, resolution, tempo) if FIGURE in rules.level.figures else {}
    found = sections(
        figures, bars, rules, quarters=tempo, density=density, tune=tune, phrases=phrases, own=own, along=along, unfit=unfit
    )  # fmt: skip
    parts = with_choices(with_settled(found, settled), chosen) if not only else (Section(0, len(bars) - 1, only, ""),)
    grounded = rules.whole("accompaniment.octave-unison.grounded-from-level")
    resting = {**_rests(bars, tune, phrases, rules, resolution, own), **_holding(own, bars, rules)}
    out: list[Strike] = []
    at = 0
    bass_onsets = [tone.onset for tone in bass]
    for section in parts:
        for place in range(section.first, section.last + 1):
            bar = bars[place]
            while at < len(chords) and chords[at].end <= bar.start:
                at += 1
            motion = own[place] if own and not section.hers else None
            alone = motion is not None and motion.silent
            unison = alone and motion is not None and motion.doubled and "octave-unison" in rules.level.figures
            if tune and (unison or (section.figure == "octave-unison" and not alone)):
                out += _below_the_tune(bar, tune, chords, at, bar.end)
            elif alone and motion is not None and motion.doubled and (rules.level.order >= grounded or place + 1 == len(bars)):
                free = next((k for k in range(place + 1, len(bars)) if k >= len(own) or not own[k].silent), len(bars))
                out += _below_the_tune(bar, tune, chords, at, bars[free - 1].end, bar.meter.beat_ticks(resolution))
            elif section.figure == FIGURE and (section.hers or place in along):
                touches = along.get(place) or strokes(bar, tune, rules, resolution, tempo)
                out += _with_the_tune(bar, touches, chords, at, resting.get(place), rules, motion)
            elif not alone:
                out += _bar(section, bar, chords, at, bass_onsets, resting.get(place), rules, resolution, motion)
    lonely = {place for place, motion in enumerate(own) if motion.silent}
    out += inner_notes(chords, bars, tune, rules, resolution, tempo * resolution / 60, lonely)
    out.sort(key=lambda strike: (strike.onset, strike.hand))
    return tuple(out), told(parts, bars, rules, tempo), parts


def _below_the_tune(bar: Bar, tune: Sequence[Tone], chords: Sequence[Chord], first: int, until: int, beat: int = 0) -> list[Strike]:
    """A strike under each note of the tune, in its own rhythm but not beyond ``until``, on the chord that sounds (or the nearest one).

    Where ``beat`` ticks are given, only under what begins the bar, or lasts two beats, for a beat at least.
    """
    low = bisect_left(tune, bar.start, key=lambda tone: tone.onset)
    high = bisect_left(tune, bar.end, key=lambda tone: tone.onset)
    out = []
    chord = first
    for tone in tune[low:high]:
        while chord + 1 < len(chords) and chords[chord].end <= tone.onset:
            chord += 1
        weighty = not beat or (tone.duration >= beat and (tone.onset == bar.start or tone.duration >= 2 * beat))
        if chord < len(chords) and weighty:
            out.append(Strike(tone.onset, min(tone.end, until), "left", "unison", 1, chord))
    return out


def _with_the_tune(
    bar: Bar, touches: Sequence[Stroke], chords: Sequence[Chord], first: int, rest: int | None, rules: Rules, own: Motion | None
) -> list[Strike]:
    """A chord at each of the strokes, on the harmony that sounds there (or the nearest one), held as long as the tune's note."""
    events: list[tuple[int, str, int]] = []
    chord = first
    for onset, end in touches:
        while chord + 1 < len(chords) and chords[chord].end <= onset:
            chord += 1
        if chord < len(chords):
            events += [(onset, "C", chord), (end, REST, chord)]
    struck = _struck(events, bar, set(), rest, 1, rules, own.voices if own is not None else 0)
    return [replace(strike, sung=True) for strike in struck]


def _rests(
    bars: Sequence[Bar], tune: Sequence[Tone], phrases: Sequence[Phrase], rules: Rules, resolution: int, own: Sequence[Motion] = ()
) -> dict[int, int]:
    """Bars in which the accompaniment comes to rest (position), with the tick from which it does.

    At the end of a phrase it does so with the orchestra's: where that goes on as before, the figure goes on.
    """
    found: dict[int, int] = {}
    onsets = [tone.onset for tone in tune]
    starts = [bar.start for bar in bars]
    long = rules.number("accompaniment.rest-at-cadence.long-beats")
    every = rules.numbers("accompaniment.rest-at-cadence.levels")[rules.level.order - 1] > 0
    for phrase in phrases if every else ():
        last = bisect_left(onsets, phrase.end) - 1
        if last < 0 or tune[last].onset < phrase.start:
            continue
        place = bisect_left(starts, tune[last].onset + 1) - 1
        if place < 0 or tune[last].onset >= bars[place].end:
            continue
        beat = bars[place].meter.beat_ticks(resolution)
        silent_until = tune[last + 1].onset if last + 1 < len(tune) else bars[place].end
        goes_on = bool(own) and place > 0 and own[place].strikes > 1 and 2 * own[place].strikes > own[place - 1].strikes > 0
        if silent_until - tune[last].onset >= long * beat and not goes_on:
            found[place] = tune[last].onset - (tune[last].onset - bars[place].start) % beat
    if bars and tune:
        ending = [tone.onset for tone in tune[-3:] if bars[-1].start <= tone.onset < bars[-1].end]
        beat = bars[-1].meter.beat_ticks(resolution)
        found[len(bars) - 1] = ending[-1] - (ending[-1] - bars[-1].start) % beat if ending else bars[-1].start
    elif bars:
        found[len(bars) - 1] = bars[-1].start
    return found


def _holding(own: Sequence[Motion], bars: Sequence[Bar], rules: Rules) -> dict[int, int]:
    """Bars (position) in which the figure rests from the beginning (tick): in so many running the orchestra strikes once or holds on."""
    least = rules.whole("accompaniment.rest-where-held.bars")
    found: dict[int, int] = {}
    for held, run in groupby(range(len(own)), key=lambda place: own[place].strikes <= 1 and not own[place].silent):
        row = list(run)
        if held and len(row) >= least:
            found.update((place, bars[place].start) for place in row)
    return found


def _bar(
    section: Section,
    bar: Bar,
    chords: Sequence[Chord],
    first: int,
    bass_onsets: Sequence[int],
    rest: int | None,
    rules: Rules,
    resolution: int,
    own: Motion | None = None,
) -> list[Strike]:
    """The strikes of one bar: the figure's shares, begun anew at each change of chord, still from ``rest`` on.

    The figure waits for the orchestra's own accompaniment, and ends with it where that leaves half a bar and more to the tune alone.
    """
    drone = own is not None and own.voices <= 1
    shares = (() if drone else pattern(section.figure, bar.meter, rules)) or pattern("held-root", bar.meter, rules) or ("B",)
    full = bar.meter.ticks(resolution)
    share = full // len(shares)
    if share * len(shares) != full or (bar.pickup and bar.length < full):
        if bar.pickup and bar.length < full:
            return []
        shares, share = (shares[0],), full
    broken = any(mark in "1234" for mark in shares)
    events: list[tuple[int, str, int]] = []  # tick, share, chord
    changes = {}
    index = first
    while index < len(chords) and chords[index].start < bar.end:
        changes[max(bar.start, chords[index].start)] = index
        index += 1
    if not changes:
        return []
    here, phase, chord, owed = bar.start, 0, -1, False
    ends = {bar.end, *(chords[k].end for k in changes.values() if chords[k].end < bar.end)}
    calm = "C" if broken or {"C", "c"} & set(shares) else shares[0]
    begin, until = _window(bar, own, resolution)
    while here < bar.end:
        mark = shares[phase % len(shares)]
        fresh = owed or (here in changes and changes[here] != chord)
        chord, owed = changes.get(here, chord), False
        if here + share <= begin or here >= until:
            owed = True
            events.append((here, REST, chord))
            here += share
            phase += 1
            continue
        if fresh and (here != bar.start or mark in (HOLD, REST)):
            phase = 0 if broken else phase
            mark = shares[0]
        if section.figure == "bass-line" and bass_onsets and mark == "B" and not fresh:
            mark = "B" if bisect_left(bass_onsets, here + share) > bisect_left(bass_onsets, here) else HOLD
        resting = rest is not None and here + share > rest
        if chord < 0 or chords[chord].end <= here:
            events.append((here, REST, chord))
        elif mark != HOLD and (not resting or fresh or here <= (rest or 0)):
            events.append((here, calm if resting else mark, chord))
        for tick in sorted(tick for tick in changes if here < tick < here + share):
            chord = changes[tick]
            owed = tick - here < resolution // 2 or here + share - tick < resolution // 2
            if not owed:
                events.append((tick, calm if resting else shares[0], chord))
        here += share
        phase += 1
    return _struck(events, bar, ends, rest, share, rules, own.voices if own is not None else 0)


def _window(bar: Bar, own: Motion | None, resolution: int) -> tuple[int, int]:
    """The ticks between which the orchestra accompanies, in whole beats; a silence at the end counts only from half a bar on."""
    if own is None:
        return bar.start, bar.end
    beat = bar.meter.beat_ticks(resolution)
    first = own.first - (own.first - bar.start) % beat
    last = own.last + (bar.start - own.last) % beat
    return first, last if 2 * (bar.end - last) >= bar.length else bar.end


def _struck(
    events: list[tuple[int, str, int]], bar: Bar, ends: set[int], rest: int | None, share: int, rules: Rules, voices: int = 0
) -> list[Strike]:
    """Strikes from the events of a bar: each lasts until the next one or until its harmony ends."""
    level = rules.level
    whole = min(level.notes_left, 4 if level.order >= 5 else 3)
    left = int(rules.numbers("accompaniment.chord-size.full-a-bar")[level.order - 1])
    out = []
    for (tick, mark, chord), (until, _, _) in zip(events, [*events[1:], (bar.end, REST, -1)], strict=True):
        if mark == REST:
            continue
        stop = min([until, *(end for end in ends if end > tick)]) if until == bar.end else until
        size = 1
        if mark == "C":
            size = whole if left > 0 else max(1, whole - 1)
            left -= 1
        elif mark == "c":
            size = max(1, min(whole - 1, 3))
        elif mark in "VO":
            size = min(2, level.notes_left)
        elif mark == "T":
            size = min(3, level.notes_left)
        size = min(size, voices or size)
        kind = KINDS.get(mark, "bass")
        out.append(Strike(tick, stop, "left", kind, size, chord, rest is not None and tick + share > rest))
    return out


def inner_notes(
    chords: Sequence[Chord],
    bars: Sequence[Bar],
    tune: Sequence[Tone],
    rules: Rules,
    resolution: int,
    ticks_a_second: float,
    lonely: Collection[int] = (),
) -> list[Strike]:
    """Chord notes that the right hand may add under long notes of the tune, in its own rhythm; none in ``lonely`` bars (positions)."""
    level = rules.level
    most = min(int(rules.numbers("accompaniment.inner.size")[level.order - 1]), level.notes_right - 1)
    if most < 1:
        return []
    long = rules.numbers("accompaniment.inner.long-beats")[level.order - 1]
    slow = rules.numbers("accompaniment.inner.long-seconds")[level.order - 1] * ticks_a_second
    where = rules.word("accompaniment.inner.where")
    out: list[Strike] = []
    at = place = 0
    last_bar, last_chord = -1, -1
    for tone in tune:
        while at < len(chords) and chords[at].end <= tone.onset:
            at += 1
        while place + 1 < len(bars) and bars[place].end <= tone.onset:
            place += 1
        if at == len(chords) or place == len(bars):
            break
        beat = bars[place].meter.beat_ticks(resolution)
        off = (tone.onset - bars[place].start) % beat
        if place in lonely or chords[at].start > tone.onset or tone.duration < max(long * beat, slow) or off:
            continue
        if (where == "bar" and place == last_bar) or (where == "chord" and at == last_chord):
            continue
        last_bar, last_chord = place, at
        out.append(Strike(tone.onset, tone.end, "right", "inner", most, at))
    return out
