"""Bars that sound the same again have the same bass again."""

from __future__ import annotations

from dataclasses import replace

from reduce.arrange.desk import Desk, speed
from reduce.arrange.line import Tone
from reduce.arrange.same_again import bass_again
from reduce.arrange.sounding import bed
from tests.arrange import lines

PIECE = lines.score(lines.RESTATED)
TUNE, VIOLA, CELLO = (lines.line(PIECE, part) for part in range(3))


def again(*bass: Tone, tune: tuple[Tone, ...] = TUNE) -> list[tuple[str, tuple[str, ...]]]:
    texture = lines.texture(PIECE)
    sounds = bed(PIECE, texture, 0, 0, PIECE.end)
    desk = Desk(
        score=PIECE, texture=texture, rules=lines.rules("advanced"), bars=PIECE.bars, shift=0, steps=0, sounds=sounds,
        pace=speed((), PIECE.resolution),
    )  # fmt: skip
    return [(str(tone.pitch), tone.sources) for tone in bass_again(bass, tune, desk)]


def test_the_bass_is_the_same_again_a_step_higher_too() -> None:
    """Law: where tune and all else come again, so does the bass of the first time, told by the notes that sound there now."""
    wanted = [(str(tone.pitch), tone.sources) for tone in CELLO]
    assert again(CELLO[0], CELLO[1], VIOLA[2], VIOLA[3]) == wanted
    assert again(*CELLO) == wanted


def test_another_tune_keeps_its_own_bass() -> None:
    """Where the draft's tune is another one, or a note is held over the bar line, the bar stays as it is."""
    mixed = (CELLO[0], CELLO[1], VIOLA[2], CELLO[3])
    assert again(*mixed, tune=(*TUNE[:3], *TUNE[5:])) == [(str(tone.pitch), tone.sources) for tone in mixed]
    held = (CELLO[0], replace(CELLO[1], end=VIOLA[2].onset + 1), VIOLA[2], CELLO[3])
    assert again(*held) == [(str(tone.pitch), tone.sources) for tone in held]
