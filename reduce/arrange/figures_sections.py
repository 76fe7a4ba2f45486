"""One figure a section: where each accompaniment begins and ends."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Collection, Mapping, Sequence

from reduce.arrange.figures_pattern import FIGURES, HOLD, REST, SPOKEN, pattern, strokes_a_second
from reduce.arrange.line import Tone
from reduce.arrange.own_motion import Motion
from reduce.arrange.tune_rhythm import FIGURE, KIND
from reduce.model.decision import Rejected
from reduce.model.record import dataclass, replace
from reduce.model.rules import Rules
from reduce.model.score import Bar, Meter
from reduce.model.texture import Figure, Phrase

_FIFTH = 7  # semitones
NOWHERE: Mapping[str, frozenset[int]] = {}
TOO_MUCH = "would have too much at the limit together"


@dataclass(frozen=True, slots=True)
class Section:
    """Bars ``first``..``last`` (positions in the kept bars) with one ``figure``; ``source`` is what the orchestra mostly does there.

    ``hers``: the arranger chose it, and what the tool would have played is among the refused.
    """

    first: int
    last: int
    figure: str
    source: str
    refused: tuple[Rejected, ...] = ()
    hers: bool = False


@dataclass(frozen=True, slots=True)
class Settled:
    """Bars ``first``..``last`` (positions) have ``figure``, because ``count`` bars would have to leave ``instead``."""

    first: int
    last: int
    figure: str
    instead: str
    count: int


def too_fast(figure: str, meter: Meter, quarters: float, share: float, rules: Rules) -> str:
    """Why a figure is too fast for one hand of this level, or ``""``; ``share`` of the level's speed is the limit."""
    speed = strokes_a_second(pattern(figure, meter, rules), meter, quarters)
    limit = rules.level.notes_per_second_one * share
    return f"it would be {speed:.1f} notes a second; the limit is {limit:.1f}" if speed > limit else ""


def too_wide(figure: str, rules: Rules) -> str:
    """Why a figure has more at the limit by itself than this level allows in a bar, or ``""``: a fifth and two keys at once."""
    level, near = rules.level, rules.number("load.bar.near-limit")
    wide, full = near * level.span_left <= _FIFTH, level.notes_left <= 2
    if figure != "open-fifth" or level.at_limit_per_bar > 1 or not (wide and full):
        return ""
    return f"a fifth and two notes at once are both at the limit (this level allows {level.at_limit_per_bar} thing at once)"


def candidates(meter: Meter, quarters: float, density: float, rules: Rules) -> tuple[dict[str, tuple[str, ...]], dict[str, str]]:
    """The level's figures that fit ``meter`` and the pace, with their shares; and those refused, with the reason."""
    share = rules.number("accompaniment.pace.one-hand-share") * density
    fit, refused = {}, {}
    for figure in rules.level.figures:
        if figure not in FIGURES:
            continue
        shares = pattern(figure, meter, rules)
        if not shares:
            refused[figure] = f"it has no form in {meter}"
        elif reason := too_fast(figure, meter, quarters, share, rules) or too_wide(figure, rules):
            refused[figure] = reason
        else:
            fit[figure] = shares
    if not fit:
        fit["held-root"] = pattern("held-root", meter, rules)
    return fit, refused


def sections(
    figures: Sequence[Figure],
    bars: Sequence[Bar],
    rules: Rules,
    *,
    quarters: float,
    density: float = 1.0,
    tune: Sequence[Tone] = (),
    phrases: Sequence[Phrase] = (),
    own: Sequence[Motion] = (),
    along: Collection[int] = (),
    unfit: Mapping[str, Collection[int]] = NOWHERE,
) -> tuple[Section, ...]:
    """The bars parted into sections of one figure each, by the cheapest path over the level's figures.

    A bar costs how far a figure is from what the table prefers for the orchestra's figure there, how far both hands together
    pass the level's pace, and how much oftener than the orchestra's accompaniment (``own``) the figure strikes; a change costs more where
    no phrase begins.  ``along``: the bars (position) that may go in the tune's rhythm; no others do.  ``unfit``: the bars that ask for too
    much at once under a figure, and would have to leave it.
    """
    if not bars:
        return ()
    change, joint = rules.number("accompaniment.section.change-bars"), rules.number("accompaniment.section.joint-bars")
    shortest = rules.whole("accompaniment.section.bars-min")
    together = rules.number("accompaniment.tune-rhythm.worth")
    busier = rules.number("accompaniment.section.busier")
    leaving = rules.numbers("accompaniment.section.unfit-bars")[rules.level.order - 1]
    kinds, moving = _kinds(figures, bars), _strokes(figures, bars, own, rules.number("accompaniment.section.renewed") * quarters / 60)
    onsets = [tone.onset for tone in tune]
    starts = sorted(phrase.start for phrase in phrases)
    preferred = _preferences(rules)
    both = rules.level.notes_per_second_both * rules.number("accompaniment.pace.both-hands-share") * density
    by_meter: dict[Meter, tuple[dict[str, tuple[str, ...]], dict[str, str]]] = {}
    costs: list[dict[str, float]] = []
    back: list[dict[str, str]] = []
    total: dict[str, float] = {}
    choice: dict[str, str]
    rank: dict[tuple[Meter, str], dict[str, float]] = {}
    for place, (bar, heard, strokes) in enumerate(zip(bars, kinds, moving, strict=True)):
        if bar.meter not in by_meter:
            by_meter[bar.meter] = candidates(bar.meter, quarters, density, rules)
        fit = by_meter[bar.meter][0]
        weight = sum(heard.values())
        cost = dict.fromkeys(fit, 0.0)
        for kind, share in heard.items():
            if (bar.meter, kind) not in rank:
                rank[(bar.meter, kind)] = ranked(preferred.get(kind, preferred["other"]), fit)
            for figure, away in rank[(bar.meter, kind)].items():
                cost[figure] += away * share / weight
        low = bisect_left(onsets, bar.start)
        struck = {(onset - bar.start) / bar.length for onset in onsets[low : bisect_left(onsets, bar.end)]}
        seconds = sum(bar.meter.beats) * 4 / bar.meter.unit * 60 / quarters
        for figure, shares in fit.items():
            moments = struck | {at / len(shares) for at, what in enumerate(shares) if what not in (HOLD, REST)}
            cost[figure] += max(0.0, len(moments) / seconds / both - 1.0)
            if strokes:
                cost[figure] += busier * min(1.0, max(0.0, sum(what not in (HOLD, REST) for what in shares) / strokes - 1.0))
        for figure in fit:
            cost[figure] += leaving if place in unfit.get(figure, ()) else 0.0
        if FIGURE in cost:  # as good as the best of the others and better, or never
            others = [price for figure, price in cost.items() if figure != FIGURE]
            cost[FIGURE] = min(others, default=0.0) - together if place in along else max(others, default=0.0) + together
        near = bisect_right(starts, bar.end - 1) > bisect_left(starts, bar.start - bar.length // 2)
        switch = change + (0.0 if near else joint)
        if not total:
            total, choice = cost, {}
        else:
            previous = min(total, key=lambda name: (total[name], name))
            fresh, choice = {}, {}
            for figure, price in cost.items():
                stay = total.get(figure)
                if stay is not None and stay <= total[previous] + switch:
                    fresh[figure], choice[figure] = stay + price, figure
                else:
                    fresh[figure], choice[figure] = total[previous] + switch + price, previous
            total = fresh
        costs.append(cost)
        back.append(choice)
    figure = min(total, key=lambda name: (total[name], name))
    path = [figure]
    for choice in reversed(back[1:]):
        figure = choice[figure]
        path.append(figure)
    path.reverse()
    return tuple(_too_much(part, unfit, rules) for part in _joined(path, kinds, bars, shortest, by_meter, preferred))


def _too_much(part: Section, unfit: Mapping[str, Collection[int]], rules: Rules) -> Section:
    """The section with the figures that it would have if more of its bars could bear them told among the refused."""

    def many(figure: str) -> int:
        return sum(part.first <= place <= part.last for place in unfit.get(figure, ()))

    wanted, bars = _preferences(rules), part.last - part.first + 1
    order = wanted.get(part.source, wanted["other"])
    better = order[: order.index(part.figure)] if part.figure in order else order
    told = {figure: many(figure) for figure in better if figure in unfit and many(figure) > many(part.figure)}
    found = tuple(Rejected(SPOKEN[figure], f"{count} of {bars} bars {TOO_MUCH}") for figure, count in told.items())
    return replace(part, refused=(*found, *part.refused)) if found else part


def _strokes(figures: Sequence[Figure], bars: Sequence[Bar], own: Sequence[Motion], renewed: float) -> list[float]:
    """For each bar, how often the orchestra's own accompaniment strikes in it (0 where it is silent or not known).

    What it holds counts as often as the piano has to strike it again, once in ``renewed`` quarter-notes and at least once a bar.
    """
    if own:
        quarters = [sum(bar.meter.beats) * 4 / bar.meter.unit for bar in bars]
        return [
            0.0 if motion.silent else max(1.0, length // renewed, float(motion.strikes))
            for motion, length in zip(own, quarters, strict=True)
        ]
    out = [0.0] * len(bars)
    starts = [bar.start for bar in bars]
    for figure in figures:
        if figure.kind in ("held", "drum", "rest", "tremolo", "measured-tremolo") or figure.pulse <= 0:
            continue
        at = max(0, bisect_right(starts, figure.start) - 1)
        while at < len(bars) and bars[at].start < figure.end:
            out[at] = max(out[at], bars[at].length / figure.pulse)
            at += 1
    return out


_WEIGHT = {"held": 0.5, "other": 0.5, "drum": 0.2}


def _kinds(figures: Sequence[Figure], bars: Sequence[Bar]) -> list[dict[str, float]]:
    """For each bar, how much of it the orchestra gives to each kind of figure, in weighted ticks.

    Motion is heard before held notes, however many hold, so it weighs double; a drum alone weighs little.
    """
    out: list[dict[str, float]] = [{} for _ in bars]
    starts = [bar.start for bar in bars]
    for figure in figures:
        weight = max(1, len(figure.streams)) ** 0.25 * _WEIGHT.get(figure.kind, 2.0)
        at = max(0, bisect_right(starts, figure.start) - 1)
        while at < len(bars) and bars[at].start < figure.end:
            shared = min(figure.end, bars[at].end) - max(figure.start, bars[at].start)
            if shared > 0:
                out[at][figure.kind] = out[at].get(figure.kind, 0.0) + weight * shared
            at += 1
    return out


def _preferences(rules: Rules) -> dict[str, tuple[str, ...]]:
    head = "accompaniment.instead-of."
    return {name[len(head) :]: rules.words(name) for name in rules.values if name.startswith(head)}


def ranked(wanted: Sequence[str], fit: Collection[str]) -> dict[str, float]:
    """How far each figure that fits is from the best one for a kind: 0 the best, 0.35 for each step, 1 where the table has it not."""
    available = [figure for figure in wanted if figure in fit]
    return {figure: min(1.0, 0.35 * available.index(figure)) if figure in available else 1.0 for figure in fit}


def _joined(
    path: list[str],
    kinds: list[dict[str, float]],
    bars: Sequence[Bar],
    shortest: int,
    by_meter: dict[Meter, tuple[dict[str, tuple[str, ...]], dict[str, str]]],
    wanted: dict[str, tuple[str, ...]],
) -> tuple[Section, ...]:
    """The path as sections; one that is too short joins its longer neighbour where that figure fits the metre too."""
    runs: list[list[int | str]] = []
    for place, figure in enumerate(path):
        if runs and runs[-1][2] == figure:
            runs[-1][1] = place
        else:
            runs.append([place, place, figure])
    spans = [(int(first), int(last), str(figure)) for first, last, figure in runs]
    at = 0
    while at < len(spans) and len(spans) > 1:
        first, last, figure = spans[at]
        if last - first + 1 >= shortest:
            at += 1
            continue
        neighbours = [k for k in (at - 1, at + 1) if 0 <= k < len(spans)]
        neighbours = [k for k in neighbours if all(spans[k][2] in by_meter[bars[place].meter][0] for place in range(first, last + 1))]
        if not neighbours:
            at += 1
            continue
        other = max(neighbours, key=lambda k: (spans[k][1] - spans[k][0], -k))
        merged = (min(first, spans[other][0]), max(last, spans[other][1]), spans[other][2])
        low = min(at, other)
        spans[low : low + 2] = [merged]
        while low and spans[low - 1][2] == spans[low][2]:
            spans[low - 1 : low + 1] = [(spans[low - 1][0], spans[low][1], spans[low][2])]
            low -= 1
        while low + 1 < len(spans) and spans[low + 1][2] == spans[low][2]:
            spans[low : low + 2] = [(spans[low][0], spans[low + 1][1], spans[low][2])]
        at = max(0, low - 1)
        if spans[at][1] - spans[at][0] + 1 >= shortest:
            at += 1
    out = []
    for first, last, figure in spans:
        heard: dict[str, float] = {}
        for place in range(first, last + 1):
            for kind, weight in kinds[place].items():
                heard[kind] = heard.get(kind, 0.0) + weight
        source = KIND if figure == FIGURE else max(heard, key=lambda kind: (heard[kind], kind)) if heard else ""
        refused = by_meter[bars[first].meter][1]
        better = wanted.get(source, wanted["other"])
        better = better[: better.index(figure)] if figure in better else better
        order = [*(name for name in better if name in refused), *(name for name in refused if name not in better)]
        out.append(Section(first, last, figure, source, tuple(Rejected(SPOKEN[name], refused[name]) for name in order)))
    return _unbroken(out, [frozenset(by_meter[bar.meter][0]) for bar in bars])


def _unbroken(parts: Sequence[Section], fit: Sequence[frozenset[str]]) -> tuple[Section, ...]:
    """The sections without a change of figure where the orchestra goes on as before: the longer one's figure is played in both.

    ``fit``: the figures that each bar can have.
    """
    out: list[Section] = []
    for part in parts:
        if out and out[-1].source == part.source:
            before = out[-1]
            longer, other = (before, part) if before.last - before.first >= part.last - part.first else (part, before)
            if all(longer.figure in fit[place] for place in range(other.first, other.last + 1)):
                out[-1] = replace(longer, first=before.first, last=part.last)
                continue
        out.append(part)
    return tuple(out)


def with_settled(parts: Sequence[Section], settled: Sequence[Settled]) -> tuple[Section, ...]:
    """The sections with figures in them that all their bars can bear; what bars would have to leave is among the refused."""
    out = tuple(parts)
    for own in settled:
        pieces: list[Section] = []
        for part in out:
            low, high = max(part.first, own.first), min(part.last, own.last)
            if low > high or part.hers:
                pieces.append(part)
                continue
            why = Rejected(SPOKEN[own.instead], f"{own.count} of {own.last - own.first + 1} bars {TOO_MUCH}")
            refused = tuple(item for item in part.refused if item.what not in (why.what, SPOKEN[own.figure]))
            for first, last, here in (
                (part.first, low - 1, part),
                (low, high, replace(part, figure=own.figure, refused=(why, *refused))),
                (high + 1, part.last, part),
            ):
                if first <= last:
                    pieces.append(replace(here, first=first, last=last))
        out = tuple(pieces)
    return out


def with_choices(parts: Sequence[Section], chosen: Sequence[tuple[int, int, str]]) -> tuple[Section, ...]:
    """The sections with the arranger's figures in them: (first, last, figure), positions in the kept bars."""
    out = list(parts)
    for first, last, figure in chosen:
        before = [part for part in out if part.first <= last and part.last >= first]
        own = dict.fromkeys(SPOKEN[part.figure] for part in before if part.figure != figure)
        instead = tuple(Rejected(words, "the tool's own choice") for words in own)
        pieces = [Section(first, last, figure, before[0].source if before else "", instead, hers=True)]
        for part in out:
            for low, high in ((part.first, min(part.last, first - 1)), (max(part.first, last + 1), part.last)):
                if low <= high:
                    pieces.append(replace(part, first=low, last=high))
        out = sorted(pieces, key=lambda part: part.first)
    return tuple(out)
