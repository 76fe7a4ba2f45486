"""Who has the tune: the best path over the lines of the whole movement, and the reasons for it."""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from reduce.analyse.doublings import shared
from reduce.analyse.evidence import Evidence, measure
from reduce.analyse.forest import log_odds, parsed, shipped
from reduce.analyse.lines import Grid, Line, grid, outline
from reduce.analyse.path import NOBODY, Costs, best_path, posterior
from reduce.analyse.reasons import tell
from reduce.analyse.streams import desk
from reduce.model.decision import Decision
from reduce.model.rules import Rules
from reduce.model.score import Score
from reduce.model.texture import Lead, Stream

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Survey:
    """All that later acts need of the search for the tune.

    ``odds`` [beat, stream] are the log-odds of leading, ``likely`` [beat, stream + nobody] the chances along all paths,
    ``doubled`` [beat, a, b] who shares a line with whom.
    """

    lines: tuple[Line, ...]
    grid: Grid
    desks: tuple[str, ...]
    evidence: Evidence
    odds: NDArray[np.float64]
    likely: NDArray[np.float64]
    doubled: NDArray[np.bool_]


def survey(score: Score, streams: Sequence[Stream], stream_of: Mapping[str, int], rules: Rules) -> Survey | None:
    """Measure every line and judge how likely it leads, beat by beat; None where the score has no note."""
    import numpy as np

    lines = outline(score, streams, stream_of)
    if not any(line.notes for line in lines):
        return None
    beats = grid(score)
    desks = tuple(desk(score.parts[s.part]) for s in streams)
    evidence = measure(lines, beats, desks, [s.part for s in streams])
    forest = parsed(shipped("melody-trees"))
    active = evidence.active
    odds = np.full(active.shape, rules.number("melody.best-path.resting"))
    odds[active] = np.clip(log_odds(forest, [evidence.features[name][active] for name in forest.features]), -7, 7)
    doubled = shared(evidence, beats, rules.number("melody.doublings.share"))
    likely = posterior(odds, doubled, rules.number("melody.best-path.no-tune"), costs_of(rules), rules.number("melody.best-path.warmth"))
    return Survey(lines=lines, grid=beats, desks=desks, evidence=evidence, odds=odds, likely=likely, doubled=doubled)


def costs_of(rules: Rules) -> Costs:
    """The costs of the best path, from ``rules/melody.toml``."""
    return Costs(
        change=rules.number("melody.best-path.line-change"),
        doubling=rules.number("melody.best-path.doubling-change"),
        silence=rules.number("melody.best-path.silence-change"),
    )


def melody(score: Score, streams: Sequence[Stream], seen: Survey, rules: Rules) -> tuple[tuple[Lead, ...], tuple[Decision, ...]]:
    """The tune: its carriers in order, never overlapping, with gaps where there is none.

    Returns:
        The leads (one a breath, so that each can be explained), and one decision for each.
    """
    path = best_path(seen.odds, seen.doubled, rules.number("melody.best-path.no-tune"), costs_of(rules))
    leads = leads_of(score, seen, path, rules)
    return leads, tell(score, streams, seen, leads, rules, kind="melody")


def leads_of(score: Score, seen: Survey, path: Any, rules: Rules) -> tuple[Lead, ...]:
    """Cut a path into leads: a new one at each change of player and at each breath of a long tune."""
    graces: dict[tuple[int, int], list[str]] = {}
    for note in score.notes:
        if note.kind == "grace":
            graces.setdefault((note.part, note.onset), []).append(note.id)
    longest = rules.whole("melody.leads.longest") * seen.grid.per_bar
    shortest = rules.whole("melody.leads.shortest") * seen.grid.per_bar
    leads: list[Lead] = []
    start = 0
    while start < len(path):
        end = start + 1
        while end < len(path) and path[end] == path[start]:
            end += 1
        if path[start] != NOBODY:
            for a, b in _breaths(seen, int(path[start]), start, end, shortest, longest):
                lead = _lead(seen, int(path[start]), a, b, graces)
                if lead is not None:
                    leads.append(lead)
        start = end
    return tuple(leads)


def _breaths(seen: Survey, stream: int, start: int, end: int, shortest: int, longest: int) -> list[tuple[int, int]]:
    """Cut beats ``start``..``end`` where the player rests, or at the longest note once the stretch exceeds ``longest``."""
    starts = seen.grid.starts
    line = seen.lines[stream]
    weight: dict[int, float] = {}
    for index, note in enumerate(line.notes):
        beat = seen.grid.at(note.onset)
        if start < beat < end and index:
            beat_length = starts[beat + 1] - starts[beat]
            rest = (note.onset - line.ends[index - 1]) / beat_length
            held = (line.ends[index - 1] - line.notes[index - 1].onset) / beat_length
            weight[beat] = max(weight.get(beat, 0), 4 * rest + min(held, 4) + (0.5 if seen.grid.inside[beat] == 0 else 0))
    cuts = [start]
    while end - cuts[-1] > longest:
        low, high = cuts[-1] + shortest, min(cuts[-1] + longest, end - shortest)
        choice = [b for b in range(low, high + 1) if b in weight]
        if not choice:
            break
        cuts.append(max(choice, key=lambda b: (weight[b], b)))
    cuts.append(end)
    return list(itertools.pairwise(cuts))


def _lead(seen: Survey, stream: int, first: int, last: int, graces: Mapping[tuple[int, int], list[str]]) -> Lead | None:
    """The lead of ``stream`` over beats ``first``..``last`` (exclusive), or None where it strikes nothing there."""
    start, end = seen.grid.starts[first], seen.grid.starts[last]
    notes = [note for note in seen.lines[stream].notes if start <= note.onset < end]
    if not notes:
        return None
    ids: list[str] = []
    for note in notes:
        ids.extend(graces.get((note.part, note.onset), ()))
        ids.append(note.id)
    share = seen.doubled[first:last, stream].mean(axis=0)
    doubling = tuple(int(s) for s in (share >= 0.6).nonzero()[0] if s != stream)
    chance = seen.likely[first:last].mean(axis=0)
    line = {stream, *doubling}
    certainty = float(sum(chance[s] for s in line))
    others = [
        (float(chance[s]), s) for s in range(len(seen.lines)) if s not in line and not seen.doubled[first:last, s, stream].mean() > 0.4
    ]
    share_next, second = max(others, default=(0.0, -1))
    return Lead(
        start=start,
        end=end,
        stream=stream,
        notes=tuple(ids),
        doubled_by=doubling,
        certainty=round(min(certainty, 1.0), 3),
        runner_up=second if share_next >= 0.01 else None,
        runner_up_share=round(share_next, 3) if share_next >= 0.01 else 0.0,
    )
