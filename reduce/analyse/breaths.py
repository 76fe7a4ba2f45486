"""Where each line breathes: the moments at which the tune may change hands without breaking a phrase or leaving its octave."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from reduce.analyse.evidence import Evidence
from reduce.analyse.lines import Grid
from reduce.analyse.motifs import Events
from reduce.analyse.windows import window
from reduce.model.record import dataclass
from reduce.model.rules import Rules

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

_FAR = 9  # semitones from which two players of one line lie an octave apart, be one of them a note early or late
FEW = 2  # notes in a bar from which a line that goes with another one for a while is one with it


@dataclass(frozen=True, slots=True, kw_only=True)
class Breaths:
    """Tables [beat, stream]: ``begins`` where a phrase of the line begins in the beat, ``ends`` where one has ended before it
    (the next note of the line begins a new phrase, or none follows).  ``torn`` [beat, old, new]: the tune would leave its octave in
    mid-phrase, since both play it in different octaves, one of them perhaps not all of it, and go on or do not both breathe."""

    begins: NDArray[np.bool_]
    ends: NDArray[np.bool_]
    torn: NDArray[np.bool_]

    def during(self, first: int, stop: int) -> Breaths:
        """Those of the beats from ``first`` up to ``stop``."""
        return Breaths(begins=self.begins[first:stop], ends=self.ends[first:stop], torn=self.torn[first:stop])


def breaths(evidence: Evidence, grid: Grid, rules: Rules) -> Breaths:
    """The breaths of every line: a rest, or a long note after shorter ones (the settings of ``melody.breath``).

    Args:
        evidence: the notes of all lines, and how many of them two lines share.
        grid: the felt beats.
        rules: for the lengths, in beats, and for when two lines are one.
    """
    import numpy as np

    events, streams = evidence.events, evidence.active.shape[1]
    starts = np.array(grid.starts, dtype=np.int64)
    beat = np.maximum(np.diff(starts), 1)[events.beat]
    rest = np.append(0, events.onset[1:] - events.end[:-1]) / beat
    long = np.append(0, events.end[:-1] - events.onset[:-1]) / beat  # of the note before
    longer = long >= rules.number("melody.breath.longer") * np.append(0, long[:-1])
    fresh = events.first | (rest >= rules.number("melody.breath.rest")) | ((long >= rules.number("melody.breath.long")) & longer)
    begins = np.zeros((len(grid.bars), streams), dtype=bool)
    begins[events.beat[fresh], events.stream[fresh]] = True
    ends = _followed_by(fresh, events, starts[:-1], streams)
    return Breaths(begins=begins, ends=ends, torn=_torn(evidence, grid, rules.number("melody.doublings.share"), begins, ends))


def _torn(evidence: Evidence, grid: Grid, share: float, begins: Any, ends: Any) -> Any:
    """[beat, old, new] whether the tune would leave its octave in mid-phrase."""
    import numpy as np

    number = window(evidence.struck, grid.per_bar // 2, grid.per_bar // 2)
    quieter, busier = (of(number[:, :, None], number[:, None, :]) for of in (np.minimum, np.maximum))
    together = evidence.same >= share * np.where(quieter >= FEW, quieter, np.maximum(busier, 1))
    events, size = evidence.events, evidence.active.shape
    firsts = _keys(events.beat[::-1], events.stream[::-1], events.midi[::-1], events, size)
    lasts = _keys(events.beat, events.stream, events.midi, events, size)
    before, after = (np.abs(keys[:, :, None] - keys[:, None, :]) >= _FAR for keys in (lasts[:-1], firsts[1:]))
    torn = np.zeros(together.shape, dtype=bool)
    leaves = (together[1:] & together[:-1]) | ((together[1:] | together[:-1]) & ~(ends[1:, :, None] & begins[1:, None, :]))
    torn[1:] = leaves & before & after
    return torn


def _followed_by(fresh: Any, events: Events, starts: Any, streams: int) -> Any:
    """[beat, stream] whether the first note at or after the beat's start is fresh, or there is none."""
    import numpy as np

    span = int(max(events.onset.max(), starts[-1])) + 1
    keys = events.stream * span + events.onset
    place = np.searchsorted(keys, np.arange(streams) * span + starts[:, None])
    last = np.minimum(place, len(keys) - 1)
    none = (place == len(keys)) | (events.stream[last] != np.arange(streams))
    return none | fresh[last]


def _keys(beat: Any, stream: Any, midi: Any, events: Events, size: tuple[int, int]) -> Any:
    """[beat, stream] the key put there last, in a beat without a stroke the last one struck before it; 0 before the line begins."""
    import numpy as np

    keys, last = np.zeros(size, dtype=np.int64), np.zeros(size, dtype=np.int64)
    keys[beat, stream], last[events.beat, events.stream] = midi, events.midi
    heard = np.where(last > 0, np.arange(size[0])[:, None], 0)
    np.maximum.accumulate(heard, axis=0, out=heard)
    return np.where(keys > 0, keys, np.take_along_axis(last, heard, axis=0))
