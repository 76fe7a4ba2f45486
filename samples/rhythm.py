"""How notes are joined on the page: beams by the beat, brackets by the triplet."""

from __future__ import annotations

from collections.abc import Sequence

from lines import QUARTER, Note

BEAMS = {"e": 1, "s": 2, "t": 3}


def beams(notes: Sequence[Note], beat: int) -> dict[int, tuple[str, ...]]:
    """Beam states of each note by its tick in the bar, outermost beam first.

    Notes shorter than a quarter are joined inside a beat of ``beat`` ticks; a rest parts them.
    """
    result: dict[int, tuple[str, ...]] = {}
    group: list[tuple[int, int]] = []  # tick, number of beams
    at = 0
    for note in notes:
        count = BEAMS.get(note.value[:1], 0) if note.pitches else 0
        if group and (not count or at // beat != group[0][0] // beat):
            result |= _joined(group)
            group = []
        if count:
            group.append((at, count))
        at += note.ticks
    return result | _joined(group)


def _joined(group: list[tuple[int, int]]) -> dict[int, tuple[str, ...]]:
    if len(group) < 2:
        return {}
    counts = [count for _, count in group]
    return {at: tuple(_state(counts, place, level) for level in range(1, count + 1)) for place, (at, count) in enumerate(group)}


def _state(counts: list[int], place: int, level: int) -> str:
    before = place > 0 and counts[place - 1] >= level
    after = place + 1 < len(counts) and counts[place + 1] >= level
    if before and after:
        return "continue"
    if before or after:
        return "end" if before else "begin"
    return "backward hook" if place else "forward hook"


def tuplets(notes: Sequence[Note]) -> dict[int, str]:
    """Where triplets start and stop, by tick in the bar."""
    result: dict[int, str] = {}
    at = inside = 0
    for note in notes:
        if note.triplet:
            if not inside:
                result[at] = "start"
            inside += note.ticks
            if inside % QUARTER == 0:
                result[at] = "stop"
                inside = 0
        at += note.ticks
    return result
