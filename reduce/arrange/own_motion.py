"""What the orchestra's own accompaniment does in each bar: the measure for every figure that stands for it."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence

from reduce.arrange.sounding import Sound
from reduce.model.record import dataclass
from reduce.model.score import Bar

_TUNE = frozenset({"melody", "melody-double"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Motion:
    """One bar of the orchestra without its tune.

    ``strikes`` moments at which something is struck, ``voices`` different notes of the scale that sound, ``first``..``last`` the ticks
    between which anything sounds (equal: the tune is alone), ``doubled`` whether the tune is doubled in a lower octave.
    """

    strikes: int
    voices: int
    first: int
    last: int
    doubled: bool

    @property
    def silent(self) -> bool:
        """Whether the tune is alone in the bar, or doubled and nothing else."""
        return self.first >= self.last


def own_motion(sounds: Sequence[Sound], bars: Sequence[Bar], resolution: int) -> tuple[Motion, ...]:
    """The orchestra's accompaniment bar by bar.

    A line that goes with the tune in unison or octaves for the whole bar belongs to the tune, whatever it mostly does; drums are no notes.
    A tremolo counts as eighths.  A note that sounds for less than an eighth of the bar gives no voice.  A second tune counts only in bars
    where nothing else accompanies.
    """
    starts = [bar.start for bar in bars]
    tune: dict[tuple[int, int], int] = {}
    for sound in sounds:
        if sound.role in _TUNE:
            key = (sound.onset, sound.midi % 12)
            tune[key] = max(tune.get(key, 0), sound.midi)
    here: list[list[Sound]] = [[] for _ in bars]
    for sound in sounds:
        place = max(0, bisect_right(starts, sound.onset) - 1)
        while place < len(bars) and bars[place].start < sound.end:
            here[place].append(sound)
            place += 1
    return tuple(_of(bar, heard, tune, resolution) for bar, heard in zip(bars, here, strict=True))


def _of(bar: Bar, heard: Sequence[Sound], tune: dict[tuple[int, int], int], resolution: int) -> Motion:
    """What accompanies in one bar."""
    doubled = any(s.role in _TUNE and s.midi < tune.get((s.onset, s.midi % 12), 0) for s in heard)
    lines: dict[int, list[Sound]] = {}
    for sound in heard:
        if sound.role != "rhythm" and sound.role not in _TUNE:
            lines.setdefault(sound.stream, []).append(sound)
    own: list[Sound] = []
    doubtful: list[Sound] = []
    for row in lines.values():
        along = all((s.onset, s.midi % 12) in tune for s in row)
        if not along:
            own += row
        elif len(row) == 1:  # one note in common may be chance
            doubtful += row
        doubled |= along and any(s.midi < tune[s.onset, s.midi % 12] for s in row)
    if own:
        own += doubtful
    main = [s for s in own if s.role != "counter"] or own
    struck: set[int] = set()
    held: dict[int, int] = {}
    first, last = bar.end, bar.start
    for sound in main:
        low, high = max(sound.onset, bar.start), min(sound.end, bar.end)
        if sound.onset >= bar.start:
            struck.update(range(low, high, resolution // 2 if sound.note.tremolo else max(1, high - low)))
        held[sound.midi % 12] = held.get(sound.midi % 12, 0) + high - low
        first, last = min(first, low), max(last, high)
    voices = sum(8 * length >= bar.length for length in held.values())
    return Motion(strikes=len(struck), voices=voices, first=first, last=last, doubled=doubled)
