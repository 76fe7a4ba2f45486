"""Who has the tune: the best path over the lines of the whole movement, and the reasons for it."""

from __future__ import annotations

import itertools
from bisect import bisect_left
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from reduce.analyse.answers import answered
from reduce.analyse.breaths import FEW, Breaths, breaths
from reduce.analyse.doublings import apart, best_other, line_of, shared
from reduce.analyse.drum_alone import alone
from reduce.analyse.ear import log_odds, shipped, trained
from reduce.analyse.echoes import echoed
from reduce.analyse.evidence import Evidence, measure
from reduce.analyse.lines import Grid, Line, grid, outline
from reduce.analyse.path import NOBODY, Costs
from reduce.analyse.reasons import explained
from reduce.analyse.restated import agreeing_path
from reduce.analyse.signs import signs
from reduce.analyse.streams import desks_of
from reduce.analyse.themes import second_hearing
from reduce.model.decision import Decision
from reduce.model.record import dataclass
from reduce.model.rules import Rules
from reduce.model.score import Score
from reduce.model.texture import Lead, Stream

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

_BEATS_AT_A_TIME = 1 << 10
_MOVING = 3  # different pitches within a bar to either side
_NEVER = 1e3  # notes that no path makes good
_AT_A_TIME = 1 << 14  # cells of beat and line that are judged together: all columns of so many stay small


@dataclass(frozen=True, slots=True, kw_only=True)
class Survey:
    """All that later acts need of the search for the tune.

    Tables [beat, stream]: ``odds`` log-odds of leading, ``likely`` the chance that the stream or one that doubles it leads,
    ``worth`` what the path gains there; ``doubled`` [beat, a, b] who shares a line with whom; ``breathing`` where phrases begin and end.
    """

    lines: tuple[Line, ...]
    grid: Grid
    desks: tuple[str, ...]
    evidence: Evidence
    odds: NDArray[np.float64]
    likely: NDArray[np.float64]
    worth: NDArray[np.float64]
    doubled: NDArray[np.bool_]
    breathing: Breaths


def survey(score: Score, streams: Sequence[Stream], stream_of: Mapping[str, int], rules: Rules) -> Survey | None:
    """Measure every line and judge how likely it leads, beat by beat, in two hearings; None where the score has no note."""
    lines = outline(score, streams, stream_of)
    if not any(line.notes for line in lines):
        return None
    beats = grid(score)
    desks = desks_of(score, streams, stream_of)
    evidence = measure(lines, beats, desks, [s.part for s in streams])
    evidence.features.update(signs(score, streams, lines, beats))
    doubled = shared(evidence, beats, rules.number("melody.doublings.share"))
    first = judged(evidence, evidence.features, "first")
    heard = second_hearing(evidence, beats, first, doubled)
    evidence.features.update(heard)
    second = rules.number("melody.best-path.second-hearing")
    odds = settled(evidence, beats, (1 - second) * first + second * judged(evidence, heard, "second"), desks, doubled, rules)
    worth, likely = worth_of(evidence, odds, doubled, rules)
    solo = alone(evidence.active, lines, beats, desks)
    worth[solo], likely[solo] = rules.number("melody.best-path.drum-alone"), 1.0
    return Survey(
        lines=lines,
        grid=beats,
        desks=desks,
        evidence=evidence,
        odds=odds,
        likely=likely,
        worth=worth,
        doubled=doubled,
        breathing=breaths(evidence, beats, rules),
    )


def judged(evidence: Evidence, features: Mapping[str, Any], hearing: str) -> NDArray[np.float64]:
    """[beat, stream] log-odds of leading by the trained ear of one hearing; -9 where the stream is silent."""
    import numpy as np

    ear = trained(shipped("melody-ear")[hearing])
    active = evidence.active
    odds = np.full(active.shape, -9.0)
    cells = np.flatnonzero(active)
    for first in range(0, len(cells), _AT_A_TIME):
        where = cells[first : first + _AT_A_TIME]
        odds.ravel()[where] = np.clip(log_odds(ear, [features[name].take(where) for name in ear.features]), -9, 9)
    return odds


def settled(evidence: Evidence, beats: Grid, odds: Any, desks: Sequence[str], doubled: Any, rules: Rules) -> NDArray[np.float64]:
    """The log-odds of the trained ear after what a musician takes for granted and after a look at the parallel places."""
    return echoed(evidence, beats, odds + leaning(evidence, beats, desks, doubled, rules), doubled, rules)


def leaning(evidence: Evidence, beats: Grid, desks: Sequence[str], doubled: Any, rules: Rules) -> NDArray[np.float64]:
    """[beat, stream] log-odds for what a musician takes for granted and few orchestral movements can teach: a lone singer has the
    tune, so has the one line that sings while all others hold, and a line that stays on one note while another moves (with or between its
    notes) has it not."""
    import numpy as np

    features = evidence.features
    notes = np.where(evidence.active, features["onsets.phrase"], 0.0)
    link = doubled.copy()
    own = np.arange(notes.shape[1])
    link[:, own, own] = True
    others = np.where(link, 0.0, notes[:, None, :]).max(axis=2)
    sings = (
        (notes >= 1.5 * others)
        & (notes >= 0.5)
        & (notes <= 2.5)
        & (features["steps.phrase"] >= 0.45)
        & (features["repeats.phrase"] < 0.35)
        & (features["even.phrase"] < 0.9)
    )
    pitches = features["pitches-many"]
    moves = np.where(evidence.active, pitches, 0)
    near = moves.copy()
    for away in range(1, beats.per_bar):
        near[away:] = np.maximum(near[away:], moves[:-away])
        near[:-away] = np.maximum(near[:-away], moves[away:])
    moving = best_other(near, apart(doubled), 0)
    lean = rules.number("melody.best-path.singing") * sings
    lean -= rules.number("melody.best-path.one-note") * ((pitches == 1) & (moving >= _MOVING))
    singers = [stream for stream, kind in enumerate(desks) if kind == "voice"]
    if len(singers) == 1:
        lean[:, singers] += rules.number("melody.best-path.singer")
    return np.where(evidence.active, lean, 0.0)


def worth_of(evidence: Evidence, odds: Any, doubled: Any, rules: Rules) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """What the path gains in each beat from each stream, and how likely the stream's line leads.

    A note of the tune is worth 2 and each note played costs ``price``: the choice that makes most of right notes found against
    notes played (expected F1), so that a quick line must be surer than a slow one.  One that rests for a moment in the midst of its
    tune still counts among those who may lead, against all who play beside it.
    """
    import numpy as np

    active = evidence.active
    strength = np.where(active, np.exp(odds), 0.0)
    waiting = paused(evidence, odds, rules.whole("melody.best-path.pause"), rules.number("melody.best-path.pause-doubt"))
    chance = strength / (1.0 + strength.sum(axis=1, keepdims=True) + waiting)
    own = np.arange(active.shape[1])
    likely = np.empty(active.shape)
    for first in range(0, len(active), _BEATS_AT_A_TIME):
        part = slice(first, first + _BEATS_AT_A_TIME)
        link = doubled[part].astype(np.float64)
        link[:, own, own] = 1.0
        likely[part] = np.minimum(np.matmul(link, chance[part, :, None])[:, :, 0], 1.0)
    notes = evidence.struck + rules.number("melody.best-path.holding")
    worth = notes * (2 * likely - rules.number("melody.best-path.price")) + rules.number("melody.best-path.trust") * np.clip(odds, -7, 7)
    worth[~active] = -rules.number("melody.best-path.resting")
    worth[:, ~active.any(axis=0)] = -_NEVER  # a drum with others does not even bridge a silence
    return worth, likely


def paused(evidence: Evidence, odds: Any, longest: int, doubt: float) -> NDArray[np.float64]:
    """[beat, stream] how strongly those who rest for a moment speak against each stream's leading.

    A line that sounds before and after a rest of up to ``longest`` beats is as likely to lead in it as beside it, less ``doubt``
    (log-odds).  It speaks against those who sound beside it before the rest or after it, unless they share notes with it there: who
    comes in only where it rests answers it.
    """
    import numpy as np

    active = evidence.active
    against = np.zeros(active.shape)
    for length in range(1, min(longest, len(active) - 2) + 1):
        rests = active[: -length - 1] & active[length + 1 :]
        for place in range(1, length + 1):
            rests &= ~active[place : place + len(rests)]
        before = np.flatnonzero(rests.any(axis=1))
        after = before + length + 1
        strength = np.where(rests[before], np.exp(np.minimum(odds[before], odds[after]) - doubt), 0.0)
        others = np.maximum(evidence.same[before], evidence.same[after]) < FEW
        strength = np.matmul(others, strength[:, :, None])[:, :, 0]
        strength[~(active[before] | active[after])] = 0.0
        for place in range(1, length + 1):
            against[before + place] += strength
    return against


def path_costs(rules: Rules) -> Costs:
    """The costs of the best path, from ``rules/melody.toml``."""
    return Costs(
        change=rules.number("melody.best-path.line-change"),
        doubling=rules.number("melody.best-path.doubling-change"),
        silence=rules.number("melody.best-path.silence-change"),
        inside=rules.number("melody.best-path.inside-phrase"),
        octave=rules.number("melody.best-path.octave-change"),
    )


def melody(score: Score, streams: Sequence[Stream], seen: Survey, rules: Rules) -> tuple[tuple[Lead, ...], tuple[Decision, ...]]:
    """The tune: its carriers in order, never overlapping, with gaps where there is none.

    Returns:
        The leads (one a breath, so that each can be explained), and one decision for each.
    """
    moments = rules.whole("melody.restated-bars.moments")
    path, drawn = agreeing_path(score, seen.lines, seen.grid, seen.worth, seen.doubled, path_costs(rules), seen.breathing, moments)
    drums = {stream for stream, kind in enumerate(seen.desks) if kind == "percussion"}
    leads = answered(score, streams, seen.lines, drums, leads_of(score, seen, path, rules), rules.whole("melody.answers.head"))
    return explained(score, streams, seen, leads, drawn)


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
    if end - start <= longest:
        return [(start, end)]
    starts = seen.grid.starts
    line = seen.lines[stream]
    weight: dict[int, float] = {}
    low = bisect_left(line.notes, starts[start + 1], key=lambda note: note.onset)
    for index in range(max(low, 1), len(line.notes)):
        note, before = line.notes[index], line.notes[index - 1]
        beat = seen.grid.at(note.onset)
        if beat >= end:
            break
        length = starts[beat + 1] - starts[beat]
        rest = (note.onset - line.ends[index - 1]) / length
        held = (line.ends[index - 1] - before.onset) / length
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
    played = seen.lines[stream].notes
    notes = played[bisect_left(played, start, key=lambda note: note.onset) : bisect_left(played, end, key=lambda note: note.onset)]
    if not notes:
        return None
    ids: list[str] = []
    for note in notes:
        ids.extend(graces.get((note.part, note.onset), ()))
        ids.append(note.id)
    share = seen.doubled[first:last].mean(axis=0)
    line = line_of(share >= 0.6, stream)
    weight = seen.evidence.struck[first:last, stream] + 0.15
    chance = weight @ seen.likely[first:last] / weight.sum()
    certainty = float(chance[stream])
    chance[[*line]] = 0.0  # a player of the same line is no rival
    chance[share[stream] > 0.4] = 0.0
    second = int(chance.argmax())
    rival = round(float(chance[second]), 3)
    return Lead(
        start=start,
        end=end,
        stream=stream,
        notes=tuple(ids),
        doubled_by=tuple(sorted(line - {stream})),
        certainty=round(min(certainty, 1.0), 3),
        runner_up=second if rival >= 0.01 else None,
        runner_up_share=rival if rival >= 0.01 else 0.0,
    )
