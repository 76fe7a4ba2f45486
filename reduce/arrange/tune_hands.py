"""Where the tune is played: its octave, phrase by phrase, and its hand, note by note."""

from __future__ import annotations

from collections.abc import Sequence

from reduce.arrange.desk import Desk
from reduce.arrange.drum_alone import drum_shift, drummed, told_alone
from reduce.arrange.explain import Ledger, explained_octaves
from reduce.arrange.ground import starts_after_rest
from reduce.arrange.line import Tone
from reduce.arrange.octaves import Compass, alike_again, lowest_read, placed, shifted
from reduce.arrange.octaves_again import placed_again, told_again, twins
from reduce.arrange.one_position import Prices, shared, told, too_deep
from reduce.arrange.same_again import heard_again


def hands_of(desk: Desk, tune: tuple[Tone, ...], boundaries: Sequence[int], ledger: Ledger) -> tuple[bool, ...]:
    """Whether the left hand has each note of the tune: where hands that stay share it, where it is too low for the right one's staff,
    and where a drum plays it."""
    drums = drummed(desk, tune)
    song = iter(_song_hands(desk, tuple(tone for tone, drum in zip(tune, drums, strict=True) if not drum), boundaries, ledger))
    return tuple(drum or next(song) for drum in drums)


def _song_hands(desk: Desk, tune: tuple[Tone, ...], boundaries: Sequence[int], ledger: Ledger) -> tuple[bool, ...]:
    """As `hands_of`, of the tune without the strokes of drums."""
    rules, rule = desk.rules, "placement.shared-tune"
    if rules.level.order > rules.whole(f"{rule}.up-to-level"):
        hands = too_deep(tune, lowest_read(rules.level.ledger_max), desk.score.resolution)
        told(tune, hands, desk.bars, ledger, rules, deep=True)
        return hands
    prices = Prices(
        left=rules.number(f"{rule}.left"),
        switch=rules.number(f"{rule}.switch"),
        quick=rules.number(f"{rule}.quick"),
        quarter=desk.score.resolution,
        move=rules.number(f"{rule}.move"),
        shift=rules.number(f"{rule}.shift"),
    )
    hands = shared(tune, starts_after_rest(tune, boundaries), rules.level.hand_span, rules.level.lowest, prices)
    told(tune, hands, desk.bars, ledger, rules)
    return hands


def tune_placed(desk: Desk, tune: tuple[Tone, ...], boundaries: Sequence[int], ledger: Ledger) -> tuple[Tone, ...]:
    """The tune in the octave where it is played, phrase by phrase; a drum by itself in its own."""
    drums = drummed(desk, tune)
    song = iter(_song_placed(desk, tuple(tone for tone, drum in zip(tune, drums, strict=True) if not drum), boundaries, ledger))
    placed = tuple(
        shifted((tone,), (drum_shift(tone, desk.rules.level),))[0] if drum else next(song) for tone, drum in zip(tune, drums, strict=True)
    )
    told_alone(desk, placed, ledger)
    return placed


def _song_placed(desk: Desk, tune: tuple[Tone, ...], boundaries: Sequence[int], ledger: Ledger) -> tuple[Tone, ...]:
    """As `tune_placed`, of the tune without the strokes of drums."""
    level, rules = desk.rules.level, desk.rules
    compass = Compass(
        lowest=level.lowest,
        highest=level.highest,
        easy_low=max(level.lowest, rules.whole("placement.tune-octave.easy-low")),
        easy_high=min(level.highest, rules.whole("placement.tune-octave.easy-high")),
        octave=rules.numbers("placement.tune-octave.away")[level.order - 1],
        outside=rules.numbers("placement.tune-octave.outside")[level.order - 1],
        seam=rules.number("placement.tune-octave.seam"),
        tear=rules.number("placement.tune-octave.tear"),
        leap=rules.numbers("placement.tune-octave.leap")[level.order - 1],
        wider=rules.numbers("placement.tune-octave.wider")[level.order - 1],
        beyond=rules.numbers("placement.tune-octave.beyond")[level.order - 1],
        staff_low=lowest_read(level.ledger_max),
    )
    home = desk.homes(tune)
    starts = starts_after_rest(tune, boundaries)
    alone = placed(tune, starts, compass, home=home)
    pairs, price = twins(tune, desk.texture.parallels), rules.numbers("placement.tune-octave.again")[level.order - 1]
    shifts = placed_again(tune, alone, starts, compass, home, pairs, price)
    told = told_again(ledger, tune, alone, shifts, home, pairs, desk.bars, price)
    shifts = alike_again(tune, shifts, starts, desk.bars, heard_again(desk), compass)
    explained_octaves(ledger, "melody", "right", tune, shifts, home, desk.bars, level, told)
    return shifted(tune, shifts)
