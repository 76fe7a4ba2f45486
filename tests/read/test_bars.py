"""The grid of bars: length, number, pick-ups, meter, sounding key, repeats, movements.  Elements: W3C MusicXML 4.0."""

from __future__ import annotations

from pathlib import Path

import pytest

from reduce.model.errors import UsageError
from reduce.model.score import Key, Meter, Score
from tests.read.markup import back, codes, document, n, one, r, read, start, transpose

FULL = n("c4 4")


def lengths(score: Score) -> list[tuple[str, int]]:
    return [(bar.number, bar.length // score.resolution) for bar in score.bars]


def test_marked_pickup(tmp_path: Path) -> None:
    """A short first bar that is marked as not counted is a pick-up, without a word."""
    score = one(tmp_path, "{0 implicit}" + start() + n("g4 1"), "{1}" + FULL, "{2}" + FULL)
    assert [bar.pickup for bar in score.bars] == [True, False, False]
    assert lengths(score) == [("0", 1), ("1", 4), ("2", 4)]
    assert codes(score) == []


def test_unmarked_pickup(tmp_path: Path) -> None:
    """A short first bar that is not marked is taken for a pick-up, and that is told; numbers stay as printed."""
    score = one(tmp_path, start() + n("g4 1"), FULL)
    assert [bar.pickup for bar in score.bars] == [True, False]
    assert lengths(score) == [("1", 1), ("2", 4)]
    assert codes(score) == ["pickup"]


def test_bar_cut_by_a_repeat(tmp_path: Path) -> None:
    """Two halves of one bar on either side of a repeat sign are short by right."""
    repeat = '<barline location="right"><bar-style>light-heavy</bar-style><repeat direction="backward"/></barline>'
    score = one(tmp_path, start() + FULL, n("c4 3") + repeat, n("g4 1"), FULL)
    assert [length for _, length in lengths(score)] == [4, 3, 1, 4]
    assert codes(score) == []
    assert [bar.repeat_end for bar in score.bars] == [0, 2, 0, 0]


def test_short_bar_in_the_middle(tmp_path: Path) -> None:
    """A bar that all parts cut short stays short, with a doubt."""
    score = one(tmp_path, start() + FULL, n("c4 3"), FULL)
    assert [length for _, length in lengths(score)] == [4, 3, 4]
    assert codes(score) == ["short-bar"]


def test_bar_that_no_part_fills(tmp_path: Path) -> None:
    """Where no part fills the bar and they disagree, voices are faulty and the meter counts."""
    flute = ("Flute", [start() + FULL, n("c5 3"), FULL])
    oboe = ("Oboe", [start() + FULL, n("c5 2"), FULL])
    score = read(tmp_path, document(flute, oboe))
    assert [length for _, length in lengths(score)] == [4, 4, 4]
    assert [note.onset for note in score.notes] == [0, 0, 192, 192, 384, 384]
    assert codes(score) == ["short-voices", "short-voice", "short-voice"]


def test_voice_that_does_not_fill_the_bar(tmp_path: Path) -> None:
    """The bar lasts as long as the fullest part; the other is named with its bar."""
    score = read(tmp_path, document(("Flute", [start() + FULL, FULL, FULL]), ("Oboe", [start() + FULL, n("c5 2"), FULL])))
    assert [length for _, length in lengths(score)] == [4, 4, 4]
    assert [(p.code, p.part, p.bar) for p in score.problems] == [("short-voice", "Oboe", "2")]


def test_part_that_ends_early(tmp_path: Path) -> None:
    """A part with fewer bars is silent from there on."""
    score = read(tmp_path, document(("Flute", [start() + FULL, FULL]), ("Oboe", [start() + FULL])))
    assert len(score.bars) == 2
    assert [(p.code, p.part) for p in score.problems] == [("ends-early", "Oboe")]


def test_second_voice_may_stay_partial(tmp_path: Path) -> None:
    """A second voice that sings only part of the bar is nothing to report."""
    score = one(tmp_path, start() + n("c5 4") + back("4") + n("e4 2", voice="2"))
    assert codes(score) == []


@pytest.mark.parametrize(
    ("inside", "meter", "quarters"),
    [
        ("<beats>6</beats><beat-type>8</beat-type>", Meter((6,), 8), 3),
        ("<beats>3+2</beats><beat-type>8</beat-type>", Meter((3, 2), 8), 2.5),
        ("<beats>1</beats><beat-type>4</beat-type><beats>3</beats><beat-type>8</beat-type>", Meter((2, 3), 8), 2.5),
    ],
)
def test_meters(tmp_path: Path, inside: str, meter: Meter, quarters: float) -> None:
    """Plain, additive and mixed time signatures; an empty bar is as long as its meter."""
    score = one(tmp_path, f"<attributes><divisions>2</divisions><time>{inside}</time></attributes>", '<note><rest measure="yes"/></note>')
    assert meter == score.bars[0].meter
    assert [quarters * 48] * 2 == [bar.length for bar in score.bars]


def test_symbol_of_the_meter(tmp_path: Path) -> None:
    """Common and cut time keep their sign."""
    time = '<attributes><time symbol="cut"><beats>2</beats><beat-type>2</beat-type></time></attributes>'
    assert one(tmp_path, time + n("c4 4")).bars[0].meter == Meter((2,), 2, "cut")


def test_sounding_key_of_transposing_parts(tmp_path: Path) -> None:
    """Clarinet in A without signature, horn without signature by custom, violin in three sharps: the piece is in three sharps."""
    clarinets = [(f"Clarinet in A {k}", [start(fifths=0, more=transpose(-2, -3)) + FULL]) for k in (1, 2)]
    horns = [(f"Horn in D {k}", [start(fifths=0, more=transpose(-6, -10)) + FULL]) for k in (1, 2, 3, 4)]
    timpani = ("Timpani", [start(fifths=0) + n("a2 4")])
    violin = ("Violin", [start(fifths=3) + FULL])
    score = read(tmp_path, document(*clarinets, *horns, timpani, violin))
    assert score.bars[0].key == Key(3, "")


def test_key_beyond_seven_sharps(tmp_path: Path) -> None:
    """A part in B flat written in four flats beside parts in six sharps sounds in six flats, the same key."""
    clarinet = ("Clarinet in B flat", [start(fifths=-4, more=transpose(-1, -2)) + FULL])
    score = read(tmp_path, document(clarinet))
    assert score.bars[0].key.fifths == -6


def test_key_change_in_the_middle(tmp_path: Path) -> None:
    """The new signature holds from its bar on; the mode is kept where the file gives it."""
    change = "<attributes><key><fifths>-3</fifths><mode>minor</mode></key></attributes>"
    score = one(tmp_path, start(fifths=1) + FULL, change + FULL, FULL)
    assert [Key(1), Key(-3, "minor"), Key(-3, "minor")] == [bar.key for bar in score.bars]


def test_repeats_and_endings(tmp_path: Path) -> None:
    """Repeat signs, endings with their numbers, jumps."""
    forward = '<barline location="left"><repeat direction="forward"/></barline>'
    first = '<barline location="left"><ending number="1" type="start"/></barline>'
    close = '<barline location="right"><ending number="1" type="stop"/><repeat direction="backward" times="3"/></barline>'
    second = '<barline location="left"><ending number="2" type="start"/></barline>'
    done = '<barline location="right"><bar-style>light-heavy</bar-style><ending number="2" type="discontinue"/></barline>'
    fine = '<direction><direction-type><words>Fine</words></direction-type><sound fine="yes"/></direction>'
    score = one(tmp_path, start() + FULL, forward + FULL, first + FULL, FULL + close, second + FULL + fine + done)
    assert [(bar.repeat_start, bar.repeat_end, bar.endings) for bar in score.bars] == [
        (False, 0, ()),
        (True, 0, ()),
        (False, 0, (1,)),
        (False, 3, (1,)),
        (False, 0, (2,)),
    ]
    assert [bar.ending_stop for bar in score.bars] == ["", "", "", "stop", "discontinue"]
    assert score.bars[4].jumps == ("fine",)
    assert score.bars[4].barline == "light-heavy"


def test_timewise_is_the_same_score(tmp_path: Path) -> None:
    """A timewise score gives the same records as the partwise one."""
    bars = [[start() + n("c5 4"), n("d5 4")], [start() + n("c4 4"), n("b3 4")]]
    part = read(tmp_path, document(("Flute", bars[0]), ("Oboe", bars[1])))
    listed = "".join(f'<score-part id="P{k}"><part-name>{name}</part-name></score-part>' for k, name in ((1, "Flute"), (2, "Oboe")))
    columns = "".join(
        f'<measure number="{k + 1}"><part id="P1">{bars[0][k]}</part><part id="P2">{bars[1][k]}</part></measure>' for k in (0, 1)
    )
    time = read(tmp_path, f"<score-timewise><part-list>{listed}</part-list>{columns}</score-timewise>")
    assert (part.parts, part.bars, part.notes, part.problems) == (time.parts, time.bars, time.notes, time.problems)


def test_movements(tmp_path: Path) -> None:
    """After a final barline the bars count from 1 again: two movements, to be had one by one."""
    end = '<barline location="right"><bar-style>light-heavy</bar-style></barline>'
    bars = ["{1}" + start() + FULL, "{2}" + FULL + end, "{1}" + start(meter="3/4", fifths=2) + n("d4 3"), "{2}" + n("e4 3") + end]
    whole = one(tmp_path, *bars)
    assert (len(whole.bars), codes(whole)) == (4, ["movements"])
    second = read(tmp_path, document(("Violin", bars)), movement=2)
    assert [(b.index, b.number, b.start, b.length) for b in second.bars] == [(0, "1", 0, 144), (1, "2", 144, 144)]
    assert [(str(x.pitch), x.bar, x.onset) for x in second.notes] == [("D4", 0, 0), ("E4", 1, 144)]
    assert second.bars[0].key == Key(2)
    with pytest.raises(UsageError, match="no movement 3"):
        read(tmp_path, document(("Violin", bars)), movement=3)


def test_bars_without_numbers(tmp_path: Path) -> None:
    """Missing numbers are counted."""
    text = document(("Violin", [start() + FULL, FULL])).replace(' number="1"', "").replace(' number="2"', "")
    assert [bar.number for bar in read(tmp_path, text).bars] == ["1", "2"]


def test_score_without_notes(tmp_path: Path) -> None:
    """Only rests: bars, no notes, nothing to report."""
    score = one(tmp_path, start() + r("4"), r("4"))
    assert (score.notes, len(score.bars), codes(score)) == ((), 2, [])


def test_bar_repeat_signs(tmp_path: Path) -> None:
    """An empty bar under a bar-repeat sign plays what it repeats; one that is written out stays (W3C MusicXML 4.0, measure-repeat)."""
    sign = '<attributes><measure-style><measure-repeat type="{}">{}</measure-repeat></measure-style></attributes>'
    empty = '<note><rest measure="yes"/><duration>4</duration></note>'
    score = one(
        tmp_path, start() + n("c4 1") + n("d4 3"), sign.format("start", "1") + empty, n("e4 4"), empty, sign.format("stop", "") + empty
    )
    told = [(str(x.pitch), x.bar, x.onset // 48) for x in score.notes]
    assert told == [("C4", 0, 0), ("D4", 0, 1), ("C4", 1, 4), ("D4", 1, 5), ("E4", 2, 8), ("E4", 3, 12)]
    assert len({x.id for x in score.notes}) == 6
