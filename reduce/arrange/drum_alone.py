"""The drum that is heard by itself: the left hand plays it, as low as it sounds where the level has the keys."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from reduce.arrange.desk import OCTAVE, Desk
from reduce.arrange.explain import Ledger, bars_named
from reduce.arrange.line import Tone, bar_at
from reduce.model.decision import Decision
from reduce.model.level import Level


def drummed(desk: Desk, tune: Iterable[Tone]) -> tuple[bool, ...]:
    """Whether a drum plays each tone of the tune."""
    by_id, parts = desk.score.note_by_id, desk.score.parts
    return tuple(all(parts[by_id[name].part].family == "percussion" for name in tone.sources) for tone in tune)


def drum_shift(tone: Tone, level: Level) -> int:
    """Semitones (whole octaves) that bring a drum's stroke among the level's keys; 0 where it lies there, or where none does."""
    up = max(0, -(-(level.lowest - tone.midi) // OCTAVE)) * OCTAVE
    down = max(0, -(-(tone.midi - level.highest) // OCTAVE)) * OCTAVE
    return up - down if level.lowest <= tone.midi + up - down <= level.highest else 0


def entrances(desk: Desk, tune: Sequence[Tone]) -> Iterator[tuple[Tone, ...]]:
    """The tones of each stretch that a drum plays by itself, a new one after every other tone and every rest of a bar."""
    row: list[Tone] = []
    for tone, drum in zip(tune, drummed(desk, tune), strict=True):
        if row and (not drum or tone.onset - row[-1].end >= bar_at(desk.bars, row[-1].onset).length):
            yield tuple(row)
            row = []
        if drum:
            row.append(tone)
    if row:
        yield tuple(row)


def told_alone(desk: Desk, tune: Sequence[Tone], ledger: Ledger) -> None:
    """One decision for each entrance of a drum by itself."""
    by_id, level = desk.score.note_by_id, desk.rules.level
    for row in entrances(desk, tune):
        first, last = bar_at(desk.bars, row[0].onset), bar_at(desk.bars, row[-1].onset)
        raised = [tone for tone in row if any(by_id[name].midi + desk.shift != tone.midi for name in tone.sources)]
        how = "an octave higher where this level has no key so low" if raised else "as low as it sounds"
        ledger.add(
            Decision(
                id="",
                kind="hand",
                bars=(first.index, last.index),
                onset=row[0].onset,
                hand="left",
                weight="medium",
                certainty=0.9,
                sentence=(
                    f"{bars_named(first, last)}: the left hand plays the drum, {how}, because it is heard by itself and "
                    "listeners wait for it."
                ),
                rule="placement.drum-alone",
                setting="level.lowest",
                measured=float(min(by_id[name].midi + desk.shift for tone in row for name in tone.sources)),
                limit=float(level.lowest),
                unit="MIDI number",
                source_notes=tuple(name for tone in row for name in tone.sources),
            )
        )
