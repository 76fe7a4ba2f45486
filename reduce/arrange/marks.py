"""The signs of the draft: one line of dynamics, phrase slurs, words, names, pauses, pedal."""

from __future__ import annotations

from collections.abc import Sequence

from reduce.arrange.marks_dynamics import merge_dynamics
from reduce.arrange.marks_pauses import pauses
from reduce.arrange.marks_pedal import pedalling
from reduce.arrange.marks_place import Page
from reduce.arrange.marks_slurs import phrase_slurs
from reduce.arrange.marks_words import bends, entries, rehearsal_letters, words
from reduce.model.decision import Decision
from reduce.model.draft import DraftMark, DraftNote
from reduce.model.rules import Rules
from reduce.model.score import Bar, Score
from reduce.model.texture import Texture


def merge_marks(
    score: Score, texture: Texture, notes: Sequence[DraftNote], rules: Rules, bars: Sequence[Bar]
) -> tuple[tuple[DraftMark, ...], tuple[Decision, ...]]:
    """The draft's signs, sorted, and the decisions about them.

    ``notes`` and the signs are in draft ticks (0 = the start of ``bars``); ``score``, ``texture`` and ``bars`` in the source's.
    Tempo words are not among them: they stand in the draft's tempos.
    """
    if not bars or not notes:
        return (), ()
    page = Page.of(score, texture, notes, rules, bars)
    loud, decided = merge_dynamics(page)
    pedal, more = pedalling(page)
    marks = [*rehearsal_letters(page), *loud, *words(page), *bends(page), *entries(page), *pauses(page), *phrase_slurs(page), *pedal]
    marks.sort(key=lambda mark: (mark.onset, mark.kind, mark.end, mark.text))
    return tuple(marks), (*decided, *more)
