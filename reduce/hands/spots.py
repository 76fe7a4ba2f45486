"""The hard spots of a piece, each told once."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from reduce.hands.figures import crosses_beat
from reduce.hands.fingers import Fingered
from reduce.hands.movement import leaps, repeats, stretches, turns
from reduce.hands.overlaps import overlaps
from reduce.hands.report import BarLoad, Spot
from reduce.hands.terms import Sheet, Terms, spot
from reduce.hands.touch import Touch
from reduce.model.draft import Hand
from reduce.model.record import replace

_RUN = 2  # bars between spots of one kind that are told together
_NEAR = 6  # bars within which only the hardest is named


def hard_spots(
    sheet: Sheet, lines: dict[Hand, tuple[Fingered, ...]], terms: Terms, load: Sequence[BarLoad], dense: float
) -> tuple[tuple[Spot, ...], tuple[Spot, ...]]:
    """Everything that asks for more time, reach or attention than there is, in order, equal spots told once.

    ``dense`` is the load from which a bar counts as hard in itself.  The second answer are all places where both hands want one key.
    """
    found: list[Spot] = []
    for hand, line in lines.items():
        plain = [one for one in line if not one.touch.grace]
        row = [one.touch for one in plain]
        found.extend(stretches(sheet, row, hand, terms))
        found.extend(leaps(sheet, row, hand, terms))
        found.extend(repeats(sheet, row, hand, terms))
        found.extend(turns(sheet, plain, hand, terms))
    both = list(overlaps(sheet, [o.touch for o in lines["right"]], [o.touch for o in lines["left"]], terms))
    found.extend(both)
    found.extend(_crowded(sheet, lines, terms, load, dense))
    return told_once(found), tuple(one for one in both if one.kind == "shared-key")


def _crowded(sheet: Sheet, lines: dict[Hand, tuple[Fingered, ...]], terms: Terms, load: Sequence[BarLoad], dense: float) -> Iterator[Spot]:
    """Bars that stand out from their piece, and beats that the hands divide differently."""
    first: list[dict[Hand, list[Touch]]] = [{"right": [], "left": []} for _ in load]
    for hand, line in lines.items():
        for one in line:
            if not one.touch.grace:
                first[one.touch.bar][hand].append(one.touch)
    quarter = sheet.draft.resolution
    totals = [weighed.total for weighed in load]
    for i, (bar, weighed, rows) in enumerate(zip(sheet.draft.bars, load, first, strict=True)):
        touches = rows["right"] or rows["left"]
        if not touches:
            continue
        if terms.level.cross_rhythm != "any" and crosses_beat(rows["right"], rows["left"], bar.start, bar.meter.beat_ticks(quarter)):
            yield spot(
                sheet, touches[0], "both", "cross-rhythm", "The hands divide one beat differently",
                size=0.0, easier="Tap it hands together first, or give the left hand the plain beats",
            )  # fmt: skip
        over = [name for name, share in weighed.parts if share >= 1]
        peak = weighed.total == max(totals[max(0, i - _NEAR) : i + _NEAR + 1])
        if over and weighed.outlier and weighed.over_budget and peak and weighed.total > dense:
            yield spot(
                sheet, touches[0], "both", "dense", f"Much harder than its neighbours: {', '.join(over)} at the limit",
                size=0.0, easier="Thin the left hand here, or practise this bar first",
            )  # fmt: skip


def told_once(spots: Sequence[Spot]) -> tuple[Spot, ...]:
    """One spot a bar, hand and kind, and one for a run of neighbouring bars or equal ones: the worst, with the bars of the others."""
    worst: dict[tuple[int, str, str], Spot] = {}
    for one in spots:
        place = (one.bar, one.hand, one.kind)
        known = worst.get(place)
        if known is None or _badness(one) > _badness(known):
            worst[place] = one
    alike: dict[tuple[str, str, str], list[Spot]] = {}
    for one in sorted(worst.values(), key=lambda s: (s.onset, s.hand, s.kind)):
        alike.setdefault((one.hand, one.kind, one.sentence), []).append(one)
    runs: dict[tuple[str, str], list[list[Spot]]] = {}
    for equals in sorted(alike.values(), key=lambda spots: spots[0].onset):
        chains = runs.setdefault((equals[0].hand, equals[0].kind), [])
        if chains and equals[0].bar - max(s.bar for s in chains[-1] if s.bar <= equals[0].bar) <= _RUN:
            chains[-1].extend(equals)
        else:
            chains.append(list(equals))
    told = [_with_others(chain) for chains in runs.values() for chain in chains]
    return tuple(sorted(told, key=lambda s: (s.onset, s.hand, s.kind)))


def _with_others(chain: Sequence[Spot]) -> Spot:
    """The worst of a chain, the earlier of equals, with the numbers of the other bars."""
    main = max(chain, key=lambda s: (_badness(s), -s.onset))
    others = sorted({(s.bar, s.number) for s in chain if s.bar != main.bar})
    return replace(main, again=tuple(number for _, number in others))


def _badness(one: Spot) -> float:
    return (one.needed - one.available) / one.needed if one.needed else one.size / 1000
