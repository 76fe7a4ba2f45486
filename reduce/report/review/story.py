"""The draft told in the order a teacher asks: whose level, what was not understood, what was decided, where it is hard."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from itertools import groupby
from typing import Any

from reduce.model.record import dataclass
from reduce.report.review.index import Index
from reduce.report.review.material import Row

MOST_LINES = 8
_NAMED = 4  # owners of the tune, or figures, told one by one
_MAJORS = ("C♭", "G♭", "D♭", "A♭", "E♭", "B♭", "F", "C", "G", "D", "A", "E", "B", "F♯", "C♯")
_MINORS = ("A♭", "E♭", "B♭", "F", "C", "G", "D", "A", "E", "B", "F♯", "C♯", "G♯", "D♯", "A♯")
_LOADS = (0.35, 0.7, 1.0, 1.4)  # shares of the piece's heaviest comfortable bar that part the five grades of the strip


@dataclass(frozen=True, slots=True)
class Headline:
    """A big decision in one line; ``rows`` are the places of the decisions behind it in the log."""

    topic: str
    sentence: str
    rows: tuple[int, ...]


def verdict_line(index: Index) -> str:
    """'Late beginner, C major, 24 bars, quarter = 88. No breaches, 3 to weigh, 2 hard spots.'"""
    facts, draft = index.material.facts, index.material.draft
    counts = facts["counts"]["breaches"]
    tempo = next((tempo.quarters for tempo in draft.tempos if tempo.quarters), None)
    told = [str(facts["settings"]["level_title"]), key_name(index), f"{len(draft.bars)} bars"]
    if tempo:
        told.append(f"quarter = {round(tempo)}")
    found = [
        number(counts["hard"], "hard breach", "hard breaches"), f"{counts['soft'] or 'none'} to weigh",
        number(len(facts.get("hard_spots", ())), "hard spot"),
    ]  # fmt: skip
    return f"{', '.join(filter(None, told))}. {', '.join(found).capitalize()}."


def key_name(index: Index) -> str:
    """The key of the first bar."""
    bars = index.material.draft.bars
    if not bars or abs(bars[0].key.fifths) > 7:
        return ""
    key = bars[0].key
    return f"{_MINORS[key.fifths + 7]} minor" if key.mode == "minor" else f"{_MAJORS[key.fifths + 7]} major"


def number(count: int, one: str, many: str = "") -> str:
    """'no bars', '1 bar', '2 bars'."""
    return f"{count or 'no'} {one if count == 1 else many or one + 's'}"


def headlines(index: Index) -> list[Headline]:
    """At most eight lines: what the arranger decided herself, key, length, tempo, tune, bass, left hand, what was left out."""
    rows = list(enumerate(index.material.decisions))
    hers = [(place, row) for place, row in rows if row["by"] == "arranger" and row["rule"] == "choices"]
    told = [
        _few("Your choices", hers),
        _first("Key", [(p, r) for p, r in rows if r["kind"] == "key" and (p, r) not in hers]),
        _first("Length", [(p, r) for p, r in rows if r["kind"] == "cut" and (p, r) not in hers]),
        _first("Metre and tempo", [(p, r) for p, r in rows if r["kind"] == "tempo" or r["rule"].startswith("rhythm.meter")]),
        _line("Tune", "The tune is {}.", rows, "melody", index),
        _line("Bass", "The bass is {}.", rows, "bass", index),
        _few("Left hand", [(p, r) for p, r in rows if r["kind"] == "figure"]),
        _left_out(index, rows),
    ]
    return [line for line in told if line is not None][:MOST_LINES]


def _first(topic: str, rows: Sequence[tuple[int, Row]]) -> Headline | None:
    """The weightiest decision of a topic, and the places of all."""
    if not rows:
        return None
    ranked = sorted(rows, key=lambda item: ("big", "medium", "small").index(item[1]["weight"]))
    return Headline(topic, ranked[0][1]["sentence"], tuple(place for place, _ in rows))


def _few(topic: str, rows: Sequence[tuple[int, Row]]) -> Headline | None:
    """One or two sentences as they stand; of more, the first and how many follow."""
    if not rows:
        return None
    places = tuple(place for place, _ in rows)
    sentences = list(dict.fromkeys(row["sentence"] for _, row in rows))
    more = f" And {number(len(sentences) - 2, 'other stretch', 'other stretches')}." if len(sentences) > 2 else ""
    return Headline(topic, " ".join(sentences[:2]) + more, places)


def _line(topic: str, words: str, rows: Iterable[tuple[int, Row]], kind: str, index: Index) -> Headline | None:
    """Who has tune or bass, in order; one decision is told in its own words."""
    mine = [(place, row) for place, row in rows if row["kind"] == kind]
    if len(mine) == 1:
        return Headline(topic, mine[0][1]["sentence"], (mine[0][0],))
    held: list[tuple[str, str, str]] = []
    for name, stretch in groupby(((index.owner(row), row) for _, row in mine), key=lambda item: item[0]):
        members = [row for _, row in stretch]
        first, last = index.span(members[0]["bars"]), index.span(members[-1]["bars"])
        if name and first and last:
            held.append((name, index.numbers[first[0]], index.numbers[last[1]]))
    if not held:
        return None
    told = [f"{name}’s in bar{'s' if first != last else ''} {first}{'–' + last if first != last else ''}" for name, first, last in held]
    more = f", with {number(len(told) - _NAMED, 'more change')}" if len(told) > _NAMED else ""
    return Headline(topic, words.format(", then ".join(told[:_NAMED]) + more), tuple(place for place, _ in mine))


def _left_out(index: Index, rows: Sequence[tuple[int, Row]]) -> Headline | None:
    here = [row for row in index.rows if row["bar"] in index.by_number]
    gone = [row for row in here if row["fate"] == "dropped"]
    if not here:
        return None
    doubled = sum(row["fate"] == "merged" for row in here)
    most = [f"{part} ({count})" for part, count in Counter(str(row["part"]) for row in gone).most_common(3)]
    named = f", most of them of {', '.join(most)}" if gone else ""
    ids = {row["decision"] for row in gone}
    places = tuple(place for place, row in rows if row["id"] in ids)
    sentence = f"{len(gone)} of {len(here)} notes are not heard in the draft{named}; {doubled} more only double another note."
    return Headline("Left out", sentence, places)


@dataclass(frozen=True, slots=True)
class Cell:
    """A bar of the strip: its printed number, load from 1 to 5, and what makes it hard."""

    number: str
    grade: int
    load: float
    heavy: bool
    spots: tuple[str, ...]
    parts: tuple[tuple[str, float], ...]


def strip(index: Index) -> list[Cell]:
    """One cell a bar.  The grades are shares of what is usual in the piece's harder half, so that every piece shows its hills."""
    facts = index.material.facts
    load = list(facts.get("load", ()))
    spots: dict[str, list[str]] = {}
    for spot in facts.get("hard_spots", ()):
        for name in (spot["bar"], *spot.get("also", ())):
            spots.setdefault(name, []).append(_spot_words(spot))
    totals = sorted(float(bar["total"]) for bar in load)
    usual = totals[len(totals) * 3 // 4] if totals else 1.0
    cells = []
    for place, name in enumerate(index.numbers):
        bar: Mapping[str, Any] = load[place] if place < len(load) else {"total": 0.0, "parts": {}}
        share = float(bar["total"]) / (usual or 1.0)
        grade = 1 + sum(share > edge for edge in _LOADS)
        heavy = bool(bar.get("over_budget")) or bool(bar.get("outlier"))
        parts = tuple(sorted(((str(k), float(v)) for k, v in bar["parts"].items()), key=lambda part: -part[1]))
        cells.append(Cell(name, grade, float(bar["total"]), heavy, tuple(spots.get(name, ())), parts))
    return cells


def _spot_words(spot: Mapping[str, Any]) -> str:
    hand = "" if spot["hand"] == "both" else f"{spot['hand']} hand: "
    return f"{hand}{spot['sentence'].rstrip('.')}."
