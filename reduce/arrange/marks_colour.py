"""The moments that listeners wait for: drum, cymbal, general pause.  What they become, and where."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence

from reduce.arrange.line import bar_at
from reduce.model.decision import Decision
from reduce.model.record import dataclass
from reduce.model.rules import Rules
from reduce.model.score import Bar, Score


@dataclass(frozen=True, slots=True)
class Event:
    """An entrance worth keeping: ``kind`` drum or cymbal, its ``onset``, its source notes, and the drum's sounding pitch (0 = none)."""

    onset: int
    kind: str
    name: str
    midi: int = 0
    notes: tuple[str, ...] = ()


def colour(score: Score, rules: Rules, bars: Sequence[Bar]) -> tuple[tuple[Event, ...], tuple[Decision, ...]]:
    """The entrances of drums and cymbals in the kept bars that are events, and a decision for each.

    A drum is an event where it enters after the silence of ``marks.colour.silence-bars``.  The draft gives it weight: an accent on the
    lowest note struck there (from the level that has accents), else the dynamic alone.
    """
    if not bars:
        return (), ()
    start, end = bars[0].start, bars[-1].end
    silence = rules.number("marks.colour.silence-bars")
    found: list[Event] = []
    drums = {part.index for part in score.parts if part.instrument == "timpani" or part.name.lower().startswith(("timp", "pauk"))}
    last: dict[int, int] = {}
    for note in score.notes:
        if note.part not in drums or note.kind != "struck":
            continue
        gap = silence * bar_at(bars, note.onset).length
        if start <= note.onset < end and note.onset - last.get(note.part, -(10**9)) > gap:
            found.append(Event(note.onset, "drum", "drum", note.midi, (note.id,)))
        last[note.part] = max(last.get(note.part, 0), note.end)
    for stroke in score.strokes:
        gap = silence * bar_at(bars, stroke.onset).length
        if start <= stroke.onset < end and stroke.onset - last.get(-1 - stroke.part, -(10**9)) > gap:
            found.append(Event(stroke.onset, "cymbal", score.parts[stroke.part].name.lower() or "percussion", 0, (stroke.id,)))
        last[-1 - stroke.part] = stroke.onset + stroke.duration
    found = [event for event in found if not _soft(event.onset, score)]
    found.sort(key=lambda event: (event.onset, event.kind))
    events = _spaced(found, bars, rules)
    return events, tuple(_told(number, event, bars, rules) for number, event in enumerate(events, 1))


def _soft(onset: int, score: Score) -> bool:
    """Whether the last dynamics before a moment are mostly piano: a soft drum colours, it does not strike."""
    before = [mark for mark in score.marks if mark.kind == "dynamic" and mark.onset <= onset]
    latest = max((mark.onset for mark in before), default=0)
    words = [mark.text for mark in before if mark.onset == latest]
    return bool(words) and 2 * sum(word.strip("p") == "" or word == "mp" for word in words) > len(words)


def _spaced(found: Sequence[Event], bars: Sequence[Bar], rules: Rules) -> tuple[Event, ...]:
    """At most so many events in any eight bars; of two at one moment the drum."""
    most = rules.whole("marks.colour.events-a-section")
    kept: list[Event] = []
    starts = [bar.start for bar in bars]
    places: list[int] = []
    for event in found:
        place = bisect_right(starts, event.onset) - 1
        if kept and kept[-1].onset == event.onset:
            continue
        if sum(1 for other in places if place - other < 8) >= most:
            continue
        kept.append(event)
        places.append(place)
    return tuple(kept)


def _told(number: int, event: Event, bars: Sequence[Bar], rules: Rules) -> Decision:
    bar = bar_at(bars, event.onset)
    accent = "accent" in rules.level.articulations
    how = "kept as an accent" if accent else "told by the dynamic alone"
    because = "listeners wait for it" if accent else "this level has no accents yet"
    if event.kind == "cymbal":
        because = "it has no pitch and never becomes a note" if accent else "it has no pitch and this level has no accents yet"
    return Decision(
        id=f"colour-{number}",
        kind="notation",
        bars=(bar.index, bar.index),
        sentence=f"Bar {bar.number}: the {event.name}'s entrance is {how}, because {because}.",
        onset=event.onset,
        hand="left",
        rule="marks.colour",
        setting="marks.colour.silence-bars",
        source_notes=event.notes,
    )
