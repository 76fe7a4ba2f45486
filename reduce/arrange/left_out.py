"""Why a note was left out: the one limit that decided it, found at the strikes during which it sounds."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Mapping, Sequence
from itertools import pairwise

from reduce.arrange.counted import times
from reduce.arrange.fates import Trace
from reduce.arrange.fold import Room
from reduce.arrange.strands import Refused
from reduce.model.draft import Hand
from reduce.model.record import dataclass, replace
from reduce.model.rules import Rules
from reduce.model.score import Note
from reduce.model.texture import Chord

_SOFTEST_FIRST = ("price", "fifth", "foreign", "crowd", "speed", "deep", "span", "line")  # the weakest obstacle is the one that decided


@dataclass(frozen=True, slots=True, kw_only=True)
class Why:
    """What decided that notes are left out: words for 'because ...', the rule and its setting, and the figures."""

    words: str
    rule: str
    setting: str
    measured: float | None = None
    limit: float | None = None
    unit: str = ""


class LeftOut:
    """Answers for each note that does not sound why it does not.

    Args:
        rooms: the strikes of both hands where the orchestra's own rhythm is kept; empty where one figure a section is played.
        refused: what the last sweep let go.
        chords: the harmony that the draft stands on.
        rules: the level and the settings.
        shift: semitones from source to draft.
        never: the lowest lower note (MIDI) of intervals of 0, 1, 2 ... semitones.
        pace: ticks a second at a moment.
        models: by its start a bar that is played like an earlier or later one: its end, and how many ticks and semitones below it that is.
    """

    def __init__(
        self, rooms: Sequence[Room], refused: Sequence[Refused], chords: Sequence[Chord], rules: Rules,
        shift: int, never: Sequence[int], pace: Callable[[int], float], models: Mapping[int, tuple[int, int, int]],
    ) -> None:  # fmt: skip
        self._rooms: dict[Hand, list[Room]] = {"right": [], "left": []}
        for room in rooms:
            self._rooms[room.hand].append(room)
        self._onsets: dict[Hand, list[int]] = {hand: [r.slot.onset for r in row] for hand, row in self._rooms.items()}
        self._refused = {(r.key.onset, r.key.midi % 12): r for r in refused if not r.released}
        self._chords = chords
        self._starts = [chord.start for chord in chords]
        self._rules, self._level, self._shift, self._never, self._pace = rules, rules.level, shift, never, pace
        self._written = bool(rooms)
        self._models, self._modelled = models, sorted(models)

    def why(self, trace: Trace) -> Why:
        """The limit that left out the note of a trace."""
        note = self._in_model(trace.note)
        pc = (note.midi + self._shift) % 12
        swept = self._refused.get((note.onset, pc))
        if swept is not None:
            return self._swept(swept)
        if not self._written:
            return self._figured(note.onset, pc)
        found: dict[str, tuple[Room, int]] = {}
        for hand, row in self._rooms.items():
            onsets = self._onsets[hand]
            for room in row[bisect_left(onsets, note.onset) : bisect_left(onsets, note.end)]:
                cause, amount = self._obstacle(room, pc, note.onset)
                cause = "line" if room.size < 1 else cause  # a hand that plays no chords decides nothing where the other does
                found.setdefault(cause, (room, amount))
        for cause in _SOFTEST_FIRST:
            if cause in found:
                return self._told(cause, *found[cause])
        limit = 1 / self._level.notes_per_second_both
        return Why(
            words=f"the hands strike as fast as they can without them (once in {limit:.2g} seconds)",
            rule="voicing.pace",
            setting="level.notes-per-second-both",
            measured=note.duration / self._pace(note.onset),
            limit=limit,
            unit="seconds",
        )

    def _in_model(self, note: Note) -> Note:
        """The note, or what it is in the bar whose keys its own bar has: there it was decided."""
        place = bisect_right(self._modelled, note.onset) - 1
        if place < 0:
            return note
        end, away, up = self._models[self._modelled[place]]
        return note if note.onset >= end else replace(note, onset=note.onset - away, midi=note.midi - up)

    def slower(self) -> Why:
        """Why notes that sound are not struck in their own rhythm."""
        if not self._written:
            return Why(words="the left hand plays one figure a section", rule="accompaniment.instead-of", setting="level.figures")
        least = self._rules.numbers("voicing.pace.repeat")[self._level.order - 1]
        return Why(
            words=f"the hands repeat a chord every {least:g} seconds at best and follow their own lines", rule="voicing.pace",
            setting="voicing.pace.repeat", limit=least, unit="seconds",
        )  # fmt: skip

    def _obstacle(self, room: Room, pc: int, onset: int) -> tuple[str, int]:
        """What kept a pitch class out of one strike, and a number that goes with it."""
        slot = room.slot
        if len(room.keys) >= slot.most:
            return ("crowd", len(room.keys) + 1) if slot.most >= room.size else ("speed", slot.most)
        beside = sorted({*room.keys, *(() if slot.outer is None else (slot.outer,))})
        places = [k for k in range(slot.low, slot.high + 1) if k % 12 == pc]
        near = [k for k in places if max([*beside, k]) - min([*beside, k]) <= slot.span]
        if not near:
            return "span", slot.span
        clear = [k for k in near if all(b - a > 11 or a >= self._never[b - a] for a, b in pairwise(sorted({*beside, k})))]
        if not clear:
            return "deep", near[0]
        place = bisect_right(self._starts, onset) - 1
        chord = self._chords[place] if place >= 0 else None
        if chord is not None and pc not in chord.tones:
            return "foreign", 0
        if chord is not None and (pc - chord.root) % 12 == 7:
            return "fifth", 0
        return "price", 0

    def _told(self, cause: str, room: Room, amount: int) -> Why:
        hand, seconds = room.hand, room.slot.seconds
        if cause in ("crowd", "line"):
            held, most = amount + (room.slot.outer is not None), room.size + 1
            words = f"the {hand} hand holds its {most} keys already" if most > 1 else f"the {hand} hand plays one note at a time"
            return Why(
                words=words, rule="voicing.chord-notes", setting=f"level.notes-{hand}", measured=held, limit=most, unit="keys"
            )  # fmt: skip
        if cause == "speed":
            name = "some" if amount == (1 if hand == "left" else 0) else "more"
            limit = self._rules.numbers(f"voicing.pace.{hand}-{name}")[self._level.order - 1]
            notes = "one chord note" if amount == 1 else f"{amount or 'no'} chord notes"
            return Why(
                words=f"the {hand} hand strikes too fast for more than {notes} (under {limit:g} seconds)", rule="voicing.pace",
                setting=f"voicing.pace.{hand}-{name}", measured=min(seconds, limit), limit=limit, unit="seconds",
            )  # fmt: skip
        if cause == "span":
            return Why(
                words=f"the other lines leave no key for it within the {hand} hand's {amount} semitones", rule="voicing.chord-notes",
                setting=f"level.span-{hand}", measured=amount, limit=amount, unit="semitones",
            )  # fmt: skip
        if cause == "deep":
            return Why(
                words="so deep it would lie too close to its neighbour and sound like mud", rule="voicing.low-intervals",
                setting="voicing.low-intervals.never", measured=amount, unit="MIDI number",
            )  # fmt: skip
        told = {
            "foreign": "it is not of the chord and passes quickly",
            "fifth": "the ear supplies the fifth of the chord",
            "price": "other notes already fill the chord and a fuller grip would be heavy",
        }
        name = {"foreign": "foreign", "fifth": "fifth", "price": f"note-{hand}"}[cause]
        return Why(words=told[cause], rule="voicing.chord-notes", setting=f"voicing.chord-notes.{name}")

    def _swept(self, swept: Refused) -> Why:
        hand = swept.key.hand
        rule, setting, words, unit = {
            "span": (
                "voicing.chord-notes",
                f"level.span-{hand}",
                f"the {hand} hand would span {swept.measured} semitones",
                "semitones",
            ),
            "crowd": ("voicing.chord-notes", f"level.notes-{hand}", f"the {hand} hand would hold {swept.measured} keys", "keys"),
            "reach": ("hands.keyboard", "level.hand-span", f"the {hand} hand does not reach it with the keys it holds", "semitones"),
            "deep": ("voicing.low-intervals", "voicing.low-intervals.never", "so deep it would sound like mud", "MIDI number"),
            "shared": ("voicing.chord-notes", "voicing.chord-notes.covered", "the other hand has that very key", ""),
        }[swept.why]
        limited = swept.why in ("span", "crowd")
        words += f" ({swept.limit} at most)" if limited else ""
        return Why(words=words, rule=rule, setting=setting, measured=swept.measured, limit=swept.limit, unit=unit)

    def _figured(self, onset: int, pc: int) -> Why:
        """Where one figure a section is played: a note of the chord gives way to the figure, another to the slower harmony."""
        place = bisect_right(self._starts, onset) - 1
        level = self._level
        if place >= 0 and pc in self._chords[place].tones:
            hand = f"{level.notes_left} notes of a chord at most, in a reach of {level.span_left} semitones"
            return Why(
                words=f"the left hand's figure takes {hand}", rule="accompaniment.instead-of", setting="level.notes-left",
                limit=level.notes_left, unit="keys",
            )  # fmt: skip
        return Why(
            words=f"this level changes harmony {times(level.chords_per_bar)} a bar at most",
            rule="accompaniment.instead-of", setting="level.chords-per-bar", limit=level.chords_per_bar, unit="chords a bar",
        )  # fmt: skip
