"""The strings' tremolo on the piano: two parts of the chord in turn, since one key cannot be repeated so quickly."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence

from reduce.arrange.desk import Desk
from reduce.arrange.explain import Ledger, bars_named
from reduce.arrange.fold import Inner
from reduce.arrange.inner import INNER_ROLES
from reduce.arrange.line import Tone, bar_at
from reduce.model.decision import Decision, Rejected
from reduce.model.record import replace

RULE = "voicing.tremolo"


def alternating(inner: Sequence[Inner], bass: Sequence[Tone], desk: Desk, ledger: Ledger) -> tuple[Inner, ...]:
    """The left hand's chords with those that stand for a tremolo of the strings broken into low and high notes in turn, struck whole once.

    Only at levels that have it, inside the level's speed, and where the hand has no stroke of the bass in the same voice: a chord over a
    held bass, or without one.  At least four notes make a tremolo.
    """
    level, rules, resolution = desk.rules.level, desk.rules, desk.score.resolution
    a_quarter = int(rules.numbers(f"{RULE}.notes-a-quarter")[level.order - 1])
    if not a_quarter or resolution % a_quarter:
        return tuple(inner)
    step = resolution // a_quarter
    shaken = _shaken(desk, rules.whole(f"{RULE}.strokes"))
    struck = {tone.onset: tone.end - tone.onset for tone in bass}
    out: list[Inner] = []
    told: list[tuple[int, int]] = []
    before: Inner | None = None  # the last that trembled
    for chord in inner:
        notes = (chord.end - chord.onset) // step
        trembling = any(start <= chord.onset and chord.end <= end for start, end in shaken[: bisect_right(shaken, (chord.onset, desk.end))])
        together = 0 < struck.get(chord.onset, 0) < 2 * (chord.end - chord.onset)
        quick = desk.pace(chord.onset) / step > level.notes_per_second_one
        if chord.hand == "right" or len(chord.keys) < 2 or notes < 2 or not trembling or quick or together:
            out.append(chord)
            continue
        half, fresh = len(chord.keys) // 2, before is None or (before.keys, before.end) != (chord.keys, chord.onset)
        before = chord
        for turn in range(notes):
            start = chord.onset + turn * step
            end = chord.end if turn == notes - 1 else start + step
            keys = chord.keys[half:] if turn % 2 else chord.keys[:half]
            out.append(replace(chord, onset=start, end=end, keys=chord.keys if fresh and not turn else keys))
        told.append((chord.onset, chord.end))
    _tell(told, desk, ledger)
    return tuple(sorted(out, key=lambda chord: (chord.hand == "right", chord.onset)))


def _shaken(desk: Desk, strokes: int) -> list[tuple[int, int]]:
    """Stretches in which most of the strings that accompany tremble, joined where they touch, in order."""
    strings = {part.index for part in desk.score.parts if part.family == "strings"}
    rows = sorted(
        (sound.onset, sound.end)
        for sound in desk.sounds
        if sound.note.part in strings and sound.role in INNER_ROLES and sound.note.tremolo >= strokes
    )
    out: list[tuple[int, int]] = []
    for start, end in rows:
        if out and start <= out[-1][1]:
            out[-1] = (out[-1][0], max(out[-1][1], end))
        else:
            out.append((start, end))
    return out


def _tell(told: Sequence[tuple[int, int]], desk: Desk, ledger: Ledger) -> None:
    """One decision for each run of bars."""
    runs: list[list[int]] = []
    for start, end in told:
        first, last = bar_at(desk.bars, start).index, bar_at(desk.bars, end - 1).index
        if runs and first <= runs[-1][1] + 1:
            runs[-1][1] = max(runs[-1][1], last)
        else:
            runs.append([first, last])
    by_index = {bar.index: bar for bar in desk.bars}
    for first, last in runs:
        bars = by_index[first], by_index[last]
        ledger.add(
            Decision(
                id="",
                kind="figure",
                bars=(first, last),
                onset=bars[0].start,
                hand="left",
                certainty=0.8,
                sentence=(
                    f"{bars_named(*bars)}, left hand: low and high notes of the chord in turn, because the strings have a tremolo and "
                    "one key cannot be repeated so quickly; the chord is struck whole only where it is new."
                ),
                rule=RULE,
                setting=f"{RULE}.notes-a-quarter",
                rejected=(Rejected("repeated chords", "slower than the tremolo, and heavier"),),
            )
        )
