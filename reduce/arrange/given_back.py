"""What a bar was eased by and turns out not to need is given back.

Relief only ever grows while the piece is arranged anew, bar by bar.  When all is eased, a bar often has more than it needs: its tune
became calmer after its left hand had been silenced, or a bar beside it was mended.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping

from reduce.arrange.chord_sizes import SMALLER
from reduce.arrange.easing import Relief
from reduce.arrange.echoes import Echo
from reduce.hands.report import Report
from reduce.model.record import replace
from reduce.model.rules import Rules

_FIGURE = 3  # from this step on the left hand has no figure of its own


def given_back(state: Relief, report: Report, echoes: Mapping[int, Echo], attempt: Callable[[Relief], Report], rules: Rules) -> Relief:
    """The lightest relief on the way back from ``state`` that leaves no more bars above a limit than it does.

    ``report`` is the check under ``state``; ``attempt`` arranges the piece anew and checks it.  The tune comes first, then the left hand:
    runs of bars, then single ones; bars that repeat each other are eased alike.  At most so many attempts are made as the setting
    ``easing.bar.given-back`` has for the level.
    """
    heavy = rules.number("easing.bar.heavy-load")
    left = int(rules.numbers("easing.bar.given-back")[rules.level.order - 1])
    before = _burden(report, heavy)
    for wish in _WISHES:
        tried: set[tuple[object, ...]] = set()
        while left > 0:
            other = next((each for each in wish(state, echoes) if _named(each) not in tried), None)
            if other is None:
                break
            tried.add(_named(other))
            left -= 1
            if all(new <= old for new, old in zip(_burden(attempt(other), heavy), before, strict=True)):
                state = other
    return state


def _burden(report: Report, heavy: float) -> tuple[int, int, int]:
    """Bars above the budget, bars that are too heavy, breaches of any limit."""
    return sum(load.over_budget for load in report.load), sum(load.total > heavy for load in report.load), len(report.breaches)


def _named(state: Relief) -> tuple[object, ...]:
    steps = (tuple(sorted(row.items())) for row in (state.ease, state.calm, state.slim))
    return *steps, tuple(sorted(state.plain)), bool(state.small)


def _whole_tune(state: Relief, echoes: Mapping[int, Echo]) -> Iterator[Relief]:
    """The tune of one bar less calm: all of its notes, or one step more of them."""
    for bar, step in sorted(state.calm.items(), key=lambda item: (-item[1], item[0])):
        for less in dict.fromkeys((0, step - 1)):
            yield replace(state, calm=_lowered(state.calm, {bar}, less, echoes))
    for bar in sorted(state.plain):
        yield replace(state, plain=state.plain - _same({bar}, echoes, state.plain))


def _whole_chords(state: Relief, echoes: Mapping[int, Echo]) -> Iterator[Relief]:
    """Chords with all their notes."""
    if state.small:
        yield replace(state, small=frozenset())


def _full_chords(state: Relief, echoes: Mapping[int, Echo]) -> Iterator[Relief]:
    """The chords of one bar, and of those that it repeats, with all their notes."""
    for bar, step in sorted(state.slim.items(), key=lambda item: (-item[1], item[0])):
        for less in dict.fromkeys((0, step - 1)) if step >= SMALLER else ():
            yield replace(state, slim=_lowered(state.slim, {bar}, less, echoes))


def _runs(state: Relief, echoes: Mapping[int, Echo]) -> Iterator[Relief]:
    """The left hand of a run of bars with one step of relief less eased: not at all, or in a lighter way."""
    runs: list[tuple[int, list[int]]] = []
    for bar, step in sorted(state.ease.items()):
        if runs and runs[-1][0] == step and runs[-1][1][-1] == bar - 1:
            runs[-1][1].append(bar)
        elif step:
            runs.append((step, [bar]))
    for step, bars in sorted(runs, key=lambda run: (-run[0], run[1][0])):
        for less in dict.fromkeys((0, 1, step - 1)):
            if less < step:
                yield replace(state, ease=_lowered(state.ease, set(bars), less, echoes))


def _single(state: Relief, echoes: Mapping[int, Echo]) -> Iterator[Relief]:
    """The left hand of one bar that has no figure of its own less eased."""
    for bar, step in sorted(state.ease.items(), key=lambda item: (-item[1], item[0])):
        for less in dict.fromkeys((0, step - 1)) if step >= _FIGURE else ():
            yield replace(state, ease=_lowered(state.ease, {bar}, less, echoes))


def _lowered(steps: Mapping[int, int], bars: set[int], less: int, echoes: Mapping[int, Echo]) -> dict[int, int]:
    """The steps with those of ``bars``, and of all that they repeat or that repeat them, at most ``less``; 0 is no relief."""
    same = _same(bars, echoes, steps.keys())
    lowered = {bar: min(step, less) if bar in same else step for bar, step in steps.items()}
    return {bar: step for bar, step in lowered.items() if step}


def _same(bars: set[int], echoes: Mapping[int, Echo], among: Collection[int]) -> set[int]:
    firsts = {echoes[bar].first if bar in echoes else bar for bar in bars}
    return {bar for bar in among if (echoes[bar].first if bar in echoes else bar) in firsts}


_WISHES = (_whole_tune, _whole_chords, _full_chords, _runs, _single)
