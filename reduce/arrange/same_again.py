"""Where the orchestra plays the same again, the inner notes are the same again, in any key: differences only where the source differs."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import TypeVar

from reduce.arrange.desk import Desk, taste_of
from reduce.arrange.fold import Inner
from reduce.arrange.line import Tone
from reduce.arrange.sounding import Sound
from reduce.arrange.strands import Key
from reduce.model.record import replace
from reduce.model.score import Bar

_Note = TypeVar("_Note", Key, Inner)
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


def played_again(
    left: Sequence[Key], right: Sequence[Inner], tune: Sequence[Tone], given: Sequence[Tone], desk: Desk
) -> tuple[tuple[Key, ...], tuple[Inner, ...]]:
    """The accompaniment of a figure with that of every bar that comes again, its tune included, taken from its first time.

    The right hand's chords go with the tune, the left hand as far as the orchestra, or an octave off; where they would meet the tune, leave
    the level's keys, or the left hand has a note of the tune (``given``), the bar stays as it is.
    """
    again = heard_again(desk)
    if not again:
        return tuple(left), tuple(right)
    sung, low = (_by_bar(line, desk.bars) for line in (tune, given))
    keys, chords = _rows(left, desk.bars), _rows(right, desk.bars)
    never = taste_of(desk.rules).never
    for place, (first, up) in again.items():
        bar = desk.bars[place]
        raised = _distance(sung[first], sung[place])
        eased = any(steps.get(place, 0) != steps.get(first, 0) for steps in (desk.ease, desk.slim))
        if raised is None or low[first] or low[place] or eased:
            continue
        away = bar.start - desk.bars[first].start
        held = again.get(place + 1) == (first + 1, up)  # else nothing is held into what comes next
        end = desk.end if held else bar.end
        under = min((key for _, _, key in sung[place]), default=desk.rules.level.highest + 1)
        choices = [
            [replace(key, onset=key.onset + away, end=min(key.end + away, end), midi=key.midi + up + octave) for key in keys[first]]
            for octave in (0, -12, 12)
        ]
        floor = desk.rules.level.lowest
        fitting = [
            moved for moved in choices if all(floor <= key.midi < under and key.pitch is None for key in moved) and _clear(moved, never)
        ]
        upper = [_moved(chord, away, raised) for chord in chords[first]]
        upper = [replace(chord, end=min(chord.end, end)) for chord in upper]
        if fitting and keys[place] and all(_fits(chord, desk) for chord in upper):
            keys[place], chords[place] = fitting[0], upper
    return tuple(key for row in keys for key in row), tuple(chord for row in chords for chord in row)


def bass_again(bass: Sequence[Tone], tune: Sequence[Tone], desk: Desk) -> tuple[Tone, ...]:
    """The bass with that of every bar that comes again, its tune included, taken from its first time.

    A bar stays as it is where a note is held into it or out of it, where its place is not in the level's keys, or where the source has no
    such note there.
    """
    again = heard_again(desk)
    if not again:
        return tuple(bass)
    starts = [bar.start for bar in desk.bars]
    rows: list[list[Tone]] = [[] for _ in desk.bars]
    held: set[int] = set()
    for tone in bass:
        place = max(0, bisect_right(starts, tone.onset) - 1)
        rows[place].append(tone)
        if tone.end > desk.bars[place].end:
            held.update(range(place, max(0, bisect_right(starts, tone.end - 1) - 1) + 1))
    sung, low = _by_bar(tune, desk.bars), _by_bar(bass, desk.bars)
    found: dict[int, dict[int, list[Sound]]] | None = None
    for place, (first, up) in again.items():
        same = frozenset((onset, end, key + up) for onset, end, key in low[first]) == low[place]
        if same or place in held or first in held or ((sung[first] or sung[place]) and _distance(sung[first], sung[place]) != up):
            continue
        if found is None:
            found = {}
            for sound in desk.sounds:
                found.setdefault(max(0, bisect_right(starts, sound.onset) - 1), {}).setdefault(sound.onset, []).append(sound)
        row = [sung_by(tone, starts[place] - starts[first], up, found.get(place, {}), desk) for tone in rows[first]]
        fitting = [tone for tone in row if tone is not None and tone.midi >= desk.rules.level.lowest]
        if len(fitting) == len(row):
            rows[place] = fitting
    return tuple(tone for row in rows for tone in row)


def sung_by(tone: Tone, away: int, up: int, sounds: Mapping[int, Sequence[Sound]], desk: Desk) -> Tone | None:
    """The tone as it comes again: the source's note of that moment and name, in the tone's own octave; None where there is none."""
    key = tone.midi + up
    ranked = sorted((s for s in sounds.get(tone.onset + away, ()) if (s.midi - key) % 12 == 0), key=lambda s: abs(s.midi - key))
    if not ranked or tone.graces:
        return None
    octaves = (key - ranked[0].midi) // 12
    pitch = ranked[0].note.pitch.moved(desk.steps, desk.shift).moved(7 * octaves, 12 * octaves)
    return replace(tone, onset=tone.onset + away, end=tone.end + away, midi=key, pitch=pitch, sources=(ranked[0].note.id,))


def _clear(keys: Sequence[Key], never: Sequence[int]) -> bool:
    """Whether no two neighbours that are struck together lie so close in the deep that they sound like mud."""
    together = sorted((key.onset, key.midi) for key in keys)
    return all(at != on or b - a > 11 or a >= never[b - a] for (at, a), (on, b) in pairwise(together))


def _rows(notes: Sequence[_Note], bars: Sequence[Bar]) -> list[list[_Note]]:
    """What each bar strikes."""
    starts = [bar.start for bar in bars]
    rows: list[list[_Note]] = [[] for _ in bars]
    for note in notes:
        rows[max(0, bisect_right(starts, note.onset) - 1)].append(note)
    return rows


def _distance(first: Content, second: Content) -> int | None:
    """The semitones from one content to the other; None where they differ otherwise."""
    if len(first) != len(second):
        return None
    up = min((key for _, _, key in second), default=0) - min((key for _, _, key in first), default=0)
    return up if frozenset((onset, end, key + up) for onset, end, key in first) == second else None


def heard_again(desk: Desk) -> dict[int, tuple[int, int]]:
    """For each bar (position) in which all that sounds comes again at one distance, its first time and the semitones between them."""
    return _alike([(row,) for row in _by_bar([sound for sound in desk.sounds if sound.role != "rhythm"], desk.bars)], desk)


def _again(desk: Desk, tune: Sequence[Tone], bass: Sequence[Tone]) -> dict[int, tuple[int, int]]:
    """The same where tune and bass of the draft do so too and nothing is eased."""
    heard = _by_bar([sound for sound in desk.sounds if sound.role != "rhythm"], desk.bars)
    lines = [_by_bar(line, desk.bars) for line in (tune, bass)]
    contents = [(row, *(line[place] for line in lines)) for place, row in enumerate(heard)]
    return _alike([((frozenset(),) if desk.eased(bar.start) else row) for bar, row in zip(desk.bars, contents, strict=True)], desk)


def _alike(contents: Sequence[tuple[Content, ...]], desk: Desk) -> dict[int, tuple[int, int]]:
    """For each bar whose contents come again at one distance, its first time and that distance; bars of silence have none."""
    keyed: dict[tuple[object, ...], int] = {}
    found: dict[int, tuple[int, int]] = {}
    lows = [min((key for _, _, key in row[0]), default=0) for row in contents]
    for place, (bar, rows) in enumerate(zip(desk.bars, contents, strict=True)):
        if not rows[0]:
            continue
        shape = tuple(frozenset((onset, end, key - lows[place]) for onset, end, key in row) for row in rows)
        first = keyed.setdefault((bar.length, bar.meter, *shape), place)
        if first != place:
            found[place] = (first, lows[place] - lows[first])
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
