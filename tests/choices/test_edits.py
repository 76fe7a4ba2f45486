"""What one edit is called: a change, a removal, an addition, a slur."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from reduce.arrange.held import _untangled
from reduce.model.draft import Draft, DraftMark, DraftNote, Hand
from reduce.model.errors import UsageError
from reduce.model.pitch import spelled
from reduce.model.score import Bar, Key, Meter
from reduce.report.edits import edits

QUARTER = 12
BARS = tuple(Bar(index=k, number=str(k + 1), start=k * 4 * QUARTER, length=4 * QUARTER, meter=Meter((4,), 4), key=Key(0)) for k in range(2))


def note(name: str, onset: int, midi: int, hand: Hand = "right", length: int = 1) -> DraftNote:
    pitch = spelled("CCDDEFFGGAAB"[midi % 12], int(midi % 12 in (1, 3, 6, 8, 10)), midi // 12 - 1)
    return DraftNote(id=name, hand=hand, strand=1, onset=onset * QUARTER, duration=length * QUARTER, pitch=pitch, midi=midi)


def piece(*notes: DraftNote, marks: tuple[DraftMark, ...] = (), resolution: int = QUARTER) -> Draft:
    factor = resolution // QUARTER
    return Draft(
        resolution=resolution,
        bars=tuple(replace(bar, start=bar.start * factor, length=bar.length * factor) for bar in BARS),
        notes=tuple(replace(n, onset=n.onset * factor, duration=n.duration * factor) for n in notes),
        marks=tuple(replace(m, onset=m.onset * factor, end=m.end * factor) for m in marks),
    )


def told(before: Draft, after: Draft) -> list[tuple[str, ...]]:
    """The entries as words: action, value, bar, hand, beat, to, length."""
    return [
        (c.action, c.value, c.bars, c.hand, str(c.beat), c.to, str(c.length if c.length is not None else ""))
        for c in edits(before, after).choices
    ]


C = note("a", 0, 60)
E = note("b", 5, 64)


@pytest.mark.parametrize(
    ("after", "expected"),
    [
        ((C, E), []),
        ((note("x", 0, 62), E), [("change", "C4", "1", "right", "0", "D4", "")]),
        ((note("x", 0, 61), E), [("change", "C4", "1", "right", "0", "C#4", "")]),
        ((note("x", 0, 60, "left"), E), [("change", "C4", "1", "right", "0", "left", "")]),
        ((note("x", 0, 60, length=2), E), [("change", "C4", "1", "right", "0", "C4", "2")]),
        ((C,), [("remove", "E4", "2", "right", "1", "", "")]),
        ((C, E, note("x", 6, 67, length=2)), [("add", "G4", "2", "right", "2", "", "2")]),
        ((C, note("x", 6, 64)), [("remove", "E4", "2", "right", "1", "", ""), ("add", "E4", "2", "right", "2", "", "1")]),
    ],
    ids=["nothing", "key", "accidental", "hand", "length", "removed", "added", "moved in time"],
)
def test_one_edit_is_one_entry(after: tuple[DraftNote, ...], expected: list[tuple[str, ...]]) -> None:
    """Each kind of edit has its word; only a note moved in time needs two."""
    assert expected == told(piece(C, E), piece(*after))


def test_ids_and_resolution_do_not_matter() -> None:
    """Another program counts in other ticks and gives other ids: the same music has no edits."""
    other = (replace(C, id="q"), replace(E, id="r"))
    assert [] == told(piece(C, E), piece(*other, resolution=48))


def test_the_nearest_note_of_a_chord_is_the_one_that_moved() -> None:
    """C-E-G to C-F-G: the E has moved, the others stand."""
    chord = [note("a", 0, 60), note("b", 0, 64), note("c", 0, 67)]
    moved = [note("a", 0, 60), note("b", 0, 65), note("c", 0, 67)]
    assert [("change", "E4", "1", "right", "0", "F4", "")] == told(piece(*chord), piece(*moved))


def test_slurs_by_where_they_begin_and_end() -> None:
    """A slur is named by its first note and the quarters to its last; one drawn further is one taken away and one added."""
    row = [note(str(k), k, 60 + k) for k in range(4)]
    short = DraftMark(kind="slur", onset=0, end=2 * QUARTER, hand="right", notes=("0", "1"))
    long = replace(short, end=4 * QUARTER, notes=("0", "3"))
    assert [("slur", "yes", "1", "right", "0", "", "1")] == told(piece(*row), piece(*row, marks=(short,)))
    assert [("no-slur", "", "1", "right", "0", "", "")] == told(piece(*row, marks=(short,)), piece(*row))
    both = told(piece(*row, marks=(short,)), piece(*row, marks=(long,)))
    assert [("no-slur", "", "1", "right", "0", "", ""), ("slur", "yes", "1", "right", "0", "", "3")] == both


def test_beats_are_exact() -> None:
    """The third note of a triplet stands at 2/3 of its quarter, not near it."""
    third = replace(C, onset=8, duration=4)
    found = edits(piece(), piece(third)).choices
    assert (Fraction(2, 3), Fraction(1, 3)) == (found[0].beat, found[0].length)


def test_a_bar_number_printed_twice_cannot_be_named() -> None:
    """An edit in the second of two bars called 1 is told, not put into the first."""
    bars = (BARS[0], replace(BARS[1], number="1"))
    before, after = replace(piece(C, E), bars=bars), replace(piece(C), bars=bars)
    found = edits(before, after)
    assert () == found.choices
    assert "printed twice" in found.left_behind[0]


def test_other_bars_are_refused() -> None:
    """A copy with another metre or another number of bars is no copy of this draft."""
    with pytest.raises(UsageError, match="has 1 bars and the draft 2"):
        edits(piece(C), replace(piece(C), bars=BARS[:1]))
    with pytest.raises(UsageError, match="another length"):
        edits(piece(C), replace(piece(C), bars=(replace(BARS[0], length=36), replace(BARS[1], start=36))))


def test_shared_stems_are_untangled() -> None:
    """A held bass note that is read in one voice with what moves above it goes to a strand of its own, so that a lock does not cut it."""
    held = [note("a", 0, 48, "left", length=4), note("b", 0, 55, "left"), note("c", 1, 58, "left"), note("d", 4, 43, "left")]
    found = {n.id: (n.strand, n.duration // QUARTER) for n in _untangled(held)}
    assert {"a": (1, 4), "b": (2, 1), "c": (2, 1), "d": (1, 1)} == found
