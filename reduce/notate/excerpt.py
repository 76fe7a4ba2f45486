"""A stretch of bars of the source, for a condensed score beside an excerpt; and two files as one score."""

from __future__ import annotations

from reduce.model.record import replace
from reduce.model.score import Score
from reduce.model.texture import Lead, Texture


def excerpt(score: Score, texture: Texture, first: int, last: int) -> tuple[Score, Texture]:
    """Bars ``first`` to ``last`` (indices, both included), from tick 0.  Notes that are held in or out are cut at the edge."""
    start, end = score.bars[first].start, score.bars[last].end
    notes = tuple(
        replace(note, onset=max(note.onset, start) - start, duration=max(0, min(note.end, end) - max(note.onset, start)))
        for note in score.notes
        if note.onset < end and (note.end > start or (note.onset >= start and not note.duration))
    )
    kept = {note.id for note in notes}
    marks = tuple(
        replace(mark, onset=mark.onset - start, end=min(mark.end, end) - start)
        for mark in score.marks
        if start <= mark.onset < end and kept.issuperset(mark.notes)
    )
    before = [tempo for tempo in score.tempos if tempo.onset <= start][-1:]
    tempos = tuple(
        replace(tempo, onset=max(0, tempo.onset - start)) for tempo in (*before, *(t for t in score.tempos if start < t.onset < end))
    )
    bars = tuple(replace(bar, start=bar.start - start) for bar in score.bars[first : last + 1])

    def leads(found: tuple[Lead, ...]) -> tuple[Lead, ...]:
        return tuple(
            replace(
                lead, start=max(lead.start, start) - start, end=min(lead.end, end) - start,
                notes=tuple(name for name in lead.notes if name in kept),
            )
            for lead in found
            if lead.start < end and lead.end > start
        )  # fmt: skip

    cut = replace(score, bars=bars, notes=notes, marks=marks, tempos=tempos, strokes=())
    return cut, replace(texture, tune=leads(texture.tune), bass=leads(texture.bass), counters=leads(texture.counters))


def together(upper: bytes, lower: bytes) -> bytes:
    """Two of our files with the same bars as one score, ``upper`` above ``lower``, so that their bars stand under each other.

    Head and credits are those of ``lower``; ids stay as they are (source notes and draft notes have different ones).
    Raises ValueError where the files have not the same number of bars.
    """
    above, below = upper.decode("utf-8"), lower.decode("utf-8")
    counts = [text.partition("</part>")[0].count("<measure ") for text in (above, below)]
    if counts[0] != counts[1]:
        raise ValueError(f"{counts[0]} bars cannot stand over {counts[1]}")
    list_start, list_end, parts_start = "<part-list>\n", "</part-list>\n", "</part-list>"
    names = above.partition(list_start)[2].partition(parts_start)[0]
    body = above.partition(list_end)[2].partition("</score-partwise>")[0]
    below = below.replace(list_start, list_start + names, 1)
    return below.replace(list_end, list_end + body, 1).encode("utf-8")
