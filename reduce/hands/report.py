"""What a check of a piano score finds: breaches, hard spots, load, the level."""

from __future__ import annotations

from typing import Literal

from reduce.model.record import dataclass

BreachKind = Literal[
    "span", "crowd", "range", "key", "value", "clash", "bars",  # the page or the hand forbids it
    "reach", "speed", "speed-together", "moves", "step", "voices", "black-keys", "ledger", "meter", "tempo", "rhythm", "tie",
    "cross-rhythm", "marks", "ornament", "pedal", "length", "budget",
]  # fmt: skip
SpotKind = Literal[
    "leap", "shift", "wide-arpeggio", "stretch", "repeated-note", "repeated-chord", "octaves", "shared-key", "quick-change",
    "crossing", "black-thumb", "cross-rhythm", "dense",
]  # fmt: skip
Side = Literal["right", "left", "both"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Breach:
    """A limit of the level, or of the hand, that the score goes beyond.

    ``bar`` index, ``number`` as printed, ``onset`` ticks.  ``measured`` and ``limit`` share ``unit``.  ``hard`` ones make the
    sheet wrong for its level; soft ones are for the teacher to weigh.  ``count`` places in the bar, of which this is the worst.
    """

    bar: int
    number: str
    onset: int
    hand: Side
    what: BreachKind
    sentence: str
    measured: float
    limit: float
    unit: str
    hard: bool
    notes: tuple[str, ...] = ()
    count: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """A hard spot, with the way round it.

    ``size`` millimetres that the hand has to reach or travel (0 where it is no matter of distance), ``available`` and ``needed``
    seconds (0 where it is no matter of time).  ``caution`` is not empty where a hand can be strained.  ``again`` are the printed
    numbers of other bars with the same spot.
    """

    bar: int
    number: str
    onset: int
    hand: Side
    kind: SpotKind
    sentence: str
    size: float
    available: float
    needed: float
    easier: str
    caution: str = ""
    notes: tuple[str, ...] = ()
    again: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class BarLoad:
    """How hard one bar is.

    ``parts`` are the dimensions with their share of the level's limit (1 = at the limit); ``total`` their sum of squares,
    averaged with the neighbours and halved where the bar was played before; ``weight`` the same against one fixed yardstick, so
    that drafts for different levels can be compared.  ``at_limit`` names what is near or over the limit, ``over_budget`` tells
    that there is more of it than the level allows at once, ``outlier`` that the bar stands out from its piece.
    """

    bar: int
    number: str
    total: float
    weight: float
    parts: tuple[tuple[str, float], ...]
    at_limit: tuple[str, ...]
    over_budget: bool
    outlier: bool
    familiar: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """The level that a piece belongs to: ``place`` on the line of levels (1 easiest), ``figures`` name, value, unit, place."""

    level: str
    place: float
    figures: tuple[tuple[str, float, str, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Report:
    """The whole check.  ``load`` has one entry a bar; ``cautions`` are the sentences that defer to teacher and physician."""

    level: str
    span: float
    breaches: tuple[Breach, ...]
    spots: tuple[Spot, ...]
    load: tuple[BarLoad, ...]
    median: float
    estimate: Estimate
    cautions: tuple[str, ...]

    @property
    def hard(self) -> tuple[Breach, ...]:
        return tuple(b for b in self.breaches if b.hard)

    @property
    def soft(self) -> tuple[Breach, ...]:
        return tuple(b for b in self.breaches if not b.hard)

    @property
    def playable(self) -> bool:
        """Whether no hand is asked for what it cannot do: nothing too wide, too many or on a key that is taken."""
        return not any(b.what in ("span", "crowd", "clash") or (b.what == "reach" and b.hard) for b in self.breaches)

    @property
    def weight(self) -> float:
        """Mean of the bars' weights: comparable between levels."""
        return sum(b.weight for b in self.load) / len(self.load) if self.load else 0.0
