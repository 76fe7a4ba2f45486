"""Why this line and not that one, in a musician's words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Literal

from reduce.model.decision import Decision, Rejected
from reduce.model.rules import Rules
from reduce.model.score import Score
from reduce.model.texture import Lead, Stream

if TYPE_CHECKING:
    from reduce.analyse.melody import Survey

# What is said when the tune has more of something than its rival: measurement, scale, words for the tune, words for the rival.
SPOKEN: tuple[tuple[str, float, str, str], ...] = (
    ("onsets-lead.bar", 0.8, "it moves while the others hold", "holds or repeats meanwhile"),
    ("top.bar", 0.5, "it lies highest", "lies below it"),
    ("steps.phrase", 0.3, "it sings by step", "moves less by step"),
    ("returns-theme.phrase", 0.6, "it brings back a theme heard elsewhere", "has no theme that returns"),
    ("new-theme.phrase", 0.5, "it brings new material", "goes on with the same figure"),
    ("entries.bar", 0.25, "it enters after a rest", "was already playing"),
    ("doubled.phrase", 1.5, "more players share it", "has fewer players"),
    ("alone.bar", 0.4, "it plays alone", "is silent or covered"),
    ("values.phrase", 0.2, "its rhythm is the most varied", "keeps an even rhythm"),
)
AGAINST: tuple[tuple[str, float, str, str], ...] = (
    ("ostinato-rhythm.phrase", 0.8, "the rival only repeats a pattern", "repeats a pattern"),
    ("repeats.phrase", 0.3, "the rival repeats one note", "repeats one note"),
    ("struck-with.phrase", 0.3, "its rhythm is its own", "moves with the accompaniment"),
    ("chordal.phrase", 0.5, "the rival plays chords", "plays chords"),
    ("low.bar", 0.5, "the rival is the bass", "is the bass"),
    ("shakes.phrase", 0.3, "the rival only trembles", "only trembles"),
)


def tell(
    score: Score, streams: Sequence[Stream], seen: Survey, leads: Sequence[Lead], rules: Rules, kind: Literal["melody", "bass"]
) -> tuple[Decision, ...]:
    """One decision a lead: who has it, the two strongest reasons against the runner-up, and how sure it is."""
    decisions = []
    before: Lead | None = None
    for number, lead in enumerate(leads):
        reasons, lack = evidence_of(seen, lead)
        first, last = bars_of(score, lead)
        name = streams[lead.stream].name
        same = before is not None and before.stream == lead.stream
        where = f"Bar {score.bars[first].number}" if first == last else f"Bars {score.bars[first].number}–{score.bars[last].number}"
        verb = "stays with" if same else "is in"
        because = f", because {' and '.join(r for r, _ in reasons[:2])}" if reasons else ""
        rejected: tuple[Rejected, ...] = ()
        rival = ""
        if lead.runner_up is not None:
            rival = f"; runner-up {streams[lead.runner_up].name} ({lead.runner_up_share:.0%})"
            rejected = (Rejected(what=streams[lead.runner_up].name, why=lack or "weaker on the whole"),)
        decisions.append(
            Decision(
                id=f"{kind}-{number + 1}",
                kind=kind,
                bars=(first, last),
                onset=lead.start,
                sentence=f"{where}: the tune {verb} {name}{because}{rival}.",
                hand="right",
                weight="medium" if same else "big",
                certainty=lead.certainty,
                rule="melody.best-path",
                setting="melody.best-path.line-change",
                source_notes=lead.notes,
                rejected=rejected,
            )
        )
        before = lead
    return tuple(decisions)


def with_reasons(seen: Survey, leads: Sequence[Lead]) -> tuple[Lead, ...]:
    """The leads with their strongest reasons written in."""
    return tuple(replace(lead, evidence=evidence_of(seen, lead)[0][:4]) for lead in leads)


def evidence_of(seen: Survey, lead: Lead) -> tuple[tuple[tuple[str, float], ...], str]:
    """Reasons with their weight, strongest first, and what the runner-up lacks most."""
    first, last = seen.grid.at(lead.start), seen.grid.at(lead.end - 1) + 1
    rival = lead.runner_up
    found: list[tuple[str, float, str]] = []
    for sign, table in ((1, SPOKEN), (-1, AGAINST)):
        for name, scale, words, lack in table:
            values = seen.evidence.features[name][first:last]
            mine = float(values[:, lead.stream].mean())
            theirs = float(values[:, rival].mean()) if rival is not None else 0.0
            if rival is None and sign < 0:
                continue
            found.append((words, sign * (mine - theirs) / scale, lack))
    found.sort(key=lambda r: -r[1])
    good = tuple((words, round(min(value, 9.99), 2)) for words, value, _ in found if value >= 0.3)
    return good, found[0][2] if found and found[0][1] >= 0.3 else ""


def bars_of(score: Score, lead: Lead) -> tuple[int, int]:
    """First and last bar index of a lead, by its notes."""
    first = score.note_by_id[lead.notes[0]]
    last = score.note_by_id[lead.notes[-1]]
    return first.bar, last.bar
