"""What the orchestra's own accompaniment does in each bar: the measure for every figure that stands for it."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Collection, Mapping, Sequence

from reduce.arrange.sounding import Sound
from reduce.model.record import dataclass
from reduce.model.score import Bar

_TUNE = frozenset({"melody", "melody-double"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Motion:
    """One bar of the orchestra without its tune.

    ``moments`` (ticks) at which something is struck and ``sung`` those of the tune, ``voices`` different notes of the scale that sound,
    ``first``..``last`` the ticks between which anything sounds (equal: the tune is alone), ``doubled`` whether the tune is doubled in a
    lower octave.
    """

    moments: frozenset[int]
    sung: frozenset[int]
    voices: int
    first: int
    last: int
    doubled: bool

    @property
    def strikes(self) -> int:
        """How many moments something is struck at."""
        return len(self.moments)

    @property
    def silent(self) -> bool:
        """Whether the tune is alone in the bar, or doubled and nothing else."""
        return self.first >= self.last


def own_motion(sounds: Sequence[Sound], bars: Sequence[Bar], resolution: int) -> tuple[Motion, ...]:
    """The orchestra's accompaniment bar by bar.

    A line that goes with the tune in unison or octaves for the whole bar belongs to the tune, whatever it mostly does, unless it goes its
    own way in the bars beside it: then the notes in common are chance.  Drums are no notes.
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
    along = [_along(heard, tune) for heard in here]
    found = []
    for place, (bar, heard) in enumerate(zip(bars, here, strict=True)):
        beside = [along[other] for other in (place - 1, place + 1) if 0 <= other < len(bars)]
        chance = {stream for stream, goes in along[place].items() if goes and False in [row.get(stream) for row in beside]}
        chance -= {stream for stream in chance if True in [row.get(stream) for row in beside]}
        found.append(_of(bar, heard, tune, {stream for stream, goes in along[place].items() if goes} - chance, resolution))
    return tuple(found)


def _along(heard: Sequence[Sound], tune: Mapping[tuple[int, int], int]) -> dict[int, bool]:
    """For each accompanying line of a bar whether it goes with the tune, in unison or octaves, from its first note to its last."""
    out: dict[int, bool] = {}
    for sound in heard:
        if sound.role != "rhythm" and sound.role not in _TUNE:
            out[sound.stream] = out.get(sound.stream, True) and (sound.onset, sound.midi % 12) in tune
    return out


def _of(bar: Bar, heard: Sequence[Sound], tune: Mapping[tuple[int, int], int], along: Collection[int], resolution: int) -> Motion:
    """What accompanies in one bar; the lines ``along`` with the tune do not."""
    doubled = any(s.role in _TUNE and s.midi < tune.get((s.onset, s.midi % 12), 0) for s in heard)
    lines: dict[int, list[Sound]] = {}
    for sound in heard:
        if sound.role != "rhythm" and sound.role not in _TUNE:
            lines.setdefault(sound.stream, []).append(sound)
    own: list[Sound] = []
    doubtful: list[Sound] = []
    for stream, row in lines.items():
        if stream not in along:
            own += row
        elif len(row) == 1:  # one note in common may be chance
            doubtful += row
        doubled |= stream in along and any(s.midi < tune[s.onset, s.midi % 12] for s in row)
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
    sung = frozenset(s.onset for s in heard if s.role in _TUNE and s.onset >= bar.start)
    return Motion(moments=frozenset(struck), sung=sung, voices=voices, first=first, last=last, doubled=doubled)
