"""Two hands, two strands each: outer lines and inner chords put together, and kept within what a hand can do.

Inside a strand, notes of one onset share one duration and end before the next onset.  The last act here is a sweep
over every moment: whatever would break a hand's span or count, or give one key to both hands, is let go early or left out,
inner notes first, and the reason is kept.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterable, Sequence
from itertools import pairwise
from typing import Literal

from reduce.arrange.fold import Inner
from reduce.arrange.line import Tone
from reduce.arrange.outline import Outline
from reduce.model.draft import Hand
from reduce.model.pitch import Pitch
from reduce.model.record import dataclass, replace


@dataclass(frozen=True, slots=True)
class Key:
    """One key of the draft before it gets its id: ``outer`` marks tune and bass.  ``tone`` carries the outer note's own signs.

    ``sung`` marks a note of the tune that the left hand has.
    """

    hand: Hand
    strand: Literal[1, 2]
    onset: int
    end: int
    midi: int
    outer: bool
    tone: Tone | None = None
    pitch: Pitch | None = None
    sung: bool = False


@dataclass(frozen=True, slots=True)
class Refused:
    """A key that the sweep let go or left out: at ``onset`` the hand had ``measured`` of ``limit`` ``unit``."""

    key: Key
    why: Literal["span", "crowd", "shared", "reach", "deep"]
    measured: int
    limit: int
    released: bool  # held for a shorter time rather than left out


def one_voice(
    bass: Sequence[Tone], inner: Sequence[Inner], longest: int, rest: int, least: int = 0
) -> tuple[tuple[Tone, ...], tuple[Inner, ...]]:
    """Bass and left-hand chords in one rhythm, where the bass notes are short; no chord within ``least`` ticks of a bass note, but with it.

    A rest of at most ``rest`` ticks before the hand's next strike is no rest on the piano: the strike is held through it.

    A bass note of at most ``longest`` ticks lasts until the hand's next strike, and a chord struck with it lasts as long as it
    (common practice: bass, then chord, in one voice; the pedal or the ear holds the bass).  Longer bass notes are held as a voice.
    Nor is a chord held over the next bass note for so short a time: no second voice of hooks and rests for that.
    """
    struck = [t.onset for t in bass]
    inner = [i for i in inner if i.hand == "right" or not _crowded(i.onset, struck, least)]
    strikes = sorted({i.onset for i in inner if i.hand == "left"} | {t.onset for t in bass})
    short = []
    for tone in bass:
        following = bisect_right(strikes, tone.onset)
        after = strikes[following] if following < len(strikes) else tone.end
        brief = tone.end - tone.onset <= longest and following < len(strikes)
        end = min(tone.end, after) if brief else tone.end
        short.append(replace(tone, end=after if 0 < after - end <= rest else end))
    line = Outline(short)
    fitted = []
    for chord in inner:
        under = line.at(chord.onset) if chord.hand == "left" else None
        if under is not None and under.onset == chord.onset and under.end - under.onset <= longest:
            chord = replace(chord, end=under.end)
        elif chord.hand == "left":
            following = bisect_right(strikes, chord.onset)
            after = strikes[following] if following < len(strikes) else chord.end
            chord = replace(chord, end=after if 0 < after - chord.end <= rest else chord.end)
            below = short[place] if (place := bisect_right(struck, chord.onset)) < len(short) else None
            if below is not None and below.onset < chord.end <= below.onset + rest:
                chord = replace(chord, end=below.onset)
        fitted.append(chord)
    return tuple(short), tuple(fitted)


def _crowded(onset: int, struck: Sequence[int], least: int) -> bool:
    """Whether another strike comes just before or just after a moment."""
    place = bisect_left(struck, onset)
    return any(0 < abs(struck[i] - onset) < least for i in range(max(0, place - 1), min(len(struck), place + 2)))


def assembled(tune: Sequence[Tone], bass: Sequence[Tone], inner: Iterable[Inner]) -> tuple[Key, ...]:
    """Outer lines and inner chords as keys in strands.

    An inner chord joins the outer strand where both have one onset and (nearly) one end, or where the outer line is silent
    all the while; otherwise it is a second voice.
    """
    keys: list[Key] = []
    lines: dict[Hand, Outline] = {"right": Outline(tune), "left": Outline(bass)}
    keys += [Key("right", 1, t.onset, t.end, t.midi, True, t, t.pitch) for t in tune]
    keys += [Key("left", 1, t.onset, t.end, t.midi, True, t, t.pitch) for t in bass]
    by_hand: dict[Hand, list[Inner]] = {"right": [], "left": []}
    for chord in inner:
        by_hand[chord.hand].append(chord)
    for hand, chords in by_hand.items():
        line = lines[hand]
        for index, chord in enumerate(chords):
            following = chords[index + 1].onset if index + 1 < len(chords) else chord.end
            end = min(chord.end, following) if following > chord.onset else chord.end
            under = line.during(chord.onset, end)
            strand: Literal[1, 2] = 2
            if not under:
                strand = 1
            elif len(under) == 1 and under[0].onset == chord.onset:
                outer_end = under[0].end
                place = bisect_right(line.onsets, chord.onset)
                free = min(following, line.onsets[place]) if place < len(line.onsets) else following
                if outer_end == end or (outer_end <= max(free, end) and 2 * abs(outer_end - end) <= max(outer_end, end) - chord.onset):
                    end, strand = outer_end, 1
            keys += [Key(hand, strand, chord.onset, end, midi, False) for midi in chord.keys]
    return tuple(sorted(keys, key=lambda k: (k.onset, k.hand, k.strand, k.midi)))


def kept_legal(
    keys: Sequence[Key],
    spans: dict[Hand, int],
    most: dict[Hand, int],
    playable: Callable[[tuple[int, ...], Hand], bool],
    low: int,
    high: int,
    deep: Sequence[int] = (),
) -> tuple[tuple[Key, ...], tuple[Refused, ...]]:
    """The keys with every moment inside the limits.

    Args:
        keys: sorted by onset.
        spans, most: semitones and keys that each hand may have down at once.
        playable: whether a hand can hold these keys (ascending) together.
        low, high: the compass of the level (MIDI); keys outside are never sounded here, callers place lines inside.
        deep: the lowest lower note (MIDI) of intervals of 0, 1, 2 ... semitones inside a hand.

    Returns:
        the keys that remain (some released early) and what was refused.
    """
    out: list[Key] = []
    down: list[int] = []  # indices into out
    refused: list[Refused] = []
    index, count = 0, len(keys)

    def release(position: int, at: int) -> None:
        held = out[position]
        out[position] = replace(held, end=at)
        # a chord has one length: its fellows in the strand leave with it
        for other in down:
            if other != position and out[other].hand == held.hand and out[other].strand == held.strand and out[other].onset == held.onset:
                out[other] = replace(out[other], end=at)

    while index < count:
        now = keys[index].onset
        struck: list[Key] = []
        while index < count and keys[index].onset == now:
            struck.append(keys[index])
            index += 1
        down = [i for i in down if out[i].end > now]
        # outer lines first, then the inner notes from the outside in
        struck.sort(key=lambda k: (not k.outer, k.hand == "left", -k.midi if k.hand == "right" else k.midi))
        for key in struck:
            if not low <= key.midi <= high:
                refused.append(Refused(key, "reach", key.midi, low if key.midi < low else high, False))
                continue
            verdict = _place(key, now, out, down, spans, most, playable, refused, release, deep)
            if verdict:
                down = [i for i in down if out[i].end > now]
                down.append(len(out))
                out.append(key)
    kept = tuple(k for k in out if k.end > k.onset)
    return kept, tuple(refused)


def _place(
    key: Key,
    now: int,
    out: list[Key],
    down: list[int],
    spans: dict[Hand, int],
    most: dict[Hand, int],
    playable: Callable[[tuple[int, ...], Hand], bool],
    refused: list[Refused],
    release: Callable[[int, int], None],
    deep: Sequence[int],
) -> bool:
    """Whether the key may go down now; held inner notes give way to an outer one."""
    for i in down:
        if out[i].end > now and out[i].midi == key.midi:
            held = out[i]
            gives_way = not held.outer or held.hand != key.hand
            if key.outer and gives_way and held.onset < now:
                release(i, now)
                refused.append(Refused(held, "shared", 1, 0, True))
            elif held.hand == key.hand and held.onset < now:
                release(i, now)
            else:
                refused.append(Refused(key, "shared", 1, 0, False))
                return False
    while True:
        mine = [i for i in down if out[i].hand == key.hand and out[i].end > now]
        if not mine:
            return True
        together = sorted({out[i].midi for i in mine} | {key.midi})
        width, crowd = together[-1] - together[0], len(together)
        why: Literal["span", "crowd", "reach", "deep"]
        muddy = [(a, b) for a, b in pairwise(together) if b - a < len(deep) and a < deep[b - a] and key.midi in (a, b)]
        if width > spans[key.hand]:
            why, measured, limit = "span", width, spans[key.hand]
        elif crowd > most[key.hand]:
            why, measured, limit = "crowd", crowd, most[key.hand]
        elif not playable(tuple(together), key.hand):
            why, measured, limit = "reach", width, spans[key.hand]
        elif muddy:
            why, measured, limit = "deep", muddy[0][0], deep[muddy[0][1] - muddy[0][0]]
        else:
            return True
        older = [i for i in mine if not out[i].outer and out[i].onset < now]
        if why == "deep":
            older = [i for i in older if out[i].midi in muddy[0]]
            if not older and key.outer:
                return True  # two outer lines may lie as close as the composer has them
        if older:
            far = max(older, key=lambda i: abs(out[i].midi - key.midi))
            refused.append(Refused(out[far], why, measured, limit, True))
            release(far, now)
            continue
        if key.outer:  # an outer line held under itself cannot be: only a held outer note is left to release
            for i in mine:
                if out[i].onset < now:
                    release(i, now)
                    break
            else:
                return True
            continue
        refused.append(Refused(key, why, measured, limit, False))
        return False
