"""What a lesson is made from, and small questions to a draft that every page asks."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import field
from fractions import Fraction
from functools import cached_property
from operator import itemgetter
from typing import TYPE_CHECKING, Any

from reduce.hands.report import Report
from reduce.hands.touch import HANDS
from reduce.model.draft import Draft, DraftNote, Hand
from reduce.model.record import dataclass
from reduce.model.rules import Rules
from reduce.model.score import Score
from reduce.model.texture import Chord, LocalKey
from reduce.teach.words import Words, words

if TYPE_CHECKING:
    from reduce.teach.duet import Duet


def factor_of(draft: Draft, source: Score) -> Fraction:
    """How much longer the written values of a draft are than those of its bars in the source."""
    own, there = draft.bars[-1], source.bars[-1]
    return Fraction(own.length * source.resolution, draft.resolution * there.length)


@dataclass(frozen=True, kw_only=True)
class Lesson:
    """A draft with everything that is known of it.

    ``chords`` and ``keys`` are those of the draft itself.  ``easier`` are the rules of the next easier level, or the level's own
    where there is none.  ``source`` are the draft's bars of the source, from tick 0; ``decisions`` and ``fates`` the rows of the
    log.  ``span`` the pupil's hand where it is not the level's usual one, millimetres.
    ``duet`` the teacher's part, where there is one.
    """

    draft: Draft
    chords: tuple[Chord, ...]
    keys: tuple[LocalKey, ...]
    report: Report
    rules: Rules
    easier: Rules
    words: Words
    source: Score | None = None
    facts: Mapping[str, Any] = field(default_factory=dict)
    fates: tuple[Mapping[str, Any], ...] = ()
    decisions: tuple[Mapping[str, Any], ...] = ()
    span: float | None = None
    numerals: bool = False
    duet: Duet | None = None

    @property
    def log_words(self) -> Words:
        """The words of the language that the log is written in."""
        return words("en")

    @cached_property
    def starts(self) -> tuple[int, ...]:
        return tuple(bar.start for bar in self.draft.bars)

    @cached_property
    def tune(self) -> frozenset[str]:
        """Ids of the draft notes that carry the tune, as far as the report tells."""
        return frozenset(self.facts.get("draft", {}).get("tune", ()))

    @property
    def factor(self) -> Fraction:
        """How much longer the draft's written values are than the source's: 2 where they are doubled."""
        return factor_of(self.draft, self.source) if self.source is not None and self.source.bars else Fraction(1)

    @cached_property
    def index_of(self) -> dict[str, int]:
        """Indices of the bars by printed number; the first where a number comes twice."""
        return {bar.number: k for k, bar in reversed(list(enumerate(self.draft.bars)))}

    @cached_property
    def fates_here(self) -> tuple[Mapping[str, Any], ...]:
        """The fates of the source notes that stand in the draft's bars; cues and hidden notes have no role and are nobody's music."""
        return tuple(fate for fate in self.fates if fate["bar"] in self.index_of and "role" in fate)

    @cached_property
    def ids(self) -> frozenset[str]:
        """Ids of the draft notes."""
        return frozenset(note.id for note in self.draft.notes)

    @cached_property
    def ids_hold(self) -> bool:
        """Whether the log still speaks of these draft notes: a program that edited the file may have named them anew."""
        told = {name for fate in self.fates for name in fate["draft_notes"]}
        return 2 * len(told & self.ids) > len(told)

    def bar_at(self, tick: int) -> int:
        """The index of the bar that a moment lies in."""
        return max(0, bisect_right(self.starts, tick) - 1)

    def number(self, index: int) -> str:
        """The printed number of a bar."""
        return self.draft.bars[index].number

    def bars_named(self, first: int, last: int) -> str:
        """'bar 5', 'bars 5–8', by indices, in the words' language."""
        if first == last:
            return self.words.say("place.bar", bar=self.number(first))
        return self.words.say("place.bars", first=self.number(first), last=self.number(last))

    def range_of(self, first: int, last: int) -> str:
        """'5', '5–8', by indices."""
        return self.number(first) if first == last else f"{self.number(first)}–{self.number(last)}"

    def hand(self, hand: Hand) -> tuple[DraftNote, ...]:
        """What one hand strikes, graces left out, by onset and from the lowest."""
        return self._hands[hand]

    def struck(self, hand: Hand, start: int, end: int) -> tuple[DraftNote, ...]:
        """What one hand strikes from ``start`` on and before ``end`` (ticks)."""
        row = self._hands[hand]
        return row[bisect_left(row, start, key=_onset) : bisect_left(row, end, key=_onset)]

    @cached_property
    def _hands(self) -> dict[Hand, tuple[DraftNote, ...]]:
        return {
            hand: tuple(sorted((n for n in self.draft.notes if n.hand == hand and not n.grace), key=lambda n: (n.onset, n.midi)))
            for hand in HANDS
        }

    @cached_property
    def pieces(self) -> tuple[tuple[Chord, int, int, int], ...]:
        """The chords of the draft cut at the bar lines: chord, bar index, start, end (ticks)."""
        return tuple((chord, *piece) for chord in self.chords for piece in self.by_bar(chord.start, chord.end))

    def pieces_in(self, start: int, end: int) -> Iterator[tuple[Chord, int, int, int]]:
        """Those that begin before ``end`` and stop after ``start``."""
        found = self.pieces
        for k in range(max(0, bisect_right(found, start, key=itemgetter(2)) - 1), len(found)):
            if found[k][2] >= end:
                return
            if found[k][3] > start:
                yield found[k]

    def by_bar(self, start: int, end: int) -> list[tuple[int, int, int]]:
        """A stretch of time cut at the bar lines: bar index, start, end (ticks)."""
        bars = self.draft.bars
        found = []
        for k in range(self.bar_at(start), len(bars)):
            if bars[k].start >= end:
                break
            if bars[k].end > start:
                found.append((k, max(start, bars[k].start), min(end, bars[k].end)))
        return found


def _onset(note: DraftNote) -> int:
    return note.onset


def sounding(notes: Sequence[DraftNote], start: int, end: int) -> list[DraftNote]:
    """The notes that sound between two ticks."""
    return [note for note in notes if note.onset < end and note.end > start]


def ranges(indices: Sequence[int]) -> list[tuple[int, int]]:
    """Neighbouring indices as runs (first, last)."""
    runs: list[tuple[int, int]] = []
    for index in sorted(set(indices)):
        if runs and runs[-1][1] == index - 1:
            runs[-1] = (runs[-1][0], index)
        else:
            runs.append((index, index))
    return runs
