"""What every note does: tune, its doublings and thirds, second tune, bass, chord, figuration, rhythm."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from reduce.analyse.melody import Survey, leads_of, path_costs
from reduce.analyse.path import best_path
from reduce.analyse.windows import window
from reduce.model.record import replace
from reduce.model.rules import Rules
from reduce.model.score import Score
from reduce.model.texture import Lead, Role


def counters(score: Score, seen: Survey, tune: Sequence[Lead], rules: Rules) -> tuple[Lead, ...]:
    """Second tunes: the best path over what is left when the tune, its doublings, its thirds and all
    figuration are taken out.

    A line must be clearly tuneful by itself to be one: it starts at ``melody.second-tune.least``.
    """
    import numpy as np

    taken, thirds = _taken(seen, tune, rules)
    figured = _figured(seen, rules).astype(np.float32)
    bar = seen.grid.per_bar
    within = (window(figured, bar, 0) > 0) & (window(figured, 0, bar) > 0)  # a figure that halts for a bar is no tune meanwhile
    free = seen.evidence.active & ~taken & ~thirds & ~within
    strength = np.where(free, np.exp(seen.odds), 0.0)
    chance = strength / (1.0 + strength.sum(axis=1, keepdims=True))
    least = rules.number("melody.second-tune.least")
    worth = (seen.evidence.struck + rules.number("melody.best-path.holding")) * 2 * (chance - least)
    worth[~free] = -1.0
    costs = replace(path_costs(rules), inside=1.0)  # what is left of a line begins where the tune leaves it
    path = best_path(worth, seen.doubled, 0.0, costs, seen.breathing)
    shortest = rules.whole("melody.second-tune.shortest") * bar
    at = seen.grid.at
    return tuple(lead for lead in leads_of(score, seen, path, rules) if at(lead.end - 1) + 1 - at(lead.start) >= shortest)


def _taken(seen: Survey, tune: Sequence[Lead], rules: Rules) -> tuple[Any, Any]:
    """[beat, stream]: who plays or doubles the tune; who runs with it in thirds or sixths."""
    import numpy as np

    taken = np.zeros(seen.odds.shape, dtype=bool)
    thirds = np.zeros(seen.odds.shape, dtype=bool)
    share = rules.number("melody.thirds.share")
    number = window(seen.evidence.struck, seen.grid.per_bar // 2, seen.grid.per_bar // 2)
    for lead in tune:
        a, b = seen.grid.at(lead.start), seen.grid.at(lead.end - 1) + 1
        taken[a:b] |= seen.doubled[a:b, lead.stream]
        taken[a:b, lead.stream] = True
        busier = np.maximum(np.maximum(number[a:b], number[a:b, lead.stream][:, None]), 1)
        thirds[a:b] |= seen.evidence.thirds[a:b, lead.stream] >= share * busier
    return taken, thirds & ~taken


def roles(
    score: Score,
    stream_of: dict[str, int],
    seen: Survey | None,
    tune: Sequence[Lead],
    bass: Sequence[Lead],
    second: Sequence[Lead],
    rules: Rules,
) -> dict[str, Role]:
    """One role for each struck or grace note that belongs to a line (cue and hidden notes have none)."""
    import numpy as np

    if seen is None:
        return {}
    result: dict[str, Role] = {}
    named: dict[str, Role] = {}
    for role, leads in (("counter", second), ("bass", bass), ("melody", tune)):
        for lead in leads:
            named.update(dict.fromkeys(lead.notes, role))  # type: ignore[arg-type]
    by_id = score.note_by_id
    tune_at = {by_id[n].onset: by_id[n].midi % 12 for lead in tune for n in lead.notes if by_id[n].kind == "struck"}
    bass_at = {by_id[n].onset: by_id[n].midi % 12 for lead in bass for n in lead.notes if by_id[n].kind == "struck"}
    bass_players: list[tuple[int, int, frozenset[int]]] = [(b.start, b.end, frozenset((*b.doubled_by, b.stream))) for b in bass]
    taken, thirds = _taken(seen, tune, rules)
    busy = _figured(seen, rules)
    bass_at_beat: list[frozenset[int]] = [frozenset()] * len(seen.grid.bars)
    for start, end, players in bass_players:
        for beat in range(seen.grid.at(start), seen.grid.at(end - 1) + 1):
            bass_at_beat[beat] |= players
    drums = [d == "percussion" for d in seen.desks]
    beats = np.searchsorted(np.array(seen.grid.starts[:-1]), [n.onset for n in score.notes], "right") - 1
    for note, beat in zip(score.notes, np.maximum(beats, 0).tolist(), strict=True):
        stream = stream_of.get(note.id)
        if stream is None:
            continue
        if note.id in named:
            result[note.id] = named[note.id]
        elif drums[stream]:
            result[note.id] = "rhythm"
        elif taken[beat, stream] and tune_at.get(note.onset) == note.midi % 12:
            result[note.id] = "melody-double"
        elif stream in bass_at_beat[beat] and bass_at.get(note.onset) == note.midi % 12:
            result[note.id] = "bass-double"
        elif thirds[beat, stream] and note.onset in tune_at:
            result[note.id] = "melody-third"
        else:
            result[note.id] = "figuration" if busy[beat, stream] else "harmony"
    return result


def _figured(seen: Survey, rules: Rules) -> Any:
    """[beat, stream] whether the line is broken into figures: tremolo, or quick notes that leap or turn rather than repeat."""
    feature = seen.evidence.features
    quick = feature["onsets.bar"] >= rules.number("melody.figuration.notes-a-beat")
    moving = feature["repeats.bar"] <= rules.number("melody.figuration.repeats")
    return (feature["shakes.bar"] > 0.5) | (quick & moving)
