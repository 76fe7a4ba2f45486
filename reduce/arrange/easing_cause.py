"""What in a bar asks for relief, told with its number and limit as they were before the bar was eased."""

from __future__ import annotations

from reduce.arrange.explain import and_list
from reduce.hands.report import BarLoad, Breach, Report
from reduce.model.level import Level
from reduce.model.record import dataclass

_TOLD = {  # kind of breach: words, setting (``{hand}`` is left or right)
    "speed": ("one hand would play {measured:.1f} notes a second (this level {limit:g})", "level.notes-per-second-one"),
    "speed-together": ("both hands would strike {measured:.1f} times a second (this level {limit:g})", "level.notes-per-second-both"),
    "cross-rhythm": ("the hands would divide a beat differently", "level.cross-rhythm"),
    "black-keys": ("a chord would have {measured:g} black keys (this level {limit:g})", "level.black-in-chord"),
    "voices": ("one hand would hold a key while it plays others", "level.voices-{hand}"),
    "crowd": ("one hand would have {measured:g} keys down (this level {limit:g})", "level.notes-{hand}"),
    "span": ("one hand would span {measured:g} semitones (this level {limit:g})", "level.span-{hand}"),
    "reach": ("the hand would not reach a chord", "level.hand-span"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Cause:
    """Why a bar is made lighter: ``words`` after "because", the setting that decided, and the figures."""

    words: str
    setting: str
    measured: float
    limit: float
    unit: str

    @property
    def excess(self) -> float:
        """How many times the limit was measured."""
        return self.measured / self.limit if self.limit else self.measured


AS_REPEATED = Cause(
    words="the bar parallel to it is lighter too", setting="accompaniment.parallel.agreement", measured=1.0, limit=1.0, unit="bars"
)


def causes(report: Report, level: Level, pressing: frozenset[str], heavy: float) -> dict[int, Cause]:
    """By bar (index): too many things at the limit, else the worst breach of a kind in ``pressing``, else a load above ``heavy``."""
    found = {load.bar: _heavy(load, heavy) for load in report.load if load.total > heavy}
    worst: dict[int, Breach] = {}
    for breach in report.breaches:
        if breach.what in pressing and breach.what in _TOLD and (breach.bar not in worst or _excess(breach) > _excess(worst[breach.bar])):
            worst[breach.bar] = breach
    found |= {bar: _breached(breach) for bar, breach in worst.items()}
    return found | {load.bar: _together(load, level) for load in report.load if load.over_budget}


def _excess(breach: Breach) -> float:
    return breach.measured / breach.limit if breach.limit else breach.measured


def _together(load: BarLoad, level: Level) -> Cause:
    return Cause(
        words=f"{and_list(load.at_limit)} would be at the limit together (this level allows {level.at_limit_per_bar} at once)",
        setting="level.at-limit-per-bar",
        measured=float(len(load.at_limit)),
        limit=float(level.at_limit_per_bar),
        unit="things at the limit",
    )


def _breached(breach: Breach) -> Cause:
    words, setting = _TOLD[breach.what]
    return Cause(
        words=words.format(measured=breach.measured, limit=breach.limit),
        setting=setting.format(hand="right" if breach.hand == "both" else breach.hand),
        measured=breach.measured,
        limit=breach.limit,
        unit=breach.unit,
    )


def _heavy(load: BarLoad, heavy: float) -> Cause:
    return Cause(
        words=f"the bar would stand out as too hard (its load is {load.total:.1f}; bars above {heavy:g} are eased)",
        setting="easing.bar.heavy-load",
        measured=load.total,
        limit=heavy,
        unit="load",
    )
