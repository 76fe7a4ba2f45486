"""In which octave a line is played: one placement a phrase, chosen over the whole piece."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping, Sequence

from reduce.arrange.line import Tone, moved
from reduce.model.record import dataclass
from reduce.model.score import Bar

_NEVER = 10_000.0


def lowest_read(ledger_lines: int) -> int:
    """The lowest natural key (MIDI) that so many ledger lines below the treble staff hold, the space under the last one included."""
    octave, step = divmod(29 - 2 * ledger_lines, 7)  # staff places from C0; D4 hangs below the staff itself
    return 12 * (octave + 1) + (0, 2, 4, 5, 7, 9, 11)[step]


@dataclass(frozen=True, slots=True, kw_only=True)
class Compass:
    """Where a line may lie and where it lies well (MIDI), with the prices of moving it.

    ``octave`` price per octave and note away from the source, ``outside`` per semitone and note beyond the easy compass,
    ``beyond`` more for each note below ``staff_low``, the last that the level's ledger lines under the staff hold,
    ``seam`` for changing the placement where a phrase begins, ``tear`` for changing it inside a phrase,
    ``leap`` per semitone beyond an octave from one note to the next, ``wider`` per semitone by which notes that touch come to lie
    farther apart than in the source, ``near`` per note that comes closer than ``clearance`` semitones to the line in ``fence``.
    """

    lowest: int
    highest: int
    easy_low: int
    easy_high: int
    octave: float
    outside: float
    seam: float
    tear: float
    leap: float = 0.0
    wider: float = 0.0
    beyond: float = 0.0
    staff_low: int = 0
    near: float = 0.0
    clearance: int = 0
    shifts: tuple[int, ...] = (-24, -12, 0, 12, 24)


def placed(
    tones: Sequence[Tone],
    starts: set[int],
    compass: Compass,
    fence: Sequence[tuple[int, int]] | None = None,
    home: Sequence[int] | None = None,
) -> tuple[int, ...]:
    """The shift in semitones (whole octaves) of each tone, by the cheapest path through the line.

    Args:
        tones: the line, in order.
        starts: onsets (ticks) at which a new phrase begins; there the placement may change at a small price.
        compass: limits and prices.
        fence: for each tone the lowest and highest key that the neighbouring line leaves free while it sounds.
        home: for each tone the shift that is no shift: 12 where it is read an octave higher than it sounds, -12 where lower.

    Returns:
        One shift a tone; out-of-range notes that no shift mends keep the shift that comes nearest.
    """
    if not tones:
        return ()
    shifts = compass.shifts  # from each tone's own home
    states = range(len(shifts))
    best = [0.0] * len(shifts)
    back: list[list[int]] = []
    previous_end: int | None = None
    for index, tone in enumerate(tones):
        local = prices_of(tone, home[index] if home is not None else 0, compass, fence[index] if fence is not None else None)
        if previous_end is None:
            best = local
            back.append([0] * len(shifts))
        else:
            before, seam = tones[index - 1], tone.onset in starts or tone.onset > previous_end
            if compass.leap or compass.wider:
                ways = [
                    [so_far + change_price(before, tone, old, new, seam, compass) for old, so_far in zip(shifts, best, strict=True)]
                    for new in shifts
                ]
                arrive = [min(states, key=lambda f: (way[f], f != s)) for s, way in enumerate(ways)]
                best = [way[f] + price for way, f, price in zip(ways, arrive, local, strict=True)]
            else:
                change = compass.seam if seam else compass.tear
                cheapest = min(states, key=best.__getitem__)
                arrive = [cheapest if best[cheapest] + change < best[s] else s for s in states]
                best = [best[arrive[s]] + (change if arrive[s] != s else 0.0) + local[s] for s in states]
            back.append(arrive)
        previous_end = tone.end
    state = min(states, key=best.__getitem__)
    path = [state]
    for arrive in reversed(back[1:]):
        state = arrive[state]
        path.append(state)
    path.reverse()
    return tuple(shifts[s] + (home[i] if home is not None else 0) for i, s in enumerate(path))


def prices_of(tone: Tone, own: int, compass: Compass, free: tuple[int, int] | None) -> list[float]:
    """What a tone costs under each of the compass's shifts; ``own`` is its home, ``free`` what the neighbouring line leaves it."""
    prices = []
    for shift in compass.shifts:
        key = tone.midi + own + shift
        price = compass.octave * abs(shift) / 12 + (0.05 if shift < 0 else 0.0)
        if key < compass.easy_low:
            price += compass.outside * (compass.easy_low - key)
        elif key > compass.easy_high:
            price += compass.outside * (key - compass.easy_high)
        if key < compass.staff_low:
            price += compass.beyond
        if not compass.lowest <= key <= compass.highest:
            price += _NEVER + 10 * max(compass.lowest - key, key - compass.highest)
        if free is not None and not free[0] + compass.clearance <= key <= free[1] - compass.clearance:
            price += compass.near * (1 + max(free[0] + compass.clearance - key, key - free[1] + compass.clearance) / 12)
        prices.append(price)
    return prices


def change_price(before: Tone, tone: Tone, old: int, new: int, seam: bool, compass: Compass) -> float:
    """What it costs to come from one shift to another: at a ``seam``, inside a phrase, over a leap, and where a step becomes one."""
    apart = abs(tone.midi - before.midi)
    width = abs(tone.midi - before.midi + new - old)
    price = compass.leap * (width - 12) if apart and width > 12 else 0.0
    if old == new:
        return price
    wider = max(0, width - apart) if tone.onset == before.end else 0
    return price + (compass.seam if seam else compass.tear) + compass.wider * wider


def alike_again(
    tones: Sequence[Tone],
    shifts: Sequence[int],
    starts: set[int],
    bars: Sequence[Bar],
    again: Mapping[int, tuple[int, int]],
    compass: Compass,
) -> tuple[int, ...]:
    """The shifts with those of bars that come ``again`` (position: first time and distance) as they were the first time.

    A run of such bars keeps its own where that would tear a phrase or leave the compass.
    """
    rows: list[list[int]] = [[] for _ in bars]
    begins = [bar.start for bar in bars]
    for index, tone in enumerate(tones):
        rows[max(0, bisect_right(begins, tone.onset) - 1)].append(index)

    def tears(row: Sequence[int]) -> int:
        return sum(
            row[i] != row[i - 1] and tones[i].onset not in starts and tones[i].onset == tones[i - 1].end for i in range(1, len(tones))
        )

    out = tuple(shifts)
    run: list[int] = []
    for place in range(len(bars)):
        if place not in again:
            continue
        run.append(place)
        first, up = again[place]
        if again.get(place + 1) == (first + 1, up):
            continue
        wish = list(out)
        for bar in run:
            if len(rows[bar]) == len(rows[again[bar][0]]):
                for here, there in zip(rows[bar], rows[again[bar][0]], strict=True):
                    wish[here] = out[there]
        told = [i for bar in run for i in rows[bar] if len(rows[bar]) == len(rows[again[bar][0]])]
        run = []
        for tried in (wish, _breathed(tones, out, wish, told, starts)):
            inside = all(compass.lowest <= tone.midi + shift <= compass.highest for tone, shift in zip(tones, tried, strict=True))
            if tuple(tried) != out and inside and tears(tried) <= tears(out):
                out = tuple(tried)
                break
    return out


def _breathed(tones: Sequence[Tone], out: Sequence[int], wish: Sequence[int], told: Sequence[int], starts: set[int]) -> list[int]:
    """The wish of a few bars, all in one octave and most of what their breath has, for the whole breath."""
    if not told or len({wish[i] for i in told}) > 1:
        return list(wish)
    first, last = told[0], told[-1]
    while first and tones[first].onset not in starts and tones[first].onset == tones[first - 1].end:
        first -= 1
    while last + 1 < len(tones) and tones[last + 1].onset not in starts and tones[last + 1].onset == tones[last].end:
        last += 1
    if 2 * len(told) < last + 1 - first:
        return list(wish)
    return [wish[told[0]] if first <= i <= last else shift for i, shift in enumerate(out)]


def shifted(tones: Sequence[Tone], shifts: Sequence[int], decisions: Sequence[str] | None = None) -> tuple[Tone, ...]:
    """The line with each tone moved by its shift (whole octaves)."""
    return tuple(
        moved(tone, shift, shift // 12 * 7, decisions[i] if decisions else "") if shift else tone
        for i, (tone, shift) in enumerate(zip(tones, shifts, strict=True))
    )
