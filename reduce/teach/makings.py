"""How the hands are made: stretches of bars in which a hand does one thing again and again, so that there is less to learn."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from reduce.hands.touch import HANDS
from reduce.model.booklet import Block, Heading, Table, Text
from reduce.model.draft import Hand
from reduce.teach.lesson import Lesson
from reduce.teach.naming import joined, symbol
from reduce.teach.patterns import Pattern, by_places, pattern, strokes
from reduce.teach.shapes import KIND, shapes, spoken

_SHAPED = ("broken-chord", "wide-chord", "again", "in-turn", "bass-and-chord")  # told by the way of their notes where that goes on
_ALONE = ("octave-lower", "octave-higher", "run-up", "run-down", "again", "moved")  # worth telling in a single bar


@dataclass(frozen=True, slots=True, kw_only=True)
class Making:
    """Neighbouring bars (indices) in which a hand does one kind of thing; ``each`` has what it does, bar by bar."""

    hand: Hand
    first: int
    last: int
    each: tuple[tuple[Pattern, ...], ...]

    @property
    def kind(self) -> str:
        return self.each[0][0].kind

    @property
    def count(self) -> int:
        """Strokes that it explains."""
        return sum(len(one.strokes) for bar in self.each for one in bar)


def makings(lesson: Lesson) -> tuple[Making, ...]:
    """The stretches that explain most, in the order of the piece."""
    shortest = lesson.rules.whole("teach.patterns.shortest")
    most = lesson.rules.whole("teach.patterns.most")
    found = [
        Making(hand=hand, first=first, last=first + len(each) - 1, each=each)
        for hand, first, each in shapes(lesson)
        if len(each) >= shortest
    ]
    shaped = {(making.hand, k) for making in found for k in range(making.first, making.last + 1)}
    for hand in HANDS:
        chain: list[tuple[int, tuple[Pattern, ...]]] = []
        for k in range(len(lesson.draft.bars) + 1):
            here = _in_bar(lesson, hand, k) if k < len(lesson.draft.bars) else ()
            if here and here[0].kind in _SHAPED and (hand, k) in shaped:
                here = ()
            if chain and (not here or here[0].kind != chain[0][1][0].kind):
                if len(chain) >= shortest or chain[0][1][0].kind in _ALONE:
                    found.append(Making(hand=hand, first=chain[0][0], last=chain[-1][0], each=tuple(one for _, one in chain)))
                chain = []
            if here:
                chain.append((k, here))
    kept = sorted(found, key=lambda making: -making.count)[:most]
    return tuple(sorted(kept, key=lambda making: (making.first, making.hand == "left")))


def what_repeats(lesson: Lesson) -> list[Block]:
    """The table of patterns; empty where nothing repeats."""
    rows = makings(lesson)
    if not rows:
        return []
    words = lesson.words
    kinds = dict.fromkeys(making.kind for making in rows)
    table = Table(
        head=tuple(words.say(f"patterns.{name}") for name in ("bars", "hand", "what", "notes")),
        rows=tuple(
            (
                lesson.range_of(making.first, making.last),
                words.say(f"hand.{making.hand}"),
                _does(lesson, making),
                _notes(lesson, making),
            )
            for making in rows
        ),
        shares=(2, 3, 8, 11),
    )
    how = []
    for kind in kinds:
        name = words.say(f"making.{kind}.{'kind' if kind == KIND else 'name'}")
        how.append(Text(text=f"{_capital(name)}: {words.say(f'making.{kind}.how')}", look="small"))
    return [Heading(text=words.say("patterns.title")), Text(text=words.say("patterns.lead")), table, *how]


def named(lesson: Lesson) -> list[Block]:
    """For the teacher: the names of the chords that the broken figures spell."""
    words = lesson.words
    rows = [
        (
            lesson.range_of(making.first, making.last),
            words.say(f"hand.{making.hand}"),
            _by_bar(lesson, making, [_symbols(lesson, bar) for bar in making.each], "–"),
        )
        for making in makings(lesson)
        if any(one.chord for bar in making.each for one in bar)
    ]
    if not rows:
        return []
    head = tuple(words.say(f"patterns.{name}") for name in ("bars", "hand", "chords"))
    return [Heading(text=words.say("patterns.answers")), Table(head=head, rows=tuple(rows), shares=(2, 3, 15))]


def _does(lesson: Lesson, making: Making) -> str:
    """What the hand does, in a few words."""
    facts = {"way": spoken(lesson, _way(making))} if making.kind == KIND else {}
    return lesson.words.say(f"making.{making.kind}.name", **facts)


def _way(making: Making) -> Sequence[int]:
    shape = making.each[0][0].facts["shape"]
    assert isinstance(shape, tuple)
    return shape


def _in_bar(lesson: Lesson, hand: Hand, k: int) -> tuple[Pattern, ...]:
    """What a hand does in one bar; a bar of several broken chords has several."""
    bar = lesson.draft.bars[k]
    row = strokes(lesson, hand, bar.start, bar.end)
    whole = pattern(lesson, row)
    if whole is None or whole.chord is None:
        return (whole,) if whole is not None and 2 * len(whole.strokes) > len(row) else ()
    parts = [pattern(lesson, strokes(lesson, hand, start, end)) for _, _, start, end in lesson.pieces_in(bar.start, bar.end)]
    chords = tuple(part for part in parts if part is not None and part.chord is not None)
    return chords if 2 * sum(len(part.strokes) for part in chords) > len(row) else ()


def _notes(lesson: Lesson, making: Making) -> str:
    """The notes, bar by bar."""
    return _by_bar(lesson, making, [list(dict.fromkeys(_shape(lesson, one) for one in bar)) for bar in making.each])


def _shape(lesson: Lesson, one: Pattern) -> str:
    words = lesson.words
    groups = [joined(group, words) for group in one.groups]
    if one.kind in ("run-up", "run-down", "wide-chord"):
        return by_places(lesson, one.strokes)
    return words.say("making.run", low=groups[0], high=groups[1]) if one.kind.startswith("five") else " + ".join(groups)


def _symbols(lesson: Lesson, bar: Sequence[Pattern]) -> list[str]:
    return list(dict.fromkeys(symbol(one.chord, lesson.words, bass=False) for one in bar if one.chord is not None))


def _by_bar(lesson: Lesson, making: Making, told: Sequence[Sequence[str]], nothing: str = "") -> str:
    """'1–2: F♯–A–C♯;  3: D–F♯–A, E–G♯–B'; ``nothing`` stands for a bar of which nothing is told."""
    runs: list[tuple[int, int, str]] = []
    for k, parts in enumerate(told, making.first):
        text = ", ".join(parts) or nothing
        if runs and runs[-1][2] == text:
            runs[-1] = (runs[-1][0], k, text)
        else:
            runs.append((k, k, text))
    return ";  ".join(f"{lesson.range_of(a, b)}: {text}" for a, b, text in runs)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
