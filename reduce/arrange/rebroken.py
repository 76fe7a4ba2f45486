"""Chords repeated quickly for long tire the hand: they are broken into low and high notes in turn."""

from __future__ import annotations

from bisect import bisect_right
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from itertools import groupby, pairwise

from reduce.arrange.desk import Desk
from reduce.arrange.explain import Ledger, bars_named
from reduce.arrange.fold import Inner
from reduce.arrange.line import Tone, bar_at
from reduce.model.decision import Decision, Rejected
from reduce.model.record import replace

RULE = "voicing.stamina"
_THIRD = 3  # semitones: two neighbours in turn would be a trill


def rebroken(inner: Sequence[Inner], bass: Sequence[Tone], desk: Desk, ledger: Ledger) -> tuple[Inner, ...]:
    """The inner chords with the left hand's long runs of quick repetitions broken: low, high, low, high, in the same rhythm.

    A run tires where its strokes follow one another as quickly as the level's ``quick``, a ``share`` of them strike again what was just
    struck or some of it, and it lasts longer than the level's ``beats``.  In it each harmony of each beat alternates
    between its lowest key and the others; a stroke of the bass is a low one, and under a bass that is held the upper notes alternate
    alone.  What the hand cannot span stays.
    """
    level, rules = desk.rules.level, desk.rules
    beats, quick = (rules.numbers(f"{RULE}.{name}")[level.order - 1] for name in ("beats", "quick"))
    if not beats:
        return tuple(inner)
    share = rules.number(f"{RULE}.share")
    left = {chord.onset: chord for chord in inner if chord.hand == "left"}
    low = {tone.onset: tone for tone in bass}
    onsets = sorted(left.keys() | low.keys())
    if not onsets:
        return tuple(inner)
    keys = {onset: _keys(left.get(onset), low.get(onset), after) for onset, after in zip(onsets, [*onsets[1:], desk.end], strict=True)}
    told: list[tuple[int, int, float]] = []
    for run in _runs(onsets, desk, quick):
        first, length = run[0], run[-1] - run[0]
        beat = bar_at(desk.bars, first).meter.beat_ticks(desk.score.resolution)
        if length < beats * beat or _repeated(run, keys) < share * (len(run) - 1):
            continue
        changed = [chord for cell in _cells(run, desk) for chord in _broken(cell, left, low, keys, desk)]
        if 2 * len(changed) > len(run):  # no beat alone amid repetitions that stay
            left |= {chord.onset: chord for chord in changed}
            told.append((changed[0].onset, changed[-1].onset, (len(run) - 1) * desk.pace(first) / length))
    _tell(told, beats, desk, ledger)
    right = [chord for chord in inner if chord.hand == "right"]
    return tuple(sorted([chord for chord in left.values() if chord.keys] + right, key=lambda chord: (chord.hand == "right", chord.onset)))


def _keys(chord: Inner | None, tone: Tone | None, after: int) -> frozenset[int]:
    """What moves at a stroke: the chord's keys and the bass note, unless that is held on."""
    bass = {tone.midi} if tone is not None and tone.end <= after else set()
    return frozenset(bass | set(chord.keys if chord is not None else ()))


def _repeated(cell: Sequence[int], keys: Mapping[int, frozenset[int]]) -> int:
    """How many strokes strike the keys of the one before, or some of them, and no others; or all of them and more."""
    return sum(bool(keys[one] and keys[other]) and (keys[one] <= keys[other] or keys[other] <= keys[one]) for one, other in pairwise(cell))


def _runs(onsets: Sequence[int], desk: Desk, quick: float) -> Iterable[list[int]]:
    """Strokes that follow one another quickly, three and more."""
    run = list(onsets[:1])
    for before, onset in pairwise(onsets):
        if (onset - before) * quick > desk.pace(before):
            if len(run) > 2:
                yield run
            run = []
        run.append(onset)
    if len(run) > 2:
        yield run


def _cells(run: Sequence[int], desk: Desk) -> Iterable[list[int]]:
    """The strokes of a run on one harmony in one beat."""
    starts = [chord.start for chord in desk.chords]

    def place(onset: int) -> tuple[int, int, int]:
        bar = bar_at(desk.bars, onset)
        return bar.index, (onset - bar.start) // bar.meter.beat_ticks(desk.score.resolution), bisect_right(starts, onset)

    return (list(cell) for _, cell in groupby(run, key=place))


def _broken(
    cell: Sequence[int], left: Mapping[int, Inner], low: Mapping[int, Tone], keys: Mapping[int, frozenset[int]], desk: Desk
) -> list[Inner]:
    """The chords of a cell, low and high in turn, with none where the bass is the low note; nothing where the hand cannot do so."""
    often = Counter(key for onset in cell for key in keys[onset])
    deep, most = min(often, default=0), max(len(keys[onset]) for onset in cell)
    high = tuple(sorted(sorted(often.keys() - {deep}, key=lambda key: (-often[key], -key))[: max(1, most - 1)]))
    model = next((left[onset] for onset in cell if onset in left), None)
    if model is None or not high or high[0] - deep < _THIRD or not _repeated(cell, keys):
        return []
    if high[-1] - deep > desk.spans["left"] or not desk.playable((deep, *high), "left"):
        return []
    out = []
    for turn, (onset, after) in enumerate(zip(cell, [*cell[1:], None], strict=True)):
        chord = left.get(onset, model)
        tone = low.get(onset)
        sounding: tuple[int, ...] = high if turn % 2 else (deep,)
        if tone is not None:
            sounding = tuple(key for key in sounding if turn % 2 and key > tone.midi)
        end = after if after is not None else chord.end if onset in left else tone.end if tone is not None else chord.end
        out.append(replace(chord, onset=onset, end=end, keys=sounding, runner_up=()))
    return out


def _tell(told: Sequence[tuple[int, int, float]], beats: float, desk: Desk, ledger: Ledger) -> None:
    """One decision for each run."""
    for start, end, speed in told:
        first, last = bar_at(desk.bars, start), bar_at(desk.bars, end)
        ledger.add(
            Decision(
                id="",
                kind="figure",
                bars=(first.index, last.index),
                onset=start,
                hand="left",
                weight="medium",
                certainty=0.8,
                sentence=(
                    f"{bars_named(first, last)}, left hand: the repeated chords are broken into low and high notes in turn, because "
                    f"{speed:.0f} strokes a second for more than {beats:.0f} beats tire the hand; the repetition itself is lost."
                ),
                rule=RULE,
                setting=f"{RULE}.beats",
                measured=round(speed, 1),
                limit=desk.rules.numbers(f"{RULE}.quick")[desk.rules.level.order - 1],
                unit="strokes a second",
                rejected=(Rejected("repeated chords", "they tire the hand"),),
            )
        )
