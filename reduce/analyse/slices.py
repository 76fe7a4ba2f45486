"""The tones laid on the moments where the harmony may change."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping, Sequence

from reduce.analyse.beats import points_of
from reduce.analyse.tones import Ornament, Tone, moves_in_line, ornaments, ringing
from reduce.model.record import dataclass
from reduce.model.rules import Rules
from reduce.model.score import Bar


@dataclass(frozen=True, slots=True)
class Slice:
    """What sounds between two neighbouring points.

    ``value[pc]`` is what a chord gains by owning that pitch class: its weight as a chord note plus what it would cost as a
    foreign note (index 12 is always 0).  ``foreign`` is the cost of all of them as foreign notes.  ``beats`` is the length.
    """

    start: int
    end: int
    strength: int
    bar: int
    beats: float
    value: tuple[float, ...]
    foreign: float
    mask: int
    bass: int  # pitch class of the lowest tone, -1 in silence


@dataclass(frozen=True, slots=True)
class Weights:
    """The settings of ``harmony.foreign-notes`` (meanings there), all shares of a tone's weight."""

    foreign: Mapping[Ornament, float]
    held: float
    off_beat: float
    implied: float

    @classmethod
    def of(cls, rules: Rules) -> Weights:
        def share(name: str) -> float:
            return rules.number("harmony.foreign-notes." + name)

        foreign: dict[Ornament, float] = {
            "": share("plain"),
            "passing": share("passing"),
            "neighbour": share("neighbour"),
            "suspension": share("suspension"),
            "appoggiatura": share("appoggiatura"),
            "escape": share("escape"),
            "anticipation": share("anticipation"),
        }
        return cls(foreign, share("held"), share("off-beat"), share("implied"))


def slices_of(tones: Sequence[Tone], bars: Sequence[Bar], resolution: int, weights: Weights) -> list[Slice]:
    """Cut the piece at its beats, and off the beat where two lines move to new pitch classes together; weigh what sounds in each part.

    A tone weighs its length; off the beat less; a tone that could be an ornament less as a foreign note.  A tone that was struck in an
    earlier slice and then steps away is foreign like a suspension.  Where a broken chord has leapt away from a tone, the tone counts on
    with the ``implied`` share, for the chord and in the bass, but never against a chord.
    """
    if not tones or not bars:
        return []
    points = points_of(tones, bars, resolution)
    end = max(bars[-1].end, max(tone.end for tone in tones))
    ticks = [tick for tick in sorted(points) if tick < end]
    table = _Table(ticks, end)
    beat_of = {bar.index: bar.meter.beat_ticks(resolution) for bar in bars}
    end_of = {bar.index: bar.end for bar in bars}
    on_beat = frozenset(tick for tick, (strength, _) in points.items() if strength < 3)
    into, out = moves_in_line(tones)
    homes = [max(0, bisect_right(ticks, tone.onset) - 1) for tone in tones]
    bar_of = [points[ticks[home]][1] for home in homes]
    heard = ringing(tones, out, [end_of[bar] for bar in bar_of], [beat_of[bar] for bar in bar_of])
    kinds = ornaments(tones, on_beat, into, out)
    for tone, kind, go, home, ring in zip(tones, kinds, out, homes, heard, strict=True):
        weight = tone.weight if tone.onset == ticks[home] else weights.off_beat * tone.weight
        table.lay(tone, home, weight, weights.foreign[kind], weights.held if 0 < abs(go) <= 2 else 1.0)
        if ring > tone.end:
            table.imply(tone, home, ring, weights.implied * weight)
    return [table.slice(index, *points[tick], beat_of[points[tick][1]]) for index, tick in enumerate(ticks)]


class _Table:
    """Weights by slice and pitch class: as chord notes, as foreign notes; what sounds and what lies lowest."""

    def __init__(self, ticks: Sequence[int], end: int) -> None:
        self._ticks = [*ticks, end]
        count = len(ticks)
        self._own = [[0.0] * 12 for _ in range(count)]
        self._foreign = [[0.0] * 12 for _ in range(count)]
        self._masks = [0] * count
        self._low = [999] * count

    def lay(self, tone: Tone, home: int, weight: float, foreign: float, held: float) -> None:
        """A sounding tone from its home slice on; as a foreign note it costs the share ``foreign`` there and ``held`` later."""
        ticks = self._ticks
        onset, end, midi = tone.onset, tone.end, tone.midi
        pc = midi % 12
        bit = 1 << pc
        index, last = home, len(ticks) - 1
        while index < last and ticks[index] < end:
            start, stop = ticks[index], ticks[index + 1]
            late = onset - start
            length = (stop if stop < end else end) - (onset if late > 0 else start)
            part = weight * length
            self._own[index][pc] += part
            self._foreign[index][pc] += part * (foreign if index == home else held)
            self._masks[index] |= bit
            if midi < self._low[index] and late <= length and 2 * late <= stop - start:
                self._low[index] = midi
            index += 1

    def imply(self, tone: Tone, home: int, ring: int, weight: float) -> None:
        """A tone that rings on in the mind after its end; in the bass only one that was struck with the beat."""
        ticks = self._ticks
        pc = tone.midi % 12
        index, last = home, len(ticks) - 1
        while index < last and ticks[index] < ring:
            start, stop = max(ticks[index], tone.end), min(ticks[index + 1], ring)
            if stop > start:
                self._own[index][pc] += weight * (stop - start)
                self._masks[index] |= 1 << pc
                if tone.midi < self._low[index] and tone.onset == ticks[home]:
                    self._low[index] = tone.midi
            index += 1

    def slice(self, index: int, strength: int, bar: int, beat: int) -> Slice:
        """The slice, in beats; more than four sounding lines count by the root of their number."""
        start, end = self._ticks[index], self._ticks[index + 1]
        density = sum(self._own[index]) / (end - start)
        scale = (1.0 if density <= 4 else (4 / density) ** 0.5) / beat
        foreign = [scale * cost for cost in self._foreign[index]]
        value = tuple([scale * gain + cost for gain, cost in zip(self._own[index], foreign, strict=True)] + [0.0])
        bass = self._low[index] % 12 if self._low[index] < 999 else -1
        return Slice(start, end, strength, bar, (end - start) / beat, value, sum(foreign), self._masks[index], bass)
