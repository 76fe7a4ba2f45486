"""Where a piece may come to rest: the tonic under a note of the tune that belongs to it."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Collection, Sequence
from itertools import pairwise

from reduce.arrange.explain import Ledger
from reduce.model.decision import Decision
from reduce.model.record import dataclass, replace
from reduce.model.score import Bar, Note, Score
from reduce.model.texture import Chord, LocalKey, Texture

_SUNG = {0: 1.0, 3: 0.85, 4: 0.85, 7: 0.7}  # worth of the tune's last note by its place over the tonic
_INVERTED = {0: 1.0, 3: 0.8, 4: 0.8, 7: 0.5}  # ... of the bass, which the last chord of a draft does not keep
_UNPREPARED = 0.6  # share left where no dominant comes before
_EARLIER = 0.8  # ... for a note that is not the tune's last over the tonic
_IN_PASSING = 0.6  # ... for a short note off the beat
_STEPPED_INTO = 0.9  # ... where the close is the first note of what comes next
_DOMINANTS = {7: ("major", "dominant-seventh"), 11: ("diminished", "half-diminished", "diminished-seventh")}


@dataclass(frozen=True, slots=True)
class Rest:
    """The tonic arrives at ``at`` and goes on until ``until`` (ticks); ``worth`` 0..1; ``close``: a dominant comes before it.

    ``elided``: the tune's last note is the first one of the next phrase.
    """

    at: int
    until: int
    worth: float
    close: bool
    elided: bool = False


class Resting:
    """The tune and the harmony of a piece, asked for places to end at."""

    def __init__(self, score: Score, texture: Texture) -> None:
        by_id = score.note_by_id
        names = (name for lead in texture.tune for name in lead.notes)
        self._tune: list[Note] = sorted((note for name in names if (note := by_id[name]).duration), key=lambda note: note.onset)
        self._onsets = [note.onset for note in self._tune]
        self._entries = {by_id[lead.notes[0]].onset for lead in texture.tune if lead.notes}
        self._chords: Sequence[Chord] = texture.chords
        self._starts = [chord.start for chord in texture.chords]
        self._keys = texture.keys
        self._begun = {later.start for phrase, later in pairwise(texture.phrases) if phrase.cadence != "half"}
        self._notes = score.notes
        self._resolution = score.resolution

    def key(self, tick: int) -> LocalKey | None:
        """The key that is heard at a moment."""
        return next((key for key in self._keys if key.start <= tick < key.end), self._keys[0] if self._keys else None)

    def rest(self, bar: Bar, limit: int, home: LocalKey | None, *, phrased: bool = True) -> Rest | None:
        """The last place in a bar where the tune may stop over the tonic of ``home``; None where there is none.

        ``limit``: the tick where a phrase ends (``phrased``) or the bar does.  What the tune has after the resting place may only be left
        where it begins something: it comes a beat later or more, or after a rest.  Where no phrase ends the best such note of
        the tune is taken, or the first note of a phrase that begins with the bar, on the tonic after its dominant (common practice: an
        elided cadence); where one ends, its last note, or an earlier one that is worth more.
        """
        if home is None:
            return None
        beat = bar.meter.beat_ticks(self._resolution)
        for place in range(bisect_left(self._starts, min(limit, bar.end)) - 1, -1, -1):
            chord = self._chords[place]
            if chord.end <= bar.start:
                return None
            at, until = max(chord.start, bar.start), min(limit, chord.end)
            if chord.root != home.tonic or not self._tonic(chord, at, until):
                continue
            if home.mode == "major" and chord.quality == "minor" and self._struck(chord.root + 3, chord.start, until):
                continue
            close = self._prepared(place)
            share = _INVERTED.get((chord.bass - chord.root) % 12, 0.0) * (1.0 if close else _UNPREPARED)
            if not close and at >= max(bar.end - beat, bar.start + 2 * beat):
                continue  # a tonic that only comes with the last of three or four beats is an upbeat
            best: Rest | None = None
            for index in range(bisect_left(self._onsets, until) - 1, -1, -1):
                note = self._tune[index]
                if note.end <= at:
                    break
                following = self._onsets[index + 1] if index + 1 < len(self._onsets) else limit
                earlier = best is not None and phrased and not self._arrived(note, min(limit, bar.end), beat)
                worth = share * _SUNG.get((note.midi - chord.root) % 12, 0.0) * (_EARLIER if earlier else 1.0)
                worth *= _IN_PASSING if note.duration < beat and (note.onset - bar.start) % beat else 1.0
                apart = following >= limit or following - note.onset >= beat or 2 * (following - note.end) >= beat
                if apart and worth > (best.worth if best is not None else 0.0):
                    best = Rest(at, min(until, following), worth, close)
                if note.onset <= at or (phrased and best is None):
                    break
            if not phrased and close and (best is None or not self._breathes(bar, best)):
                best = self._elided(chord, bar, share) or best
            if best is not None:
                return best
        return None

    @staticmethod
    def _arrived(note: Note, limit: int, beat: int) -> bool:
        """Whether a note is held for two beats, and longer than all that is left up to ``limit``: what follows only leads on."""
        return note.duration >= 2 * beat and note.duration > limit - note.end

    def _elided(self, chord: Chord, bar: Bar, share: float) -> Rest | None:
        """The rest on the first note of a phrase that begins with a bar and with the tonic, which the tune closes on; else None."""
        first = bisect_left(self._onsets, bar.start)
        if not 0 < first < len(self._onsets) or not chord.start == bar.start == self._onsets[first]:
            return None
        before, note = self._tune[first - 1 : first + 1]
        if bar.start not in self._begun or (note.midi - chord.root) % 12 or abs(note.midi - before.midi) > 12:
            return None
        until = self._onsets[first + 1] if first + 1 < len(self._onsets) else bar.end
        return Rest(bar.start, until, _STEPPED_INTO * share, close=True, elided=True)

    def _tonic(self, chord: Chord, start: int, end: int) -> bool:
        """Whether a chord is a triad between two ticks, though it may have a seventh later."""
        if chord.quality in ("major", "minor"):
            return True
        return chord.quality == "major-seventh" and not self._struck(chord.root + 11, start, end)

    def open(self, limit: int, home: LocalKey | None) -> bool:
        """Whether the music stops at ``limit`` ticks on the dominant of ``home``: a question, where it is held."""
        last = bisect_left(self._starts, limit) - 1
        return home is not None and last >= 0 and (self._chords[last].root - home.tonic) % 12 == 7

    def closes(self, bars: Sequence[Bar], sections: Collection[int] = ()) -> dict[int, Rest]:
        """Bars (indices) where the tune stops on the tonic of the piece after its dominant, and breathes, begins anew or ends a section.

        There a stretch may end too.  ``sections``: the bars (indices) that sections end with.
        """
        home = self.key(self._onsets[0]) if self._onsets else None
        found = {bar.index: rest for bar in bars if (rest := self.rest(bar, bar.end, home, phrased=False)) is not None and rest.close}
        return {at: rest for at, rest in found.items() if rest.elided or at in sections or self._breathes(bars[at], rest)}

    def _breathes(self, bar: Bar, rest: Rest) -> bool:
        """Whether the tune rests for a beat after its last note in a resting place, or another player goes on."""
        after = bisect_left(self._onsets, rest.until)
        last = self._tune[after - 1]
        following = self._onsets[after] if after < len(self._onsets) else bar.end
        return following - last.end >= bar.meter.beat_ticks(self._resolution) or following in self._entries

    def _struck(self, pitch: int, start: int, end: int) -> bool:
        """Whether a pitch class is struck between two ticks."""
        first = bisect_left(self._notes, start, key=lambda note: note.onset)
        last = bisect_left(self._notes, end, key=lambda note: note.onset)
        return any(note.midi % 12 == pitch % 12 for note in self._notes[first:last])

    def _prepared(self, place: int) -> bool:
        """Whether a dominant comes before a chord; other positions of the chord itself may stand between."""
        root = self._chords[place].root
        while place and self._chords[place].root == root and self._chords[place - 1].end == self._chords[place].start:
            place -= 1
        before = self._chords[place]
        return before.quality in _DOMINANTS.get((before.root - root) % 12, ())


def repeated(bars: Sequence[Bar]) -> list[tuple[int, int]]:
    """First and last bar (indices) of each section that a repeat sign has played again."""
    found, begun = [], 0
    for bar in bars:
        if bar.repeat_start:
            begun = bar.index
        if bar.repeat_end:
            found.append((begun, bar.index))
            begun = bar.index + 1
    return found


def at_rest(score: Score, texture: Texture, last: Bar, until: int, ledger: Ledger) -> tuple[Texture, dict[str, str]]:
    """The harmony of an excerpt that comes to rest at ``until``: its last chord stands in root position to the end of the last bar.

    Also the notes that the source begins after it, with the decision that leaves them out.
    """
    gone = [note.id for note in score.notes if until <= note.onset < last.end]
    chords = [chord for chord in texture.chords if chord.start < until]
    if not gone or not chords:
        return texture, {}
    owner = ledger.add(
        Decision(
            id="close-1",
            kind="cut",
            bars=(last.index, last.index),
            sentence=f"Bar {last.number}: nothing is played after the close, because what follows begins music that is not in this draft.",
            onset=until,
            weight="medium",
            rule="length.excerpt",
            setting="length.excerpt.rest",
            source_notes=tuple(gone),
        )
    )
    closing = replace(chords[-1], end=last.end, bass=chords[-1].root)
    after = (chord for chord in texture.chords if chord.start >= last.end)
    return replace(texture, chords=(*chords[:-1], closing, *after)), dict.fromkeys(gone, owner)


def without_signs(score: Score, until: int, end: int) -> Score:
    """The score without the signs that begin after an excerpt has come to rest at ``until``."""
    return replace(score, marks=tuple(mark for mark in score.marks if not until <= mark.onset < end)) if until < end else score
