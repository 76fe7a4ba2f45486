"""Two hands on one keyboard: keys wanted twice, thumbs in the way, hands that cross."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from reduce.hands.keyboard import centres
from reduce.hands.report import Spot
from reduce.hands.terms import Sheet, Terms, spot
from reduce.hands.touch import Touch
from reduce.model.draft import DraftNote, Hand


def overlaps(sheet: Sheet, right: Sequence[Touch], left: Sequence[Touch], terms: Terms) -> Iterator[Spot]:
    """Keys wanted by both hands, just left by the other, and hands that cross."""
    uses: list[tuple[int, Hand, Touch, DraftNote]] = []
    rows: tuple[tuple[Hand, Sequence[Touch]], ...] = (("right", right), ("left", left))
    for hand, row in rows:
        uses.extend((note.onset, hand, touch, note) for touch in row if not touch.grace for note in touch.notes)
    uses.sort(key=lambda use: (use[0], use[1]))
    last: dict[tuple[int, Hand], DraftNote] = {}  # the latest note of each hand on each key
    for onset, hand, touch, note in uses:
        other: Hand = "left" if hand == "right" else "right"
        before = last.get((note.midi, other))
        own = last.get((note.midi, hand))
        if own is None or note.end >= own.end:
            last[note.midi, hand] = note
        if before is None:
            continue
        called = sheet.name(note.midi, touch.bar)
        if before.end > onset:
            yield spot(
                sheet, touch, hand, "shared-key",
                f"Both hands strike {called}" if before.onset == onset else f"{called} is struck while the {other} hand holds it",
                size=0.0, needed=terms.clear,
                easier=f"The {other} thumb gives way: it lets go of {called} just before, or leaves it out",
            )  # fmt: skip
            continue
        free = sheet.clock.between(before.end, onset)
        # a note of twice that time can give way and is not missed
        if free < terms.clear and sheet.clock.between(before.onset, onset) < 2 * terms.clear:
            yield spot(
                sheet, touch, hand, "quick-change",
                f"{called} is struck {'at the moment' if free < 0.005 else f'{free:.2f} s after'} the {other} hand leaves it",
                size=0.0, available=free, needed=terms.clear,
                easier=f"The {other} thumb gives way early: shorten its {called}",
            )  # fmt: skip
    yield from _crossings(sheet, right, left, centres(terms.octave))


def _crossings(sheet: Sheet, right: Sequence[Touch], left: Sequence[Touch], at: Sequence[int]) -> Iterator[Spot]:
    """Places where the right hand's lowest key lies below the left hand's highest; each stretch once."""
    events = sorted(
        [(t.onset, 0, t) for t in right if not t.grace] + [(t.onset, 1, t) for t in left if not t.grace], key=lambda e: (e[0], e[1])
    )
    now: list[Touch | None] = [None, None]
    crossed = False
    for i, (onset, hand, touch) in enumerate(events):
        now[hand] = touch
        if i + 1 < len(events) and events[i + 1][0] == onset:
            continue
        r, lt = now
        apart = r is None or lt is None or r.end <= onset or lt.end <= onset or r.down[0] >= lt.down[-1]
        if not apart and not crossed and r is not None and lt is not None and r.down[0] < lt.down[-1]:
            yield spot(
                sheet, touch, "both", "crossing",
                f"The hands cross: right hand down to {sheet.name(r.down[0], touch.bar)}, left hand up to "
                f"{sheet.name(lt.down[-1], touch.bar)}",
                size=(at[lt.down[-1]] - at[r.down[0]]) / 10, available=0.0, needed=0.0,
                easier="Exchange the notes between the hands, or move one hand an octave away",
            )  # fmt: skip
        crossed = not apart
