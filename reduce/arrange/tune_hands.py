"""Which hand has the tune, note by note."""

from __future__ import annotations

from collections.abc import Sequence

from reduce.arrange.desk import Desk
from reduce.arrange.explain import Ledger
from reduce.arrange.ground import starts_after_rest
from reduce.arrange.line import Tone
from reduce.arrange.octaves import lowest_read
from reduce.arrange.one_position import Prices, shared, told, too_deep


def hands_of(desk: Desk, tune: tuple[Tone, ...], boundaries: Sequence[int], ledger: Ledger) -> tuple[bool, ...]:
    """Whether the left hand has each note of the tune: where hands that stay share it, or where it is too low for the right one's staff."""
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
