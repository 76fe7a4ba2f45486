"""Pedal by level: with the harmony, never through staccato, never where the tune is silent."""

from __future__ import annotations

from bisect import bisect_left

from reduce.arrange.marks_place import Page
from reduce.model.decision import Decision
from reduce.model.draft import DraftMark

_SHORT = frozenset(("staccato", "staccatissimo", "spiccato"))


def pedalling(page: Page) -> tuple[list[DraftMark], list[Decision]]:
    """Pedal signs in draft ticks and one decision.  ``free`` levels get one hint at the beginning; easy ones nothing."""
    kind = page.rules.level.pedal
    if kind == "none":
        return [], []
    if kind == "free":
        return _hint(page), []
    beat = page.bars[0].meter.beat_ticks(page.score.resolution)
    least = int(page.rules.number("marks.pedal.beats-min") * beat)
    longest = int(page.rules.number("marks.pedal.joined-beats-max") * beat)
    notes = sorted((note for note in page.notes if not note.grace), key=lambda note: note.onset)
    onsets = [note.onset for note in notes]
    out: list[DraftMark] = []
    dry = 0
    for start, end in _harmonies(page, longest):
        first, last = start - page.offset, end - page.offset
        if last - first < least:
            continue
        inside = notes[bisect_left(onsets, first) : bisect_left(onsets, last)]
        if not inside or inside[0].onset > first + beat // 2:
            continue
        if any(_SHORT & set(note.articulations) for note in inside):
            dry += 1
            continue
        left = [note for note in inside if note.hand == "left"]
        if kind == "long-notes" and (len(left) != 1 or left[0].duration < least):
            continue
        if not left or max(note.onset + note.duration for note in inside) < last - beat:
            continue
        out.append(DraftMark(kind="pedal", onset=inside[0].onset, end=last))
    if not out:
        return [], []
    first_bar, last_bar = page.bar(out[0].onset + page.offset), page.bar(out[-1].end + page.offset - 1)
    how = "under long notes only" if kind == "long-notes" else "once for each harmony"
    where = page.numbers(out[0].onset + page.offset, out[-1].end + page.offset - 1)
    sentence = f"{where}: pedal {how}, because this level has no quicker changes"
    sentence += f"; none in {dry} staccato places." if dry else "."
    return out, [
        Decision(
            id="notation-pedal",
            kind="notation",
            bars=(first_bar.index, last_bar.index),
            sentence=sentence,
            onset=out[0].onset + page.offset,
            rule="marks.pedal",
            setting="level.pedal",
            measured=float(len(out)),
            unit="pedals",
        )
    ]


def _harmonies(page: Page, longest: int) -> list[tuple[int, int]]:
    """Stretches of one set of chord notes, parted at bar lines where they grow too long."""
    spans: list[tuple[int, int, frozenset[int]]] = []
    for chord in page.texture.chords:
        start, end = max(chord.start, page.start), min(chord.end, page.end)
        if start >= end:
            continue
        tones = frozenset(chord.tones)
        if spans and spans[-1][1] == start and spans[-1][2] == tones:
            spans[-1] = (spans[-1][0], end, tones)
        else:
            spans.append((start, end, tones))
    out = []
    for start, end, _ in spans:
        cuts = [bar.start for bar in page.bars if start < bar.start < end] if end - start > longest else []
        here = start
        for cut in cuts:
            if end - here > longest and cut - here >= longest // 2:
                out.append((here, cut))
                here = cut
        out.append((here, end))
    return out


def _hint(page: Page) -> list[DraftMark]:
    """The source's own pedal where it has any; else one "con Ped." at the beginning of a legato piece."""
    own = [
        DraftMark(kind="pedal", onset=mark.onset - page.offset, end=min(mark.end, page.end) - page.offset, text=mark.text)
        for mark in page.marks("pedal")
        if mark.onset >= page.start and mark.end > mark.onset
    ]
    if own:
        return own
    line = [note for note in page.notes if not note.grace]
    if not line or sum(bool(_SHORT & set(note.articulations)) for note in line) * 3 > len(line):
        return []
    tick = min(note.onset for note in line)
    return [DraftMark(kind="text", onset=tick, end=tick, text="con Ped.", hand="left")]
