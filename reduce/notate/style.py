"""The engraver's settings, one record for the whole of a page.

The values stand in ``rules/notation.toml`` and ``rules/page.toml`` with their sources; the defaults here are the same, so that
a draft can be written without a rule book at hand (a test holds the two together).
"""

from __future__ import annotations

from reduce.model.level import Level
from reduce.model.record import dataclass
from reduce.model.rules import Rules


@dataclass(frozen=True, slots=True, kw_only=True)
class Style:
    """How the notes are to look.  Lengths in bars or notes as named; costs have no unit and are only compared."""

    join_from: int = 3  # level order from which straight eighths are beamed across two beats
    double_dots_from: int = 5  # level order
    courtesy: bool = True
    courtesy_other_staff: bool = True
    clefs_from: int = 3  # level order from which a staff may change its clef
    clef_change: int = 90
    clef_change_inside: int = 105
    clef_notes: int = 3
    ottava_ledgers: int = 5
    ottava_notes: int = 4
    side: float = 14.0  # margins in millimetres
    top: float = 12.0
    bottom: float = 15.0
    bars_a_line: int = 0
    staff_height: float = 7.0
    level_order: int = 6
    ottava: bool = True

    @property
    def joins_eighths(self) -> bool:
        return self.level_order >= self.join_from

    @property
    def double_dots(self) -> bool:
        return self.level_order >= self.double_dots_from

    @property
    def changes_clef(self) -> bool:
        return self.level_order >= self.clefs_from


def style_of(level: Level, rules: Rules | None = None) -> Style:
    """The style for ``level``; ``rules`` (the loaded rule book) may move every value."""
    page = {"bars_a_line": level.bars_a_line, "staff_height": level.staff_height, "level_order": level.order, "ottava": level.ottava}
    if rules is None:
        return Style(**page)  # type: ignore[arg-type]
    return Style(
        join_from=rules.whole("notation.beams-by-beat.join-eighths-from"),
        double_dots_from=rules.whole("notation.values-show-the-beat.double-dots-from"),
        courtesy=rules.flag("notation.courtesy-accidentals.next-bar"),
        courtesy_other_staff=rules.flag("notation.courtesy-accidentals.other-staff"),
        clefs_from=rules.whole("notation.clefs-follow-the-music.from-level"),
        clef_change=rules.whole("notation.clefs-follow-the-music.change-cost"),
        clef_change_inside=rules.whole("notation.clefs-follow-the-music.change-inside-bar-cost"),
        clef_notes=rules.whole("notation.clefs-follow-the-music.fewest-onsets"),
        ottava_ledgers=rules.whole("notation.ottava-lines.ledger-lines"),
        ottava_notes=rules.whole("notation.ottava-lines.fewest-onsets"),
        side=rules.number("page.sheet.side-mm"),
        top=rules.number("page.sheet.top-mm"),
        bottom=rules.number("page.sheet.bottom-mm"),
        **page,  # type: ignore[arg-type]
    )
