"""Compound time for levels that read only simple time."""

from __future__ import annotations

from itertools import pairwise

from reduce.arrange.excerpts import stretches
from reduce.arrange.length import named_bars
from reduce.arrange.parted_bars import parted, parts_of
from reduce.arrange.rhythm_meter import choose_meter, in_the_score, rewritten
from reduce.arrange.tempo import spoken_tempo
from reduce.model.decision import Decision
from reduce.model.pitch import Pitch
from reduce.model.record import replace
from reduce.model.score import Bar, Key, Meter, Note, Score
from reduce.model.texture import Phrase, Texture
from tests.arrange import lines

BEGINNERS = ("4/4", "3/4", "2/4")


def siciliana(beats: int, count: int = 4, **changes: object) -> Score:
    """So many bars of compound time, an eighth-note two ticks, one note on every dotted quarter-note."""
    length = 2 * beats
    bars = tuple(
        Bar(index=i, number=str(i + 1), start=length * i, length=length, meter=Meter((beats,), 8), key=Key(0)) for i in range(count)
    )
    notes = tuple(
        Note(id=f"n{tick}", part=0, staff=1, voice="1", bar=tick // length, onset=tick, duration=6, pitch=Pitch("C", 0, 5), midi=72)
        for tick in range(0, length * count, 6)
    )
    return replace(Score(resolution=4, bars=bars, notes=notes), **changes)  # type: ignore[arg-type]


def test_a_bar_of_six_eighths_becomes_two_of_three() -> None:
    """Law: ticks stay, every note is in the bar that it sounds in, the first part keeps the number of the score's bar."""
    score, _ = parted(siciliana(6), (), BEGINNERS)
    assert [(bar.number, bar.start, bar.length, str(bar.meter)) for bar in score.bars[:3]] == [
        ("1", 0, 6, "3/8"), ("1b", 6, 6, "3/8"), ("2", 12, 6, "3/8"),
    ]  # fmt: skip
    assert [note.bar for note in score.notes] == list(range(8))
    assert parts_of(score.bars) == 2


def test_what_is_read_stays() -> None:
    """6/8 is read from early intermediate on; nine and twelve eighths go into the largest parts that are read."""
    assert parted(siciliana(6), (), (*BEGINNERS, "3/8", "6/8"))[0] == siciliana(6)
    assert parted(siciliana(12), (), ())[0] == siciliana(12)
    twelve, _ = parted(siciliana(12), (), (*BEGINNERS, "3/8", "6/8"))
    assert [(bar.number, str(bar.meter)) for bar in twelve.bars[:2]] == [("1", "6/8"), ("1b", "6/8")]
    nine, _ = parted(siciliana(9), (), (*BEGINNERS, "3/8", "6/8"))
    assert [bar.number for bar in nine.bars[:4]] == ["1", "1b", "1c", "2"]


def test_signs_stand_at_their_end_of_the_bar() -> None:
    plain = siciliana(6)
    first = replace(plain.bars[0], repeat_start=True, repeat_end=2, barline="light-heavy", jumps=("segno", "fine"))
    bars = parted(replace(plain, bars=(first, *plain.bars[1:])), (), BEGINNERS)[0].bars
    assert (bars[0].repeat_start, bars[0].repeat_end, bars[0].barline, bars[0].jumps) == (True, 0, "", ("segno",))
    assert (bars[1].repeat_start, bars[1].repeat_end, bars[1].barline, bars[1].jumps) == (False, 2, "light-heavy", ("fine",))


def test_an_upbeat_is_short_at_its_beginning() -> None:
    plain = siciliana(6)
    short = replace(plain.bars[0], length=8, start=4, pickup=True)
    bars = parted(replace(plain, bars=(short, *plain.bars[1:])), (), BEGINNERS)[0].bars
    assert [(bar.start, bar.length, bar.pickup) for bar in bars[:2]] == [(4, 2, True), (6, 6, False)]


def test_bars_are_named_as_in_the_score() -> None:
    """Asked for bars 2 to 3, the arranger gets the whole of bar 3."""
    bars = parted(siciliana(6), (), BEGINNERS)[0].bars
    assert named_bars("2-3", bars) == (2, 5)
    assert named_bars("2b-3", bars) == (3, 5)


def test_what_was_heard_is_told_of_the_new_bars() -> None:
    told = Decision(id="m", kind="melody", bars=(1, 2), sentence="")
    assert parted(siciliana(6), (told,), BEGINNERS)[1][0].bars == (2, 5)


def test_the_parts_are_doubled_and_the_score_s_metre_is_named() -> None:
    """Source for 6/8 as 3/4: common practice of first-year books."""
    score, _ = parted(siciliana(6), (), BEGINNERS)
    factor, decisions = choose_meter(score, lines.rules("first-year"), score.bars, (), 60.0)
    assert str(rewritten(score, factor, BEGINNERS).bars[0].meter) == "3/4"
    assert decisions[0].sentence.startswith("Written in 3/4 instead of 6/8, each bar as two (1 and 1b), every value doubled, because")


def test_no_excerpt_ends_in_the_middle_of_a_bar_of_the_score() -> None:
    """Law: where the tune does not rest on its tonic, both parts of the last bar are played."""
    score, _ = parted(siciliana(6, 24), (), BEGINNERS)
    ends = (0, 42, 102, 138, 198, 234, 288)  # ticks; a bar of the score has 12, so that every second phrase ends in the middle of one
    texture = Texture(phrases=tuple(Phrase(start=start, end=end) for start, end in pairwise(ends)))
    found = stretches(score, texture, lines.rules("first-year"))
    assert found
    assert [score.bars[item.last].number for item in found if item.last + 1 < len(score.bars) and score.bars[item.last + 1].parent] == []


def test_the_source_is_told_in_its_own_metre() -> None:
    """Law: what is said of the source is what its page has, whatever its bars have been parted into."""
    piece = lines.score("meter 2/2\nkey C major\ntempo 144\nOboe | c5:2 e5 | g5:1 |\n")
    halves, _ = parted(piece, (), ("4/4",), halves=True)
    assert [str(bar.meter) for bar in halves.bars] == ["2/4"] * 4
    assert in_the_score(halves.bars)[0] == "2/2"
    assert spoken_tempo(halves, halves.bars[0]).endswith("half = 72")
