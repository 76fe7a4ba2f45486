"""Two drafts of one piece side by side: which bars differ, by which notes, and what caused it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import field
from fractions import Fraction
from typing import Any

from reduce.model.draft import Draft, DraftNote
from reduce.model.record import dataclass
from reduce.report.compare_causes import caused, causes, only_here
from reduce.report.places import plain

HANDS = ("right", "left")
Bar = tuple[str, int]  # printed number, and how often it was printed before


@dataclass(frozen=True, kw_only=True)
class Side:
    """One of the two drafts: what its folder is called, ``report.json``, the rows of ``decisions.jsonl``, the draft itself."""

    name: str
    facts: Mapping[str, Any]
    decisions: Sequence[Mapping[str, Any]]
    draft: Draft


@dataclass(frozen=True, slots=True)
class Struck:
    """A note by its place in its bar, in quarters, at the pitch of the first draft's key; ``pitch`` as it is written."""

    onset: Fraction
    midi: int
    length: Fraction
    grace: bool
    pitch: str = field(compare=False)

    @property
    def place(self) -> tuple[Fraction, int, bool]:
        return (self.onset, self.midi, self.grace)


def comparison(before: Side, after: Side) -> dict[str, Any]:
    """What differs from ``before`` to ``after``, as plain values.

    ``different`` names what was asked for differently (level, setting, choice, version ...); ``bars`` are the bars that differ with
    notes added and removed by hand, the causes that come into question there and the load before and after; bars that only one of
    them has stand in ``only_before`` and ``only_after``.  Where the second draft is in another key its notes are moved back for the
    comparison.
    """
    shift = _shift(before, after)
    first, second = _bars(before.draft), _bars(after.draft)
    all_causes = causes(before.facts, after.facts, before.decisions, after.decisions)
    gone, new = only_here(before.decisions, after.decisions), only_here(after.decisions, before.decisions)
    load = [_load(before), _load(after)]
    strikes = [_struck(before.draft, 0), _struck(after.draft, shift)]
    signs = [_signs(before.draft, 0), _signs(after.draft, shift)]
    found = []
    for bar in first:
        if bar not in second:
            continue
        hands = {hand: _hand(strikes[0].get((bar, hand), []), strikes[1].get((bar, hand), [])) for hand in HANDS}
        other_signs = signs[0].get(bar) != signs[1].get(bar)
        if not other_signs and not any(any(hands[hand].values()) for hand in HANDS):
            continue
        told = [row for row in (*gone, *new) if _covers(row, bar[0])]
        found.append({
            "bar": bar[0],
            **{hand: {what: [_name(one) for one in notes] for what, notes in hands[hand].items()} for hand in HANDS},
            "signs_only": not any(any(hands[hand].values()) for hand in HANDS),
            "load": [load[0].get(bar), load[1].get(bar)],
            "causes": [cause.told for cause in caused(all_causes, bar[0], told)],
            "was": [row["sentence"] for row in gone if _covers(row, bar[0])],
            "is": [row["sentence"] for row in new if _covers(row, bar[0])],
        })  # fmt: skip
    return {
        "before": before.name,
        "after": after.name,
        "moved_semitones": shift,
        "different": [cause.told for cause in all_causes],
        "bars": found,
        "same_bars": sum(bar in second for bar in first) - len(found),
        "only_before": [bar[0] for bar in first if bar not in second],
        "only_after": [bar[0] for bar in second if bar not in first],
    }


def _shift(before: Side, after: Side) -> int:
    """How many semitones higher the second draft stands."""
    return int(after.facts["draft"]["transposed_semitones"]) - int(before.facts["draft"]["transposed_semitones"])


def _bars(draft: Draft) -> dict[Bar, int]:
    """The bars by printed number; a number printed twice counts on."""
    seen: Counter[str] = Counter()
    found = {}
    for place, bar in enumerate(draft.bars):
        found[bar.number, seen[bar.number]] = place
        seen[bar.number] += 1
    return found


def notes_by_bar(draft: Draft) -> Iterable[tuple[Bar, int, DraftNote]]:
    """Every note with its bar and the bar's first tick."""
    keys = list(_bars(draft))
    starts = [bar.start for bar in draft.bars]
    place = 0
    for note in sorted(draft.notes, key=lambda n: n.onset):
        while place + 1 < len(starts) and starts[place + 1] <= note.onset:
            place += 1
        yield keys[place], starts[place], note


def struck(note: DraftNote, start: int, resolution: int, shift: int) -> Struck:
    """A note as it is compared."""
    onset = Fraction(note.onset - start, resolution)
    return Struck(onset, note.midi - shift, Fraction(note.duration, resolution), note.grace, str(note.pitch))


def _struck(draft: Draft, shift: int) -> dict[tuple[Bar, str], list[Struck]]:
    found: dict[tuple[Bar, str], list[Struck]] = {}
    for bar, start, note in notes_by_bar(draft):
        found.setdefault((bar, note.hand), []).append(struck(note, start, draft.resolution, shift))
    return found


def _hand(before: Sequence[Struck], after: Sequence[Struck]) -> dict[str, list[Struck]]:
    """Notes that only one of the drafts has, and those whose length alone changed (as they are now)."""
    gone, new = Counter(before) - Counter(after), Counter(after) - Counter(before)
    longer: list[Struck] = []
    for one in list(new.elements()):
        twin = next((other for other in gone.elements() if other.place == one.place), None)
        if twin is not None:
            gone[twin] -= 1
            new[one] -= 1
            longer.append(one)
    return {
        what: sorted(notes, key=lambda one: one.place)
        for what, notes in (("removed", gone.elements()), ("added", new.elements()), ("length", longer))
    }


def _signs(draft: Draft, shift: int) -> dict[Bar, tuple[object, ...]]:
    """Fingers, articulations, ornaments and marks of each bar, so that bars that differ by them alone are found too."""
    found: dict[Bar, list[object]] = {}
    for bar, start, note in notes_by_bar(draft):
        if note.finger or note.articulations or note.ornaments or note.fermata or note.arpeggio:
            found.setdefault(bar, []).append((
                Fraction(note.onset - start, draft.resolution), note.midi - shift, note.finger, note.articulations, note.ornaments,
                note.fermata, note.arpeggio,
            ))  # fmt: skip
    keys = list(_bars(draft))
    starts = [bar.start for bar in draft.bars]
    for mark in draft.marks:
        for edge, moment in (("from", mark.onset), ("to", mark.end)):
            last = moment - (edge == "to" and mark.end > mark.onset)  # an end on the bar line belongs to the bar before
            place = max((k for k, start in enumerate(starts) if start <= last), default=0)
            if keys:
                at = Fraction(moment - starts[place], draft.resolution)
                found.setdefault(keys[place], []).append((mark.kind, mark.text, mark.hand, edge, at))
    return {bar: tuple(sorted(map(repr, signs))) for bar, signs in found.items()}


def _load(side: Side) -> dict[Bar, float]:
    rows = side.facts.get("load", ())
    return {bar: float(rows[place]["total"]) for bar, place in _bars(side.draft).items() if place < len(rows)}


def _covers(row: Mapping[str, Any], bar: str) -> bool:
    first, last = row["bars"]
    return bar in (first, last) or (bar.isdecimal() and first.isdecimal() and last.isdecimal() and int(first) <= int(bar) <= int(last))


def _name(one: Struck) -> dict[str, Any]:
    return {"beat": plain(one.onset), "pitch": one.pitch, "midi": one.midi, "quarters": plain(one.length)}
