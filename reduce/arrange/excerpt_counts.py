"""What excerpts are weighed by, counted from bar to bar: music that returns, notes and leaps of the tune, repeats that are cut."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from itertools import accumulate, pairwise

from reduce.arrange.line import bar_at
from reduce.model.score import Bar, Score
from reduce.model.texture import Texture


def bars_returning(texture: Texture, bars: Sequence[Bar]) -> list[int]:
    """Running count of bars whose music is heard again, or was heard before, elsewhere in the piece."""
    again = [False] * len(bars)
    for parallel in texture.parallels:
        for start in (parallel.first, parallel.second):
            at = bar_at(bars, start).index
            while at < len(bars) and bars[at].start < start + parallel.length:
                again[at] = True
                at += 1
    if not texture.parallels:
        labels = Counter(phrase.label[:1] for phrase in texture.phrases if phrase.label)
        for phrase in texture.phrases:
            at = bar_at(bars, phrase.start).index
            while at < len(bars) and bars[at].start < phrase.end and labels[phrase.label[:1]] > 1:
                again[at] = True
                at += 1
    return [0, *accumulate(again)]


def notes_sung(texture: Texture, score: Score) -> list[int]:
    """Running count of tune notes by bar."""
    notes = [0] * len(score.bars)
    by_id = score.note_by_id
    for lead in texture.tune:
        for name in lead.notes:
            notes[by_id[name].bar] += 1
    return [0, *accumulate(notes)]


def leaps_sung(texture: Texture, score: Score, most: int) -> list[int]:
    """Running count of bars where the tune goes on by more than ``most`` staff places (a sixth is 6)."""
    found = [False] * len(score.bars)
    by_id = score.note_by_id
    for lead in texture.tune:
        for before, after in pairwise(by_id[name] for name in lead.notes):
            if before.duration and after.duration and after.onset <= before.end:
                found[after.bar] |= abs(after.pitch.diatonic - before.pitch.diatonic) >= most
    return [0, *accumulate(found)]


def bars_with_tune(texture: Texture, score: Score) -> list[bool]:
    """Whether the tune sounds in each bar; everywhere where it is not known."""
    sung = [False] * len(score.bars)
    by_id = score.note_by_id
    for lead in texture.tune:
        for name in lead.notes:
            note = by_id[name]
            place = note.bar
            while place < len(sung) and score.bars[place].start < note.end:
                sung[place] = True
                place += 1
    return sung if any(sung) else [True] * len(sung)


def whole_endings(bars: Sequence[Bar], first: int, last: int) -> bool:
    """Whether first and second endings are inside or outside together."""
    cut_before = first > 0 and bool(bars[first].endings) and bars[first].endings != (1,)
    cut_before = cut_before or (bool(bars[first].endings) and not bars[first].ending_start)
    cut_after = last + 1 < len(bars) and bool(bars[last + 1].endings) and bool(bars[last].endings)
    return not cut_before and not cut_after


def repeats_cut(bars: Sequence[Bar], first: int, last: int) -> int:
    """How many repeated sections are cut into: a sign whose partner is outside."""
    cuts = open_signs = 0
    for bar in bars[first : last + 1]:
        if bar.repeat_start:
            open_signs += 1
        if bar.repeat_end:
            if open_signs:
                open_signs -= 1
            elif first > 0 and not any(earlier.repeat_end for earlier in bars[max(0, first - 1) : first]):
                cuts += 1
    return cuts + open_signs


def section_ends(bars: Sequence[Bar]) -> frozenset[int]:
    """Bars (indices) where a section ends: at a repeat sign, at the end of the last of its endings, at a double bar."""
    found = {bar.index for bar in bars if bar.repeat_end or bar.barline in ("light-light", "light-heavy")}
    found |= {bar.index for bar in bars if bar.ending_stop and max(bar.endings, default=1) > 1}
    return frozenset(found)
