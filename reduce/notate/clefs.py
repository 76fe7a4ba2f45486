"""Clefs that follow the music, and ottava lines: few changes, few ledger lines."""

from __future__ import annotations

from collections.abc import Sequence

from reduce.model.draft import DraftNote
from reduce.model.record import dataclass
from reduce.model.score import Bar
from reduce.notate.metre import WHOLE, beats_of
from reduce.notate.style import Style

BOTTOM = {"G": 30, "F": 18}  # lowest line of the staff: E4 and G2, in steps above C0
MIDDLE = {"G": 34, "F": 22}
LEDGER_COST = (0, 1, 4, 12, 24, 40)


@dataclass(frozen=True, slots=True)
class ClefChange:
    """From ``onset`` (ticks) on, the staff has clef ``sign`` ('G' on the second line or 'F' on the fourth)."""

    onset: int
    sign: str


@dataclass(frozen=True, slots=True)
class Ottava:
    """Notes from ``start`` to ``end`` (ticks) are printed an octave (7 steps) lower (``up``) or higher than they sound."""

    start: int
    end: int
    up: bool


def ledgers(diatonic: int, sign: str) -> int:
    """Ledger lines of a note: positive above the staff, negative below it."""
    bottom = BOTTOM[sign]
    if diatonic > bottom + 8:
        return (diatonic - bottom - 8) // 2
    if diatonic < bottom:
        return -((bottom - diatonic) // 2)
    return 0


def clef_changes(notes: Sequence[DraftNote], bars: Sequence[Bar], resolution: int, home: str, style: Style) -> list[ClefChange]:
    """The clefs of one staff: the cheapest path between treble and bass over all beats (dynamic programming).

    The price of an onset grows with the ledger lines of its outermost note, a change costs as much as several badly
    placed notes, so that no single note ever moves the clef.  ``notes``: what is printed on the staff, by onset.
    """
    if not style.changes_clef or not notes:
        return [ClefChange(0, home)]
    worst = 2 * style.clef_change // max(style.clef_notes, 1) - 1
    slots = _slots(notes, bars, resolution, worst)
    signs = ("G", "F")
    cost = {sign: 0 if sign == home else style.clef_change for sign in signs}
    back: list[dict[str, str]] = []
    for _, free, first, prices in slots:
        change = style.clef_change if first else style.clef_change_inside
        fresh, links = {}, {}
        for sign in signs:
            other = "F" if sign == "G" else "G"
            stay, move = cost[sign], cost[other] + change if free else 1 << 60
            links[sign] = sign if stay <= move else other
            fresh[sign] = min(stay, move) + prices[sign]
        back.append(links)
        cost = fresh
    sign = home if cost[home] <= cost["F" if home == "G" else "G"] else ("F" if home == "G" else "G")
    path = []
    for slot, links in zip(reversed(slots), reversed(back), strict=True):
        path.append((slot[0], sign))
        sign = links[sign]
    path.reverse()
    first_sign = path[0][1]
    found = [ClefChange(0, first_sign)]
    for onset, sign in path:
        if sign != found[-1].sign:
            found.append(ClefChange(onset, sign))
    return found


def _slots(notes: Sequence[DraftNote], bars: Sequence[Bar], resolution: int, worst: int) -> list[tuple[int, bool, bool, dict[str, int]]]:
    """The beats at which something is struck: (onset, no note is held across, at a bar line, price by clef)."""
    found: list[tuple[int, bool, bool, dict[str, int]]] = []
    by_place: dict[int, tuple[int, int]] = {}
    whole = 4 * resolution
    k, reach = 0, 0
    for bar in bars:
        beats = [bar.start + beat * whole // WHOLE for beat in beats_of(bar.meter)[:-1]]
        beats = [beat for beat in beats if beat < bar.end]
        for start, end in zip(beats, [*beats[1:], bar.end], strict=True):
            if k >= len(notes) or notes[k].onset >= end:
                continue
            free = reach <= start
            prices = {"G": 0, "F": 0}
            while k < len(notes) and notes[k].onset < end:
                onset = notes[k].onset
                worst_g = worst_f = 0
                while k < len(notes) and notes[k].onset == onset:
                    reach = max(reach, notes[k].end)
                    place = notes[k].pitch.diatonic
                    known = by_place.get(place)
                    if known is None:
                        known = by_place[place] = (_ledger_price(place, "G", worst), _ledger_price(place, "F", worst))
                    worst_g, worst_f = max(worst_g, known[0]), max(worst_f, known[1])
                    k += 1
                prices["G"] += worst_g
                prices["F"] += worst_f
            found.append((start, free, start == bar.start, prices))
    return found


def _ledger_price(place: int, sign: str, worst: int) -> int:
    lines = abs(ledgers(place, sign))
    return min(LEDGER_COST[lines], worst) if lines < len(LEDGER_COST) else worst


def ottavas(notes: Sequence[DraftNote], changes: Sequence[ClefChange], style: Style) -> list[Ottava]:
    """Where an octave line spares the eye: runs of at least ``style.ottava_notes`` onsets beyond ``style.ottava_ledgers``.

    A run goes on over notes that would still stand within the staff when moved, and ends with the last far one.
    """
    if not style.ottava or not notes:
        return []
    found: list[Ottava] = []
    onsets = [(*onset, sign_at(changes, onset[0])) for onset in _onsets(notes)]
    for up, clef in ((True, "G"), (False, "F")):
        run: list[tuple[int, int, bool]] = []  # onset, end, far
        reach = 0
        for onset, end, low, high, sign in onsets:
            outer = high if up else low
            inner = low if up else high
            lines = ledgers(outer, sign) if up else -ledgers(outer, sign)
            far = sign == clef and lines >= style.ottava_ledgers
            fits = sign == clef and (inner - 7 >= BOTTOM[sign] if up else inner + 7 <= BOTTOM[sign] + 8)
            near = fits and lines >= max(1, style.ottava_ledgers - 3)
            if fits and (far or (near and run)) and (run or reach <= onset):
                run.append((onset, end, far))
            else:
                found += _line(run, up, style)
                run = [(onset, end, far)] if fits and far and reach <= onset else []
            reach = max(reach, end)
        found += _line(run, up, style)
    return sorted(found, key=lambda line: line.start)


def _onsets(notes: Sequence[DraftNote]) -> list[tuple[int, int, int, int]]:
    found: list[tuple[int, int, int, int]] = []
    for note in notes:
        place = note.pitch.diatonic
        if found and found[-1][0] == note.onset:
            onset, end, low, high = found[-1]
            found[-1] = (onset, max(end, note.end), min(low, place), max(high, place))
        else:
            found.append((note.onset, note.end, place, place))
    return found


def _line(run: list[tuple[int, int, bool]], up: bool, style: Style) -> list[Ottava]:
    while run and not run[-1][2]:
        run = run[:-1]
    if sum(far for _, _, far in run) < style.ottava_notes:
        return []
    return [Ottava(run[0][0], max(end for _, end, _ in run), up)]


def sign_at(changes: Sequence[ClefChange], onset: int) -> str:
    """The clef in force at ``onset``."""
    sign = changes[0].sign
    for change in changes:
        if change.onset > onset:
            break
        sign = change.sign
    return sign
