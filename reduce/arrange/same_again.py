"""Where the orchestra plays the same again, the inner notes are the same again, in any key: differences only where the source differs."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence

from reduce.arrange.desk import Desk
from reduce.arrange.fold import Inner
from reduce.arrange.line import Tone
from reduce.arrange.sounding import Sound
from reduce.model.record import replace
from reduce.model.score import Bar

Content = frozenset[tuple[int, int, int]]  # onset and end in the bar, and the key


def same_again(inner: Sequence[Inner], tune: Sequence[Tone], bass: Sequence[Tone], desk: Desk) -> tuple[Inner, ...]:
    """The inner chords with those of every bar that comes again taken from its first time.

    A bar comes again where all that sounds in it, tune and bass as the draft has them included, is the same at one distance; where
    a hand cannot grip the chords there, or they leave the level's keys, the bar stays as it is.
    """
    again = _again(desk, tune, bass)
    if not again:
        return tuple(inner)
    starts = [bar.start for bar in desk.bars]
    rows: list[list[Inner]] = [[] for _ in desk.bars]
    for chord in inner:
        rows[max(0, bisect_right(starts, chord.onset) - 1)].append(chord)
    for place, (first, up) in again.items():
        away = starts[place] - starts[first]
        moved = [_moved(chord, away, up) for chord in rows[first]]
        if again.get(place + 1, (-1, 0)) != (first + 1, up):  # what comes next is not the same: nothing is held into it
            moved = [replace(chord, end=min(chord.end, desk.bars[place].end)) for chord in moved]
        if all(_fits(chord, desk) for chord in moved):
            rows[place] = moved
    return tuple(sorted((chord for row in rows for chord in row), key=lambda chord: (chord.hand == "right", chord.onset)))


def _moved(chord: Inner, away: int, up: int) -> Inner:
    keys, other = (tuple(key + up for key in keys) for keys in (chord.keys, chord.runner_up))
    return replace(chord, onset=chord.onset + away, end=chord.end + away, keys=keys, runner_up=other)


def _fits(chord: Inner, desk: Desk) -> bool:
    level = desk.rules.level
    return all(level.lowest <= key <= level.highest for key in chord.keys) and desk.playable(chord.keys, chord.hand)


def _again(desk: Desk, tune: Sequence[Tone], bass: Sequence[Tone]) -> dict[int, tuple[int, int]]:
    """For each bar (position) that comes again, its first time and the semitones between them."""
    heard = _by_bar([sound for sound in desk.sounds if sound.role != "rhythm"], desk.bars)
    lines = [_by_bar(line, desk.bars) for line in (tune, bass)]
    keyed: dict[tuple[object, ...], int] = {}
    found: dict[int, tuple[int, int]] = {}
    for place, bar in enumerate(desk.bars):
        content = heard[place]
        if not content or desk.eased(bar.start):
            continue
        low = min(key for _, _, key in content)
        shape = tuple(frozenset((onset, end, key - low) for onset, end, key in row) for row in (content, *(line[place] for line in lines)))
        first = keyed.setdefault((bar.length, bar.meter, *shape), place)
        if first != place:
            found[place] = (first, low - min(key for _, _, key in heard[first]))
    return found


def _by_bar(notes: Sequence[Sound] | Sequence[Tone], bars: Sequence[Bar]) -> list[Content]:
    """What sounds in each bar, held notes cut at the bar lines."""
    rows: list[set[tuple[int, int, int]]] = [set() for _ in bars]
    starts = [bar.start for bar in bars]
    for note in notes:
        place = max(0, bisect_right(starts, note.onset) - 1)
        while place < len(bars) and bars[place].start < note.end:
            bar = bars[place]
            rows[place].add((max(note.onset, bar.start) - bar.start, min(note.end, bar.end) - bar.start, note.midi))
            place += 1
    return [frozenset(row) for row in rows]
