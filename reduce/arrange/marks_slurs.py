"""Phrase slurs for the tune: groups of bows and breaths joined where the tune itself does not break."""

from __future__ import annotations

from collections.abc import Sequence

from reduce.arrange.marks_place import Page
from reduce.model.draft import DraftMark, DraftNote

_SHORT = frozenset(("staccato", "staccatissimo", "spiccato"))


def phrase_slurs(page: Page) -> list[DraftMark]:
    """Slurs over the tune in draft ticks: never over a rest, a change of hand, a phrase's end or a staccato note, never over one note.

    A slur of the source counts where both its ends, or what they became, are in the tune.  Below the level of the setting
    ``own-groups-from-level`` all groups that touch are joined; from it on only long ones (``join-from-notes``).
    """
    line = [note for note in page.notes if note.role == "melody" and not note.grace]
    line.sort(key=lambda note: note.onset)
    place: dict[str, int] = {source: at for at, note in enumerate(line) for source in note.sources}
    slurs = _source_groups(page, line, place)
    if not slurs:
        return []
    rules = page.rules
    joining = rules.level.order < rules.whole("marks.slurs.as-written-from-level")
    easy = rules.level.order < rules.whole("marks.slurs.own-groups-from-level")
    join, longest = rules.whole("marks.slurs.join-from-notes"), rules.whole("marks.slurs.bars-max")
    ends = {phrase.end - page.offset for phrase in page.texture.phrases}
    groups: list[tuple[int, int]] = []
    for first, last in slurs:
        if groups and first <= groups[-1][1] + 1:
            before = groups[-1]
            grown = page.bar(line[last].onset + page.offset).index - page.bar(line[before[0]].onset + page.offset).index + 1
            long = before[1] - before[0] + 1 >= join and last - first + 1 >= join
            touching = first <= before[1]
            broken = not touching and _breaks(line[before[1]], line[first], ends)
            if ((joining and (easy or long)) or touching) and grown <= longest and not broken:
                groups[-1] = (before[0], max(before[1], last))
                continue
            if touching:
                first = before[1] + 1
        if last > first:
            groups.append((first, last))
    out = []
    for first, last in groups:
        start = first
        for at in range(first, last + 1):
            if at == last or _breaks(line[at], line[at + 1], ends):
                if at > start:
                    out.append(_slur(line[start], line[at]))
                start = at + 1
    return out


def _source_groups(page: Page, line: Sequence[DraftNote], place: dict[str, int]) -> list[tuple[int, int]]:
    """The source's slurs as (first, last) places in the line, sorted, none inside another."""
    onsets = {note.onset + page.offset: at for at, note in enumerate(line)}
    found = set()
    by_id = page.score.note_by_id
    for mark in page.marks("slur"):
        if len(mark.notes) < 2 or mark.part != page.part_at(mark.onset):
            continue
        first, last = place.get(mark.notes[0]), place.get(mark.notes[-1])
        if first is None and mark.notes[0] in by_id:
            first = _near(onsets, by_id[mark.notes[0]].onset, 1, page)
        if last is None and mark.notes[-1] in by_id:
            last = _near(onsets, by_id[mark.notes[-1]].onset, -1, page)
        if first is not None and last is not None and last > first:
            found.add((first, last))
    groups: list[tuple[int, int]] = []
    for first, last in sorted(found, key=lambda group: (group[0], -group[1])):
        if not groups or last > groups[-1][1]:
            groups.append((first, last))
    return groups


def _near(onsets: dict[int, int], tick: int, step: int, page: Page) -> int | None:
    """The place of the tune's note at a tick, or of the next one in a direction, at most a quarter away."""
    ticks = [other for other in onsets if 0 <= (other - tick) * step <= page.score.resolution]
    return onsets[min(ticks, key=lambda other: abs(other - tick))] if ticks else None


def _breaks(note: DraftNote, after: DraftNote, phrase_ends: set[int]) -> bool:
    if after.onset > note.onset + note.duration or note.hand != after.hand:
        return True
    if any(note.onset < end <= after.onset for end in phrase_ends):
        return True
    return bool(_SHORT & set(note.articulations))


def _slur(first: DraftNote, last: DraftNote) -> DraftMark:
    return DraftMark(kind="slur", onset=first.onset, end=last.onset + last.duration, hand=first.hand, notes=(first.id, last.id))
