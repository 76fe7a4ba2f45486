"""The strikes of the bars that are eased: fewer, and of smaller chords, step by step."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from itertools import groupby

from reduce.arrange.desk import Desk
from reduce.arrange.figures import Strike
from reduce.arrange.line import bar_at
from reduce.model.record import replace

HALF_PACE = 2
"""The step at which a broken chord keeps its figure and goes half as quick, while other figures strike on the beats alone."""

ONE_KEY = 4
"""The step at which the left hand holds one key, whatever harmonies the bar has."""


def lightened(desk: Desk, strikes: Sequence[Strike]) -> list[Strike]:
    """The strikes with those of eased bars lighter by the bar's step.

    The steps: no chord notes under the tune; smaller chords on the beats, or a broken chord at half its pace; one strike a harmony; one
    plain key; a rest.
    """
    at_half = _at_half_pace(desk, [strike for strike in strikes if _goes_on(desk, strike)])
    out: list[Strike] = []
    for strike in strikes:
        step = desk.eased(strike.onset)
        if strike.hand == "right":
            if step == 0:
                out.append(strike)
        elif _goes_on(desk, strike):
            out += at_half.get(strike.onset, ())
        elif step < 5 and not _joined(desk, out, strike, step):
            out.append(_smaller(desk, strike, step))
    return out


def smaller_chords(desk: Desk, strikes: Sequence[Strike]) -> tuple[Strike, ...]:
    """The strikes with all chords of the left hand one key smaller than the level has them; the last bar closes with what it has."""
    most = desk.rules.level.notes_left - 1
    last = desk.bars[-1].start
    return tuple(replace(s, size=min(s.size, most)) if s.hand == "left" and s.kind == "chord" and s.onset < last else s for s in strikes)


def slower(desk: Desk, strikes: Sequence[Strike]) -> frozenset[int]:
    """The bars (positions) whose broken chord goes at half its pace."""
    onsets = [strike.onset for strike in strikes if _goes_on(desk, strike)]
    return frozenset(bisect_right(desk.bars, onset, key=lambda bar: bar.start) - 1 for onset in onsets)


def idle(desk: Desk, strikes: Sequence[Strike], lighter: Sequence[Strike]) -> frozenset[int]:
    """The eased bars (positions) whose left hand had nothing to lose: ``lighter`` are the ``strikes`` as the bars' steps have them."""
    first = lightened(replace(desk, ease={place: min(step, 1) for place, step in desk.ease.items()}), strikes)
    rows: list[dict[int, list[Strike]]] = [{}, {}]
    for row, found in zip(rows, (first, lighter), strict=True):
        for strike in found:
            row.setdefault(desk.place(strike.onset), []).append(strike)
    return frozenset(place for place, step in desk.ease.items() if step > 1 and rows[0].get(place) == rows[1].get(place))


def _goes_on(desk: Desk, strike: Strike) -> bool:
    return strike.hand == "left" and strike.kind.startswith("broken-") and desk.eased(strike.onset) == HALF_PACE


def _at_half_pace(desk: Desk, strikes: Sequence[Strike]) -> dict[int, tuple[Strike]]:
    """Every second of the strikes, by onset: in each bar and harmony the chord's keys follow each other in the figure's order."""
    out: dict[int, tuple[Strike]] = {}
    for _, group in groupby(strikes, key=lambda strike: (bar_at(desk.bars, strike.onset).start, strike.chord)):
        row = list(group)
        for place, strike in enumerate(row[::2]):
            after = row[2 * place + 1 : 2 * place + 2]
            end = after[0].end if after and after[0].onset == strike.end else strike.end
            out[strike.onset] = (replace(strike, end=end, kind=row[place].kind),)
    return out


def _joined(desk: Desk, out: list[Strike], strike: Strike, step: int) -> bool:
    """Whether a strike between those that stay was taken into the one before it, which is held on."""
    last = next((place for place in range(len(out) - 1, -1, -1) if out[place].hand == "left"), -1)
    if last < 0 or desk.eased(out[last].onset) != step:
        return False
    if step >= ONE_KEY and bar_at(desk.bars, out[last].onset) == bar_at(desk.bars, strike.onset):
        out[last] = replace(out[last], end=strike.end)
        return True
    if out[last].end < strike.onset:
        return False
    weight = desk.weight(strike.onset)
    if not (step >= 3 and out[last].chord == strike.chord and weight < 4) and not (step == 2 and weight < 2):
        return False
    out[last] = replace(out[last], end=strike.end)
    return True


def _smaller(desk: Desk, strike: Strike, step: int) -> Strike:
    """A strike that stays, with a chord one key smaller from the second step on, and one key from the fourth."""
    if step >= 2 and (desk.rules.level.at_limit_per_bar <= 1 or strike.kind not in ("chord", "inner")):
        whole = strike.kind.startswith("broken-") or strike.kind in ("inner", "tremolo")
        strike = replace(strike, size=max(1, strike.size - 1), kind="chord" if whole else strike.kind)
        if whole and desk.rules.level.at_limit_per_bar <= 1:  # the figure's rhythm goes on, on its lowest key
            strike = replace(strike, size=1, kind="bass")
        elif whole:
            strike = replace(strike, size=max(1, desk.rules.level.notes_left - 1))
    return replace(strike, size=1, kind="bass") if step >= ONE_KEY else strike
