"""Why this line and not that one, in a musician's words."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from reduce.model.decision import Decision, Rejected
from reduce.model.record import replace
from reduce.model.score import Score
from reduce.model.texture import Lead, Stream

if TYPE_CHECKING:
    from reduce.analyse.melody import Survey

# What may be said: measurement, how much more (or, negative, less) of it than the rival is worth one point, words for the
# tune, words for the rival that lacks it.
Spoken = tuple[str, float, str, str]
SPOKEN: tuple[Spoken, ...] = (
    ("onsets-lead.bar", 0.8, "it moves while the others hold", "holds meanwhile"),
    ("top.bar", 0.5, "it lies highest", "lies below it"),
    ("steps.phrase", 0.3, "it sings by step", "moves less by step"),
    ("new-theme.phrase", 0.5, "it brings new material", "goes on with the same figure"),
    ("entries.bar", 0.25, "it enters after a rest", "was already playing"),
    ("doubled.phrase", 1.5, "more players share it", "has fewer players"),
    ("alone.bar", 0.4, "it plays alone", "is silent or covered"),
    ("values.phrase", 0.2, "its rhythm is the most varied", "keeps an even rhythm"),
    ("sign-marked", 0.6, "it is marked to come forward", "has no such mark"),
    ("sign-louder", 1.0, "it is marked louder", "is marked softer"),
    ("sign-legato", 0.5, "it is slurred like song", "is not slurred"),
    ("first-line.before", 0.5, "it led just before", "was in the background before"),
    ("ostinato-rhythm.phrase", -0.8, "the other only repeats a pattern", "repeats a pattern"),
    ("repeats.phrase", -0.3, "the other repeats one note", "repeats one note"),
    ("struck-with.phrase", -0.3, "its rhythm is its own", "moves with the accompaniment"),
    ("chordal.phrase", -0.5, "the other plays chords", "plays chords"),
    ("low.bar", -0.5, "the other is the bass", "is the bass"),
    ("shakes.phrase", -0.3, "the other only trembles", "only trembles"),
    ("sign-plucked", -0.6, "the other is plucked", "is plucked"),
)
_AT_ONCE = ("entries.bar", "first-line.before")  # true of the beginning of a lead, not of all of it
_LEAST = 0.3  # points from which a reason is worth saying


def explained(
    score: Score, streams: Sequence[Stream], seen: Survey, leads: Sequence[Lead]
) -> tuple[tuple[Lead, ...], tuple[Decision, ...]]:
    """The leads with their strongest reasons written in, and one decision a lead: who has the tune, the two strongest
    reasons, how sure it is, and who came second."""
    import numpy as np

    first_heard = _first_heard(seen)
    features = seen.evidence.features
    spoken = [each for each in SPOKEN if each[0] in features]
    measured = [np.ascontiguousarray(features[each[0]].T) for each in spoken]
    reasons = [_reasons(score, seen, lead, first_heard, spoken, measured) for lead in leads]
    found = tuple(replace(lead, evidence=good[:4]) for lead, (good, _) in zip(leads, reasons, strict=True))
    return found, _told(score, streams, found, [lack for _, lack in reasons])


def _told(score: Score, streams: Sequence[Stream], leads: Sequence[Lead], lacks: Sequence[str]) -> tuple[Decision, ...]:
    decisions = []
    before = -1
    for number, (lead, lack) in enumerate(zip(leads, lacks, strict=True)):
        first, last = bars_of(score, lead)
        stays = lead.stream == before
        before = lead.stream
        because = " and ".join(words for words, _ in lead.evidence[:2])
        if lead.runner_up is not None:
            because = because.replace("the other ", f"{streams[lead.runner_up].name} ")
        second = ""
        rejected: tuple[Rejected, ...] = ()
        if lead.runner_up is not None:
            rival = streams[lead.runner_up].name
            second = f"; runner-up {rival} ({lead.runner_up_share:.0%})"
            rejected = (Rejected(what=rival, why=lack or "weaker on the whole"),)
        decisions.append(
            Decision(
                id=f"melody-{number + 1}",
                kind="melody",
                bars=(first, last),
                onset=lead.start,
                sentence=f"{where(score, first, last)}: the tune {'stays with' if stays else 'is in'} {streams[lead.stream].name}"
                f"{f', because {because}' if because else ''}{second}.",
                hand="right",
                weight="medium" if stays else "big",
                certainty=lead.certainty,
                rule="melody.best-path",
                setting="melody.best-path.line-change",
                source_notes=lead.notes,
                rejected=rejected,
            )
        )
    return tuple(decisions)


def where(score: Score, first: int, last: int) -> str:
    """'Bar 5' or 'Bars 5–8', as printed."""
    if first == last:
        return f"Bar {score.bars[first].number}"
    return f"Bars {score.bars[first].number}–{score.bars[last].number}"


def bars_of(score: Score, lead: Lead) -> tuple[int, int]:
    """First and last bar index of a lead, by its notes."""
    return score.note_by_id[lead.notes[0]].bar, score.note_by_id[lead.notes[-1]].bar


def _reasons(
    score: Score, seen: Survey, lead: Lead, first_heard: Any, spoken: Sequence[Spoken], measured: Any
) -> tuple[tuple[tuple[str, float], ...], str]:
    """Reasons with their points, strongest first, and what the runner-up lacks most.

    ``measured`` holds what ``spoken`` names, [stream, beat].  A reason against the other is only given where there is one.
    """
    first, last = seen.grid.at(lead.start), seen.grid.at(lead.end - 1) + 1
    rival = lead.runner_up
    found: list[tuple[float, str, str]] = []
    mine = _means(measured, lead.stream, spoken, first, last)
    theirs = _means(measured, rival, spoken, first, last) if rival is not None else [0.0] * len(mine)
    for (_, scale, words, lack), one, other in zip(spoken, mine, theirs, strict=True):
        if rival is not None or scale >= 0:
            found.append(((one - other) / scale, words, lack))
    bar = _earlier(score, seen, lead, first_heard)
    if bar:
        found.append((3.0, f"it brings back the theme of bar {bar}", "has no theme that returns"))
    found.sort(key=lambda r: -r[0])
    good = tuple((words, round(min(points, 9.99), 2)) for points, words, _ in found if points >= _LEAST)
    return good, found[0][2] if found and found[0][0] >= _LEAST else ""


def _means(measured: Sequence[Any], stream: int, spoken: Sequence[Spoken], first: int, last: int) -> list[float]:
    """The mean of each measurement over the beats of a lead, or what it is in the first of them."""
    import numpy as np

    total = np.add.reduce
    return [
        float(table[stream, first] if each[0] in _AT_ONCE else table.dtype.type(total(table[stream, first:last]) / (last - first)))
        for table, each in zip(measured, spoken, strict=True)
    ]


def _first_heard(seen: Survey) -> Any:
    """For each note of all lines: the beat in which the figure that starts there was first heard (-1 where none starts)."""
    import numpy as np

    events = seen.evidence.events
    kinds = next(g for g in events.grams if g.name == "theme").kind_of
    found = np.full(len(kinds), -1, dtype=np.int64)
    start = np.flatnonzero(kinds >= 0)
    if len(start):
        earliest = np.full(int(kinds.max()) + 1, 1 << 40, dtype=np.int64)
        np.minimum.at(earliest, kinds[start], events.beat[start])
        found[start] = earliest[kinds[start]]
    return found


def _earlier(score: Score, seen: Survey, lead: Lead, first_heard: Any) -> str:
    """The printed bar where the material of this lead was first heard, if at least half of its figures were heard before; else ''."""
    import numpy as np

    events = seen.evidence.events
    low, high = np.searchsorted(events.stream, [lead.stream, lead.stream + 1])
    a, b = low + np.searchsorted(events.onset[low:high], [lead.start, lead.end])
    beats = first_heard[a:b]
    beats = beats[beats >= 0]
    before = beats[beats < seen.grid.at(lead.start) - 2 * seen.grid.per_bar]
    if not len(before) or 2 * len(before) < len(beats):
        return ""
    heard: Counter[int] = Counter(seen.grid.bars[beat] for beat in before.tolist())
    most = max(heard.values())
    return score.bars[min(bar for bar, n in heard.items() if n == most)].number
