"""What was heard in the whole piece, told for the bars that are played."""

from __future__ import annotations

import re
from collections.abc import Sequence

from reduce.arrange.arrangement import Arrangement
from reduce.model.decision import Decision
from reduce.model.record import replace
from reduce.model.score import Bar, Score

_PLACE = re.compile(r"^Bars? [^ ,:;]+(?=[,:; ])")


def told_inside(heard: Sequence[Decision], score: Score, made: Arrangement) -> tuple[Decision, ...]:
    """The decisions on what is heard, each for those of its notes that a draft may have: bars and words, without those that have none.

    An excerpt may begin or end in the middle of what was decided, and comes to rest before its last bar is over.
    """
    first, count = made.draft.first_bar, len(made.draft.bars)
    if not count or (first == 0 and count == len(score.bars)):
        return tuple(heard)
    bars, by_id = score.bars[first : first + count], score.note_by_id
    start, until = bars[0].start, made.frame.until if made.frame is not None else bars[-1].end
    out = []
    for told in heard:
        inside = [note.bar for name in told.source_notes if start <= (note := by_id[name]).onset < until]
        if inside:
            out.append(_narrowed(told, score.bars, min(inside), max(inside)))
    return tuple(out)


def _narrowed(told: Decision, bars: Sequence[Bar], first: int, last: int) -> Decision:
    """A decision told for fewer bars; the words number the bars of the score, whatever is written for one of them."""
    if (first, last) == told.bars:
        return told
    one, other = (bars[place].parent or bars[place].number for place in (first, last))
    where = f"Bar {one}" if one == other else f"Bars {one}–{other}"
    return replace(told, bars=(first, last), sentence=_PLACE.sub(where, told.sentence))
