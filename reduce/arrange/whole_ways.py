"""The piece in another way where bars would leave the figure of their section: slower, or with a figure that they all can bear."""

from __future__ import annotations

from collections.abc import Iterator

from reduce.arrange.attempts import Tried, attempted, eased, given_all_back, unsung
from reduce.arrange.easing import LAST_CALM, slowest
from reduce.arrange.whole_figures import Standing, Trial, Way, kept_whole, left_bars, misfit, other_figures, pressed, slower_ways
from reduce.hands.check import check
from reduce.model.record import replace
from reduce.model.rules import Rules


def in_one_key(tried: Tried, rules: Rules) -> Trial[Tried]:
    """The piece in the way in which the fewest bars leave their figure, where that costs less than they do."""
    bars, heavy = tried.plan.desk.bars, rules.number("easing.bar.heavy-load")
    first = trial_of(tried, rules)
    if not first.standing.left:
        return first
    joints = {tried.plan.desk.place(start) for start in tried.plan.boundaries if tried.plan.desk.start <= start < tried.plan.desk.end}
    beat = bars[0].meter.beat_ticks(tried.plan.desk.score.resolution) / tried.plan.desk.score.resolution

    def ways(trial: Trial[Tried]) -> Iterator[Way]:
        left, now = trial.standing.left, trial.standing.quarters
        if now and not tried.steady:
            yield from slower_ways(trial.standing, slowest(tried.asked, rules, beat), len(bars), rules)
        yield from other_figures(trial.piece.filled.parts, left, bars, joints, now or rules.level.tempo_min, rules)

    def glance(piece: Tried, way: Way) -> Standing:
        found = _otherwise(piece, way)
        report = check(found.draft, rules.level, rules)
        left = left_bars(found.state.ease, found.filled.ways) | pressed(report, heavy, piece.report or report)
        return replace(trial_of(replace(found, report=report), rules, lost=False).standing, left=left)

    def attempt(piece: Tried, way: Way) -> Trial[Tried]:
        found = _otherwise(piece, way)
        calmest = LAST_CALM if any(step > 1 for step in found.state.calm.values()) else 1
        again = eased(found.plan, found.settled, found.asked, found.problems, found.state, rules, calmest, steady=found.steady)
        return trial_of(given_all_back(replace(again, slowed=found.slowed), rules), rules)

    return kept_whole(first, ways, glance, attempt, len(bars), rules)


def _otherwise(tried: Tried, way: Way) -> Tried:
    """The piece in another way, before anything more is eased."""
    desk, state = tried.plan.desk, tried.state
    same = {desk.echoes[place].first if place in desk.echoes else place for place in way.free}
    free = {p for p in state.ease if p in way.free or (desk.echoes[p].first if p in desk.echoes else p) in same}
    state = replace(state, ease={place: min(1, step) if place in free else step for place, step in state.ease.items()})
    if way.quarters:
        now = next(tempo.quarters for tempo in state.tempos if tempo.quarters)
        slower = way.quarters / now
        state = replace(state, tempos=tuple(replace(t, quarters=round(t.quarters * slower)) if t.quarters else t for t in state.tempos))
        tried = replace(tried, slowed=(*tried.slowed, (now, len(way.free))))
    plan = replace(tried.plan, desk=replace(desk, settled=(*desk.settled, *way.settled)))
    return attempted(replace(tried, plan=plan), state)


def trial_of(tried: Tried, rules: Rules, *, lost: bool = True) -> Trial[Tried]:
    """The piece with what it comes to; the notes of the tune that it has ``lost`` are counted where that is asked."""
    loads, heavy = (tried.report.load, rules.number("easing.bar.heavy-load")) if tried.report is not None else ((), 0.0)
    return Trial(
        piece=tried,
        standing=Standing(
            left=left_bars(tried.state.ease, tried.filled.ways),
            notes=sum(note.hand == "left" and note.role != "melody" for note in tried.draft.notes),
            quarters=next((float(tempo.quarters) for tempo in tried.state.tempos if tempo.quarters), 0.0),
            lost=unsung(tried, {name for tone in tried.plan.tune for name in tone.sources}) if lost else 0,
            changes=len(tried.filled.parts),
            misfit=misfit(tried.filled.parts, rules),
            over=tried.over,
            heavy=sum(load.total > heavy for load in loads),
            breaches=len(tried.report.breaches) if tried.report is not None else 0,
        ),
    )


