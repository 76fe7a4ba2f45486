"""Who answers for which note: the numbers and names that the page's drawings, lists and player share."""

from __future__ import annotations

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Mapping
from fractions import Fraction
from typing import Any

from reduce.model.score import Bar
from reduce.report.places import plain
from reduce.report.review.material import Material, Row, places

ROLES = ("tune", "bass", "inner")
SIGNS = ("", "octave", "rhythm", "added")
FATES = ("kept", "moved", "merged", "simplified", "dropped")
_OF_THE_PAGE = ("fingering", "notation")  # kinds that say how a note is printed, not why it is there
_SPOKEN_BY_BARS = ("figure", "rhythm", "octave", "hand")  # kinds that speak of every note of a hand in their bars


class Index:
    """The material looked at from its notes."""

    def __init__(self, material: Material) -> None:
        self.material = material
        draft = material.draft
        self.numbers = [bar.number for bar in draft.bars]
        self.starts = [bar.start for bar in draft.bars]
        self.by_number: dict[str, int] = {}
        for place, number in enumerate(self.numbers):
            self.by_number.setdefault(number, place)
        self.draft_place = {name: place for place, name in enumerate(material.draft_ids)}
        self.rows = self._rows_here()
        self.row_place = {row["note"]: place for place, row in enumerate(self.rows)}
        self.decision_place = {row["id"]: place for place, row in enumerate(material.decisions)}
        self.sources: dict[str, list[int]] = defaultdict(list)
        for place, row in enumerate(self.rows):
            for name in row["draft_notes"]:
                self.sources[name].append(place)
        self.parts = list(dict.fromkeys(str(row["part"]) for row in self.rows))
        self._naming_source: dict[str, list[int]] = defaultdict(list)
        self._naming_draft: dict[str, list[int]] = defaultdict(list)
        for place, row in enumerate(material.decisions):
            for name in row["source_notes"]:
                self._naming_source[name].append(place)
            for name in row["draft_notes"]:
                self._naming_draft[name].append(place)

    def _rows_here(self) -> list[Row]:
        """The fates of the notes in the draft's bars, and of all that the draft or the drawing uses."""
        drawn = set(self.material.source_ids)
        return [row for row in self.material.fates if row["bar"] in self.by_number or row["draft_notes"] or row["note"] in drawn]

    def bar_of(self, onset: int) -> int:
        """The bar, by its place in the draft, of a moment in the draft's ticks."""
        return max(0, bisect_right(self.starts, onset) - 1)

    def span(self, bars: tuple[str, str] | list[str]) -> tuple[int, int] | None:
        """The places of printed bars in the draft; None where the draft has none of them."""
        return places(bars, self.material.source_numbers, self.material.first_bar, len(self.numbers))

    def owner(self, row: Row) -> str:
        """The part that most of a decision's source notes belong to; '' where it names none."""
        count: dict[str, int] = defaultdict(int)
        for name in row["source_notes"]:
            if name in self.row_place:
                count[str(self.rows[self.row_place[name]]["part"])] += 1
        return max(count, key=lambda part: count[part]) if count else ""

    def beat(self, onset: int, bar: Bar) -> int | float:
        """The felt beat, 1 on the bar line; in a pick-up counted from the full bar it lacks."""
        lacking = self.lacking(bar)
        return plain(1 + Fraction(onset - bar.start + lacking, bar.meter.beat_ticks(self.material.draft.resolution)))

    def lacking(self, bar: Bar) -> int:
        """Ticks that a pick-up bar lacks."""
        return max(0, bar.meter.ticks(self.material.draft.resolution) - bar.length) if bar.pickup else 0

    def draft_notes(self) -> list[list[Any]]:
        """By the drawing's order: bar, onset, length (quarters), key, name, hand, role, beat, sign, sources, decisions."""
        draft = self.material.draft
        notes = {note.id: note for note in draft.notes}
        tune = set(self.material.facts["draft"].get("tune", ()))
        found: list[list[Any]] = []
        for name in self.material.draft_ids:
            note = notes.get(name)
            if note is None:
                found.append([])
                continue
            place = self.bar_of(note.onset)
            bar = draft.bars[place]
            sources = self.sources.get(name, [])
            roles = {str(self.rows[source].get("role", "")) for source in sources}
            role = 0 if name in tune else 1 if "bass" in roles and note.hand == "left" else 2
            found.append([
                place, quarters(note.onset, draft.resolution), quarters(note.duration, draft.resolution), note.midi, str(note.pitch),
                0 if note.hand == "right" else 1, role, self.beat(note.onset, bar), self._sign(sources), sources,
                self._speaking(name, sources, place, note.hand, role),
            ])  # fmt: skip
        return found

    def _sign(self, sources: list[int]) -> int:
        """How the note differs from the source: not at all, another octave, another rhythm, added."""
        fates = {self.rows[source]["fate"] for source in sources}
        return 0 if "kept" in fates else 1 if "moved" in fates else 2 if fates else 3

    def _speaking(self, name: str, sources: list[int], bar: int, hand: str, role: int) -> list[int]:
        """The decisions about a draft note: those that name it or its sources, the fewest notes first, then those about its bars."""
        own = set(self._naming_draft.get(name, ()))
        for source in sources:
            row = self.rows[source]
            own.update(self._naming_source.get(row["note"], ()))
            if row["decision"] in self.decision_place:
                own.add(self.decision_place[row["decision"]])
        decisions = self.material.decisions
        around = [
            place for place in self._about_bars()
            if place not in own and decisions[place]["hand"] in (hand, "both") and _concerns(decisions[place], role)
            and self._bars_of[place][0] <= bar <= self._bars_of[place][1]
        ]  # fmt: skip
        named = sorted(
            own,
            key=lambda place: (
                decisions[place]["by"] != "arranger", decisions[place]["kind"] in _OF_THE_PAGE, _breadth(decisions[place]), place,
            ),
        )  # fmt: skip
        return [*named, *around]

    def _about_bars(self) -> list[int]:
        if not hasattr(self, "_bars_of"):
            self._bars_of: dict[int, tuple[int, int]] = {}
            for place, row in enumerate(self.material.decisions):
                span = self.span(row["bars"])
                unnamed = row["kind"] == "figure" or not (row["draft_notes"] or (row["source_notes"] and row["by"] != "arranger"))
                if span is not None and (row["kind"] in _SPOKEN_BY_BARS or row["by"] == "arranger") and unnamed:
                    self._bars_of[place] = span
        return list(self._bars_of)

    def source_rows(self) -> list[list[Any]]:
        """Every source note: part, pitch, bar (place or -1), beat, fate, decisions, draft notes."""
        part_of = {part: place for place, part in enumerate(self.parts)}
        found = []
        for row in self.rows:
            named = set(self._naming_source.get(row["note"], ()))
            if row["decision"] in self.decision_place:
                named.add(self.decision_place[row["decision"]])
            ordered = sorted(named, key=lambda place: (_breadth(self.material.decisions[place]), place))
            found.append([
                part_of[str(row["part"])], row["pitch"], self.by_number.get(row["bar"], -1), row["beat"], FATES.index(row["fate"]), ordered,
                [self.draft_place[name] for name in row["draft_notes"] if name in self.draft_place], _role(row),
            ])  # fmt: skip
        return found

    def source_notes(self) -> list[list[Any]]:
        """By the drawing's order: bar, onset, length (the draft's quarters), key, place among the source rows (-1: unknown)."""
        source, draft = self.material.source, self.material.draft
        notes = source.note_by_id
        found: list[list[Any]] = []
        for name in self.material.source_ids:
            note = notes.get(name)
            if note is None or note.bar >= len(draft.bars):
                found.append([])
                continue
            here, there = source.bars[note.bar], draft.bars[note.bar]
            scale = Fraction(there.length, here.length or 1)
            onset = there.start + (note.onset - here.start) * scale
            row = self.row_place.get(name, -1)
            found.append([
                note.bar, quarters(onset, draft.resolution), quarters(note.duration * scale, draft.resolution), note.midi, row,
            ])  # fmt: skip
        return found

    def bars(self) -> list[list[Any]]:
        """Printed number, start, length, beat, and what a pick-up lacks, in quarters."""
        draft = self.material.draft
        unit = draft.resolution
        return [
            [
                bar.number, quarters(bar.start, unit), quarters(bar.length, unit), quarters(bar.meter.beat_ticks(unit), unit),
                quarters(self.lacking(bar), unit),
            ]
            for bar in draft.bars
        ]  # fmt: skip

    def tempos(self) -> list[list[float]]:
        """From which quarter on, how many quarters a minute."""
        draft = self.material.draft
        return [[quarters(t.onset, draft.resolution), plain(t.quarters)] for t in draft.tempos if t.quarters]


def _concerns(row: Row, role: int) -> bool:
    """Whether a decision about some bars speaks of a note of this role: figures of all but the tune, rhythm and octave of lines."""
    if row["by"] == "arranger":
        return True
    return role != 0 if row["kind"] == "figure" else role != 2 if row["kind"] in ("rhythm", "octave") else True


def _breadth(row: Row) -> int:
    return len(row["source_notes"]) + len(row["draft_notes"])


def _role(row: Mapping[str, Any]) -> int:
    role = str(row.get("role", ""))
    return 0 if role == "melody" else 1 if role == "bass" else 2


def quarters(ticks: int | Fraction, resolution: int) -> int | float:
    """Ticks as quarter-notes, four decimals at most."""
    value = Fraction(ticks) / resolution
    return int(value) if value.denominator == 1 else round(float(value), 4)
