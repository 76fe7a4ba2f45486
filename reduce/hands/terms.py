"""What movement is measured against, and how a hard spot is written down."""

from __future__ import annotations

from reduce.hands.clock import Clock
from reduce.hands.report import Side, Spot, SpotKind
from reduce.hands.touch import Touch
from reduce.model.draft import Draft
from reduce.model.level import Level
from reduce.model.pitch import in_key
from reduce.model.record import dataclass
from reduce.model.rules import Rules

STRAIN = "Stop at the first tension and leave it to the teacher; with pain, ask a physician."


@dataclass(frozen=True, slots=True)
class Terms:
    """What movement is measured against: the level's limits and the settings of ``rules/hands.toml``.

    ``short_bars``: how many more bars a piece may have whose bars are of two quarters, as a factor.
    ``leading``: what the raised seventh of a minor key counts of a sign.
    """

    level: Level
    span: float
    usual: float
    octave: float
    start_share: float
    least: float
    grace: float
    note_share: float
    chord_share: float
    octave_share: float
    strokes: int
    stamina: float
    clear: float
    slow: float
    short_bars: float
    leading: float

    @classmethod
    def of(cls, level: Level, rules: Rules, span_mm: float | None = None) -> Terms:
        number = rules.number
        return cls(
            level=level,
            span=span_mm if span_mm is not None else level.hand_span,
            usual=number("load.scale.hand"),
            octave=number("hands.keyboard.octave"),
            start_share=number("hands.leap.start-share"),
            least=number("hands.leap.least"),
            grace=number("hands.leap.grace"),
            note_share=number("hands.repeat.note-share"),
            chord_share=number("hands.repeat.chord-share"),
            octave_share=number("hands.repeat.octave-share"),
            strokes=rules.whole("hands.repeat.strokes"),
            stamina=number("hands.repeat.stamina"),
            clear=number("hands.overlap.clear"),
            slow=number("hands.thumb.slow"),
            short_bars=rules.numbers("length.excerpt.short-bars")[level.order - 1],
            leading=number("load.bar.leading-note"),
        )


@dataclass(frozen=True, slots=True)
class Sheet:
    """A draft and its clock."""

    draft: Draft
    clock: Clock

    def name(self, key: int, bar: int) -> str:
        """A key as it is called in the key of the bar."""
        return str(in_key(key, self.draft.bars[bar].key.fifths if self.draft.bars else 0))

    def number(self, bar: int) -> str:
        """The printed number of a bar."""
        return self.draft.bars[bar].number if self.draft.bars else ""


def spot(
    sheet: Sheet,
    touch: Touch,
    hand: Side,
    kind: SpotKind,
    sentence: str,
    *,
    size: float,
    available: float = 0.0,
    needed: float = 0.0,
    easier: str,
    caution: str = "",
) -> Spot:
    """A hard spot at a touch; sizes in millimetres, times in seconds."""
    return Spot(
        bar=touch.bar,
        number=sheet.number(touch.bar),
        onset=touch.onset,
        hand=hand,
        kind=kind,
        sentence=sentence,
        size=round(size, 1),
        available=round(available, 3),
        needed=round(needed, 3),
        easier=easier,
        caution=caution,
        notes=tuple(n.id for n in touch.notes),
    )
