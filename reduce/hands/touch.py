"""A hand's part as it is played: one touch after another."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable
from operator import attrgetter

from reduce.hands.clock import Clock
from reduce.model.draft import Draft, DraftNote, Hand
from reduce.model.record import dataclass

SHORT = frozenset({"staccato", "staccatissimo", "spiccato"})  # articulations that let go of the key at once
_midi = attrgetter("midi")
HANDS: tuple[Hand, Hand] = ("right", "left")


@dataclass(frozen=True, slots=True, kw_only=True)
class Touch:
    """What one hand strikes at one moment, and what it still holds.

    ``keys`` struck and ``held`` are MIDI numbers from the bottom up, ``notes`` the records behind ``keys``.  ``at`` seconds from
    the start, ``next_in`` seconds to the hand's next touch (inf after the last), ``rest`` the part of it with no struck key down.
    ``joined`` tells that the hand goes on to the next touch without lifting; ``breath`` that a phrase ends here.
    """

    bar: int
    onset: int
    end: int
    keys: tuple[int, ...]
    held: tuple[int, ...]
    notes: tuple[DraftNote, ...]
    at: float
    next_in: float
    rest: float
    joined: bool
    breath: bool
    rolled: bool
    grace: bool

    @property
    def down(self) -> tuple[int, ...]:
        """All keys under the hand, struck and held."""
        return tuple(sorted({*self.keys, *self.held})) if self.held else self.keys


def touches(draft: Draft, clock: Clock) -> dict[Hand, tuple[Touch, ...]]:
    """The touches of each hand in playing order; graces are touches of their own just before their note."""
    starts = [bar.start for bar in draft.bars]
    ends: dict[Hand, set[str]] = {hand: set() for hand in HANDS}
    by_id = {note.id: note for note in draft.notes}
    for mark in draft.marks:
        if mark.kind == "slur" and len(mark.notes) > 1 and mark.notes[-1] in by_id:
            ends[by_id[mark.notes[-1]].hand].add(mark.notes[-1])
    breaths = {mark.onset for mark in draft.marks if mark.kind in ("breath", "fermata")}
    return {hand: tuple(_line([n for n in draft.notes if n.hand == hand], starts, clock, ends[hand], breaths)) for hand in HANDS}


def _line(notes: list[DraftNote], starts: list[int], clock: Clock, slur_ends: set[str], breaths: set[int]) -> Iterable[Touch]:
    """Group one hand's notes into touches."""
    groups: list[tuple[int, bool, list[DraftNote]]] = []
    full: dict[int, list[DraftNote]] = {}
    for note in notes:
        if note.grace or note.duration <= 0:
            continue
        full.setdefault(note.onset, []).append(note)
    graces: dict[int, list[DraftNote]] = {}
    for note in notes:
        if note.grace or note.duration <= 0:
            graces.setdefault(note.onset, []).append(note)
    for onset in sorted({*full, *graces}):
        groups.extend((onset, True, [note]) for note in graces.get(onset, ()))
        if onset in full:
            groups.append((onset, False, full[onset]))
    held: list[tuple[int, int]] = []  # (end, key)
    for index, (onset, grace, struck) in enumerate(groups):
        keys = (struck[0].midi,) if len(struck) == 1 else tuple(sorted({n.midi for n in struck}))
        held = held and [(end, key) for end, key in held if end > onset and key not in keys]
        end, breath, short, rolled = onset, onset in breaths, True, False
        for note in struck:
            end = end if grace else max(end, note.end)
            breath = breath or note.fermata or note.id in slur_ends
            short = short and not SHORT.isdisjoint(note.articulations)
            rolled = rolled or note.arpeggio
        following = groups[index + 1][0] if index + 1 < len(groups) else None
        at = clock.at(onset)
        next_in = clock.at(following) - at if following is not None else float("inf")
        rest = clock.at(following) - clock.at(end) if following is not None and end < following else 0.0
        ordered = struck if len(struck) == 1 else sorted({n.midi: n for n in struck}.values(), key=_midi)
        yield Touch(
            bar=max(0, bisect_right(starts, onset) - 1),
            onset=onset,
            end=end,
            keys=keys,
            held=tuple(sorted({key for _, key in held})) if held else (),
            notes=tuple(ordered),
            at=at,
            next_in=next_in,
            rest=max(0.0, rest),
            joined=following is not None and end >= following and not short and not breath,
            breath=following is None or breath,
            rolled=rolled,
            grace=grace,
        )
        if not grace:
            held.extend((n.end, n.midi) for n in struck)
