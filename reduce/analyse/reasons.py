"""Why this line and not that one, in a musician's words."""

from __future__ import annotations

from collections import Counter
from collections.abc import Container, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from reduce.model.decision import Decision, Rejected
from reduce.model.record import dataclass, replace
from reduce.model.score import Score
from reduce.model.texture import Lead, Stream

if TYPE_CHECKING:
    from reduce.analyse.melody import Survey


@dataclass(frozen=True, slots=True, kw_only=True)
class Spoken:
    """One thing that may be said for a line, or ``against`` the one that came second.

    So much more of the measurement ``of`` as ``scale`` (negative: so much less) than the rival is worth one point.  The words are
    said only where they are true by themselves: where the line they speak of has at least ``least`` and at most ``most``.  Of reasons
    with one ``topic`` only the strongest is given.
    """

    of: str
    scale: float
    topic: str
    words: str
    lack: str = ""  # of the rival; a reason against it says what that is
    least: float = -99.0
    most: float = 99.0
    against: bool = False


SPOKEN: tuple[Spoken, ...] = (
    Spoken(of="top.bar", scale=0.5, topic="height", words="it lies highest", lack="lies below it", least=0.6),
    Spoken(of="steps.phrase", scale=0.3, topic="step", words="it sings by step", lack="moves less by step", least=0.4),
    Spoken(of="sign-legato", scale=0.5, topic="step", words="it is slurred like song", lack="is less slurred", least=0.5),
    Spoken(of="even.phrase", scale=-0.4, topic="rhythm", words="its rhythm is varied", lack="moves in more even notes", most=0.5),
    Spoken(of="struck-with.phrase", scale=-0.3, topic="rhythm", words="its rhythm is its own", lack="moves with the others", most=0.35),
    Spoken(of="alone.bar", scale=0.4, topic="motion", words="it plays alone", lack="is silent or covered", least=0.6),
    Spoken(of="new-theme.phrase", scale=0.5, topic="theme", words="it brings new material", lack="goes on with its figure", least=0.6),
    Spoken(of="answers-theme.bar", scale=0.6, topic="theme", words="it answers the phrase before", lack="answers nothing", least=0.5),
    Spoken(of="entries.bar", scale=0.25, topic="entry", words="it enters after a rest", lack="was already playing", least=0.15),
    Spoken(of="first-line.before", scale=0.5, topic="entry", words="it led just before", lack="was in the background before", least=0.4),
    Spoken(of="doubled.phrase", scale=1.5, topic="players", words="more players share it", lack="has fewer players", least=1.0),
    Spoken(of="sign-marked", scale=0.6, topic="mark", words="it is marked to come forward", lack="has no such mark", least=0.4),
    Spoken(of="sign-louder", scale=1.0, topic="mark", words="it is marked louder", lack="is marked softer", least=0.3),
    Spoken(of="repeats.phrase", scale=-0.3, topic="figure", words="the other repeats one note", least=0.6, against=True),
    Spoken(of="ostinato-rhythm.phrase", scale=-0.8, topic="figure", words="the other keeps to one rhythm", least=1.6, against=True),
    Spoken(of="chordal.phrase", scale=-0.5, topic="figure", words="the other plays chords", least=0.6, against=True),
    Spoken(of="shakes.phrase", scale=-0.3, topic="figure", words="the other only trembles", least=0.5, against=True),
    Spoken(of="low.bar", scale=-0.5, topic="height", words="the other lies lowest", least=0.6, against=True),
)
MOVES = Spoken(of="", scale=1.0, topic="motion", words="it moves while the others hold", lack="holds meanwhile")
RETURNS = Spoken(of="", scale=1.0, topic="theme", words="it brings back the theme of bar ", lack="does not have that theme")
SAME = Spoken(of="", scale=1.0, topic="theme", words="the same notes are the tune in bar {}")
_SAME = 4.0  # points
_AT_ONCE = ("entries.bar", "first-line.before")  # true of the beginning of a lead, not of all of it
_OF_WHO_STAYS = ("first-line.before",)
_LEAST = 0.3  # points from which a reason is worth saying


def explained(
    score: Score, streams: Sequence[Stream], seen: Survey, leads: Sequence[Lead], drawn: Mapping[int, int]
) -> tuple[tuple[Lead, ...], tuple[Decision, ...]]:
    """The leads with their strongest reasons written in, and one decision a lead: who has the tune, the two strongest
    reasons, how sure it is, and who came second.  ``drawn``: the bar (index) that settled who leads a beat, where another one did."""
    import numpy as np

    first_heard = _first_heard(seen)
    features = seen.evidence.features
    spoken = [each for each in SPOKEN if each.of in features]
    measured = [np.ascontiguousarray(features[each.of].T) for each in spoken]
    reasons = [
        _reasons(score, seen, lead, bool(place) and lead.stream == leads[place - 1].stream, first_heard, spoken, measured, drawn)
        for place, lead in enumerate(leads)
    ]
    found = tuple(replace(lead, evidence=good[:4]) for lead, (good, _) in zip(leads, reasons, strict=True))
    return found, _told(score, streams, found, [lack for _, lack in reasons], {lead.start for lead in leads if lead.evidence})


def _told(
    score: Score, streams: Sequence[Stream], leads: Sequence[Lead], lacks: Sequence[str], answers: Container[int]
) -> tuple[Decision, ...]:
    decisions = []
    before = -1
    for number, (lead, lack) in enumerate(zip(leads, lacks, strict=True)):
        first, last = bars_of(score, lead)
        stays = lead.stream == before
        before = lead.stream
        because = " and ".join(words for words, _ in lead.evidence[:2])
        if lead.runner_up is not None:
            because = because.replace("the other ", f"{streams[lead.runner_up].name} ")
        told = f", because {because}" if because else ", though little sets it apart" if lead.runner_up is not None else ""
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
                f"{told}{second}.",
                hand="right",
                weight="medium" if stays else "big",
                certainty=lead.certainty,
                rule="melody.answers" if lead.start in answers else "melody.best-path",
                setting="melody.answers.head" if lead.start in answers else "melody.best-path.line-change",
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
    score: Score,
    seen: Survey,
    lead: Lead,
    stays: bool,
    first_heard: Any,
    spoken: Sequence[Spoken],
    measured: Any,
    drawn: Mapping[int, int],
) -> tuple[tuple[tuple[str, float], ...], str]:
    """Reasons with their points, and what the runner-up lacks most.

    The first speaks for the line wherever one does: what is wrong with the rival alone makes no tune.  The others follow by strength.

    Args:
        score: for the bar numbers.
        seen: all measurements.
        lead: to explain.
        stays: whether the line led before it.
        first_heard: by `_first_heard`.
        spoken: what may be said.
        measured: what ``spoken`` names, [stream, beat].
        drawn: the bar (index) that settled who leads a beat, where another one did.
    """
    if lead.evidence:  # an answer says itself why it leads
        return lead.evidence, ""
    if seen.desks[lead.stream] == "percussion":  # a drum leads for no other reason
        return (("it is all that is heard", _SAME),), ""
    first, last = seen.grid.at(lead.start), seen.grid.at(lead.end - 1) + 1
    rival = lead.runner_up
    mine = _means(measured, lead.stream, spoken, first, last)
    theirs = _means(measured, rival, spoken, first, last) if rival is not None else [0.0] * len(mine)
    found: list[tuple[float, Spoken]] = []
    for each, one, other in zip(spoken, mine, theirs, strict=True):
        if (each.against and rival is None) or (each.of in _OF_WHO_STAYS and not stays):
            continue
        if each.least <= (other if each.against else one) <= each.most:
            found.append(((one - other) / each.scale, each))
    ratio = _liveliness(seen, lead, first, last)
    if ratio:
        found.append((ratio, MOVES))
    bar = _earlier(score, seen, lead.stream, lead, first_heard)
    if bar:
        shared = rival is not None and _earlier(score, seen, rival, lead, first_heard) != ""
        found.append((1.0 if shared else 3.0, replace(RETURNS, words=RETURNS.words + bar, lack="" if shared else RETURNS.lack)))
    model = next((drawn[beat] for beat in range(first, last) if beat in drawn), None)
    if model is not None:
        found.append((_SAME, replace(SAME, words=SAME.words.format(score.bars[model].number))))
    found = sorted((each for each in found if each[0] >= _LEAST), key=lambda each: -each[0])
    for_it = next((each for each in found if not each[1].against), None)
    ranked = found if for_it is None else [for_it, *(each for each in found if each is not for_it)]
    good: dict[str, tuple[str, float]] = {}
    for points, each in ranked:
        good.setdefault(each.topic, (each.words, round(min(points, 9.99), 2)))
    lacks = (each.words.removeprefix("the other ") if each.against else each.lack for _, each in found)
    return tuple(good.values()), next((lack for lack in lacks if lack), "")


def _liveliness(seen: Survey, lead: Lead, first: int, last: int) -> float:
    """Points for moving while all others hold: where each other line strikes at most half as many notes; 0 where it is not so."""
    import numpy as np

    struck = seen.evidence.struck[first:last].sum(axis=0)
    others = np.where(seen.doubled[first:last, lead.stream].mean(axis=0) > 0.4, 0, struck)
    others[[lead.stream, *lead.doubled_by]] = 0
    others[[stream for stream, kind in enumerate(seen.desks) if kind == "percussion"]] = 0
    most, own = float(others.max()), float(struck[lead.stream])
    playing = seen.evidence.active[first:last].any(axis=0)
    if own < 3 or 2 * most > own or playing.sum() < 2 + len(lead.doubled_by):
        return 0.0
    return 1.0 + min(own / (most + 1.0), 6.0) / 3


def _means(measured: Sequence[Any], stream: int, spoken: Sequence[Spoken], first: int, last: int) -> list[float]:
    """The mean of each measurement over the beats of a lead, or what it is in the first of them."""
    import numpy as np

    total = np.add.reduce
    return [
        float(table[stream, first] if each.of in _AT_ONCE else table.dtype.type(total(table[stream, first:last]) / (last - first)))
        for table, each in zip(measured, spoken, strict=True)
    ]


def _first_heard(seen: Survey) -> Any:
    """For each note of all lines: the beat in which the figure that starts there first had the tune (-1 where none starts)."""
    import numpy as np

    events = seen.evidence.events
    kinds = next(g for g in events.grams if g.name == "theme").kind_of
    found = np.full(len(kinds), -1, dtype=np.int64)
    start = np.flatnonzero(kinds >= 0)
    if len(start):
        earliest = np.full(int(kinds.max()) + 1, 1 << 40, dtype=np.int64)
        led = start[seen.likely[events.beat[start], events.stream[start]] >= 0.5]
        np.minimum.at(earliest, kinds[led], events.beat[led])
        found[start] = earliest[kinds[start]]
    return found


def _earlier(score: Score, seen: Survey, stream: int, lead: Lead, first_heard: Any) -> str:
    """The printed bar where a line's figures during this lead first led, if at least half of them led before; else ''."""
    import numpy as np

    events = seen.evidence.events
    low, high = np.searchsorted(events.stream, [stream, stream + 1])
    a, b = low + np.searchsorted(events.onset[low:high], [lead.start, lead.end])
    beats = first_heard[a:b]
    beats = beats[beats >= 0]
    before = beats[beats < seen.grid.at(lead.start) - 2 * seen.grid.per_bar]
    if not len(before) or 2 * len(before) < len(beats):
        return ""
    heard: Counter[int] = Counter(seen.grid.bars[beat] for beat in before.tolist())
    most = max(heard.values())
    return score.bars[min(bar for bar, n in heard.items() if n == most)].number
