"""An accompaniment in the tune's own rhythm."""

from __future__ import annotations

from reduce import rulebook
from reduce.arrange.line import Tone
from reduce.arrange.own_motion import Motion
from reduce.arrange.tune_rhythm import in_its_rhythm, strokes
from reduce.model.pitch import in_key
from reduce.model.score import Bar, Key, Meter

QUARTER, BAR = 4, 8  # ticks; bars of 2/4
LONG_SHORT_SHORT = (0, 4, 6)


def bars(count: int) -> tuple[Bar, ...]:
    return tuple(Bar(index=i, number=str(i + 1), start=i * BAR, length=BAR, meter=Meter((2,), 4), key=Key()) for i in range(count))


def tune(count: int, rhythm: tuple[int, ...]) -> tuple[Tone, ...]:
    """The same rhythm (ticks in the bar) in each bar."""
    ends = (*rhythm[1:], BAR)
    return tuple(
        Tone(onset=i * BAR + start, end=i * BAR + end, midi=72, pitch=in_key(72, 0), sources=())
        for i in range(count)
        for start, end in zip(rhythm, ends, strict=True)
    )


def motion(bar: int, struck: tuple[int, ...], sung: tuple[int, ...], voices: int = 3) -> Motion:
    at = bar * BAR
    return Motion(
        moments=frozenset(at + tick for tick in struck), sung=frozenset(at + tick for tick in sung),
        voices=voices, first=at, last=at + BAR, doubled=False,
    )  # fmt: skip


def together(
    count: int, struck: tuple[int, ...], sung: tuple[int, ...], level: str = "early-intermediate", quarters: float = 72
) -> list[int]:
    """The bars that may go in the tune's rhythm, where all bars are alike."""
    own = [motion(bar, struck, sung) for bar in range(count)]
    return sorted(in_its_rhythm(own, bars(count), tune(count, sung), rulebook.load(level), QUARTER, quarters))


def test_all_move_in_one_rhythm() -> None:
    """Eight bars long-short-short in every part."""
    assert together(8, LONG_SHORT_SHORT, LONG_SHORT_SHORT) == list(range(8))


def test_a_single_phrase_is_too_short() -> None:
    """Four bars are not worth a figure of their own."""
    assert together(4, LONG_SHORT_SHORT, LONG_SHORT_SHORT) == []


def test_an_even_pulse_is_no_rhythm() -> None:
    """A hymn in plain quarters has its ordinary chords."""
    assert together(8, (0, 4), (0, 4)) == []


def test_who_strikes_between_is_not_together() -> None:
    """One stroke of the accompaniment between those of the tune, and it has a rhythm of its own."""
    assert together(8, (0, 2, 4, 6), LONG_SHORT_SHORT) == []


def test_a_rhythm_too_quick_for_the_level_is_left() -> None:
    """Eighths at 300 a minute are no left hand's at late beginner, nor any eighths in the first year (eighth pairs in one hand only)."""
    assert together(8, LONG_SHORT_SHORT, LONG_SHORT_SHORT, "late-beginner") == list(range(8))
    assert together(8, LONG_SHORT_SHORT, LONG_SHORT_SHORT, "late-beginner", 150) == []
    assert together(8, LONG_SHORT_SHORT, LONG_SHORT_SHORT, "first-year") == []


def test_one_sixteenth_beside_a_longer_value_but_no_two_in_a_row() -> None:
    """A dotted figure is struck whole; of four sixteenths the first is."""
    rules, bar = rulebook.load("intermediate"), bars(1)[0]
    assert strokes(bar, tune(1, (0, 3, 4)), rules, QUARTER, 60) == ((0, 3), (3, 4), (4, 8))
    assert [onset for onset, _ in strokes(bar, tune(1, (0, 1, 2, 3, 4)), rules, QUARTER, 60)] == [0, 4]
