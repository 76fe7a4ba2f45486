"""Several movements in one file: where each begins, and one of them taken out."""

from __future__ import annotations

from itertools import pairwise

from reduce.model.errors import UsageError
from reduce.model.record import replace
from reduce.model.score import Bar, Score
from reduce.read.findings import Findings


def movement_starts(bars: tuple[Bar, ...]) -> list[int]:
    """Indices of the bars that begin a movement: after a final barline the bars are counted from the beginning again."""
    starts = [0]
    for before, bar in pairwise(bars):
        closed = before.barline == "light-heavy" and not before.repeat_end
        if closed and bar.number in ("0", "1") and before.number.isdecimal() and int(before.number) > int(bar.number):
            starts.append(bar.index)
    return starts


def choose_movement(score: Score, movement: int | None, findings: Findings) -> Score:
    """The ``movement`` (from 1) of a score in several, or all of it where None is asked for.

    Raises UsageError where there is no such movement.
    """
    starts = movement_starts(score.bars)
    if movement is None:
        if len(starts) > 1:
            findings.add(
                "doubt", "movements", f"The file holds {len(starts)} movements; all were read. Name one by its number to take it alone."
            )
        return score
    if not 1 <= movement <= len(starts):
        raise UsageError(f"The score holds {len(starts)} movement{'s' if len(starts) > 1 else ''}; there is no movement {movement}.")
    if len(starts) == 1:
        return score
    return cut(score, starts[movement - 1], (*starts, len(score.bars))[movement])


def cut(score: Score, first: int, stop: int) -> Score:
    """The bars from index ``first`` up to ``stop`` as a score of their own, at tick 0."""
    bars = score.bars[first:stop]
    start, end = bars[0].start, bars[-1].end
    notes = tuple(replace(n, bar=n.bar - first, onset=n.onset - start) for n in score.notes if first <= n.bar < stop)
    kept = {note.id for note in notes}
    before = [t for t in score.tempos if t.onset <= start][-1:]
    return replace(
        score,
        bars=tuple(replace(bar, index=bar.index - first, start=bar.start - start) for bar in bars),
        notes=notes,
        strokes=tuple(replace(s, bar=s.bar - first, onset=s.onset - start) for s in score.strokes if first <= s.bar < stop),
        marks=tuple(
            replace(m, bar=m.bar - first, onset=m.onset - start, end=min(m.end, end) - start)
            for m in score.marks
            if first <= m.bar < stop and kept.issuperset(m.notes)
        ),
        tempos=tuple(replace(t, onset=max(0, t.onset - start)) for t in (*before, *score.tempos) if (t in before or start < t.onset < end)),
        parts=tuple(
            replace(part, transpositions=tuple(replace(t, onset=max(0, t.onset - start)) for t in part.transpositions if t.onset < end))
            for part in score.parts
        ),
    )
