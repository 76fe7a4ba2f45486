"""What each accompaniment does, named by section."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence

from reduce.analyse.gestures import Ballot, Gesture, Limits, call_of, name_gesture
from reduce.model.rules import Rules
from reduce.model.score import Bar, Note, Score
from reduce.model.texture import Chord, Figure, Role

_BACKGROUND: frozenset[str] = frozenset(("harmony", "figuration", "bass", "bass-double", "rhythm"))
_FREE = frozenset(("held", "other", "unison", "fanfare", "drum"))  # one figure whatever the lengths of the notes
_LOW: frozenset[str] = frozenset(("bass", "bass-double"))


def figures(
    score: Score, stream_of: Mapping[str, int], roles: Mapping[str, Role], chords: tuple[Chord, ...], rules: Rules
) -> tuple[Figure, ...]:
    """The accompaniment figures, each with the streams that play it, ordered by start.

    ``stream_of`` and ``roles`` are keyed by note id (`Texture`).  Every background stream is named bar by bar from its rhythm,
    intervals and place in the bar; a best path over the bars then lets a figure go on through a bar that departs from it, and streams
    that do the same at the same time are one figure.  ``rest`` stands where nobody plays, ``other`` where no name fits.
    """
    limits = Limits.of(rules)
    plays = _plays(score, stream_of, roles)
    chord_sets = _chord_sets(score.bars, chords)
    unison = _unison_bars(score)
    gestures: dict[int, dict[int, Gesture]] = {}
    ballots: dict[int, dict[int, Ballot]] = {}
    for stream, by_bar in plays.items():
        family = score.parts[next(iter(by_bar.values()))[0].part].family
        rows = gestures[stream] = {}
        votes = ballots[stream] = {}
        for index, notes in by_bar.items():
            low = 2 * sum(1 for note in notes if roles[note.id] in _LOW) > len(notes)
            gesture = rows[index] = Gesture.of(notes, score.bars[index], score.resolution, chord_sets[index], low)
            votes[index] = name_gesture(gesture, limits)
            if family == "percussion":
                votes[index] = {"drum": 1.0}
            elif index in unison:
                votes[index]["unison"] = 1.2
            elif family == "brass":
                votes[index].update(call_of(gesture, limits))
    _pair_basses(score, gestures, ballots)
    runs: dict[tuple[str, int], dict[int, dict[int, int]]] = {}  # kind and its steady pulse -> bar -> stream -> pulse there
    for stream, votes in ballots.items():
        for first, stop, kind in _smooth(votes, limits.change):
            pulses = [gestures[stream][index].pulse for index in range(first, stop)]
            steady = 0 if kind in _FREE else Counter(pulses).most_common(1)[0][0]
            bars = runs.setdefault((kind, steady), {})
            for index in range(first, stop):
                bars.setdefault(index, {})[stream] = steady or pulses[index - first]
    found: list[Figure] = []
    for (kind, _), bars in sorted(runs.items()):
        found.extend(_stretches(kind, bars, score.bars))
    sounding = {note.bar for note in score.notes} | {index for by_bar in plays.values() for index in by_bar}
    found.extend(_stretches("rest", {index: {} for index in range(len(score.bars)) if index not in sounding}, score.bars))
    return tuple(sorted(found, key=lambda figure: (figure.start, figure.end, figure.kind, figure.pulse)))


def _plays(score: Score, stream_of: Mapping[str, int], roles: Mapping[str, Role]) -> dict[int, dict[int, list[Note]]]:
    """The background notes of each stream by bar; a note that is held over a bar line belongs to every bar it reaches."""
    plays: dict[int, dict[int, list[Note]]] = {}
    bars = score.bars
    for note in score.notes:
        if note.kind != "struck" or not note.duration or roles.get(note.id) not in _BACKGROUND:
            continue
        stream = stream_of.get(note.id)
        if stream is None:
            continue
        by_bar = plays.setdefault(stream, {})
        index = note.bar
        by_bar.setdefault(index, []).append(note)
        end = note.onset + note.duration
        while end > bars[index].end and index + 1 < len(bars):
            index += 1
            by_bar.setdefault(index, []).append(note)
    return plays


def _chord_sets(bars: Sequence[Bar], chords: tuple[Chord, ...]) -> list[int]:
    """For each bar the 12-bit set of the pitch classes of its chords."""
    sets = []
    place = 0
    for bar in bars:
        while place < len(chords) and chords[place].end <= bar.start:
            place += 1
        mask = 0
        index = place
        while index < len(chords) and chords[index].start < bar.end:
            for tone in chords[index].tones:
                mask |= 1 << tone
            index += 1
        sets.append(mask)
    return sets


def _unison_bars(score: Score) -> set[int]:
    """Bars where at least three parts besides drums play and every struck moment has a single pitch class."""
    drums = {part.index for part in score.parts if part.family == "percussion"}
    moments: list[dict[int, int]] = [{} for _ in score.bars]
    parts: list[set[int]] = [set() for _ in score.bars]
    for note in score.notes:
        if note.kind == "struck" and note.duration and note.part not in drums:
            row = moments[note.bar]
            row[note.onset] = row.get(note.onset, 0) | 1 << note.midi % 12
            parts[note.bar].add(note.part)
    return {
        index
        for index, row in enumerate(moments)
        if len(row) >= 2 and len(parts[index]) >= 3 and all(mask & (mask - 1) == 0 for mask in row.values())
    }


def _pair_basses(score: Score, gestures: Mapping[int, Mapping[int, Gesture]], ballots: Mapping[int, dict[int, Ballot]]) -> None:
    """Bass on the beat and chords after it, by different streams, are one figure: a waltz bass in three, a march bass in two or four."""
    by_bar: dict[int, list[int]] = {}
    for stream, rows in gestures.items():
        for index in rows:
            by_bar.setdefault(index, []).append(stream)
    for index, streams in by_bar.items():
        bar = score.bars[index]
        beat = bar.meter.beat_ticks(score.resolution)
        shift = bar.meter.ticks(score.resolution) - bar.length if bar.pickup else 0
        low = {onset + shift for stream in streams if gestures[stream][index].low for onset in gestures[stream][index].onsets}
        if not low:
            continue
        beats = bar.meter.ticks(score.resolution) // beat
        kind = ""
        partners: list[int] = []
        for stream in streams:
            gesture = gestures[stream][index]
            onsets = {onset + shift for onset in gesture.onsets}
            if gesture.low or not onsets or onsets & low or gesture.held_over:
                continue
            if beats == 3 and low == {0} and onsets <= {beat, 2 * beat}:
                kind = "waltz-bass"
            elif beats % 2 == 0 and all(onset % (2 * beat) == 0 for onset in low) and all(onset % (2 * beat) == beat for onset in onsets):
                kind = "march-bass"
            elif beats != 3 and len(low) >= 2 and all(onset % beat == 0 for onset in low) and len(onsets) >= 2:
                half = (2 * beat // 3) if bar.meter.compound else beat // 2
                if any(onset % beat != half for onset in onsets):
                    continue
                kind = "march-bass"
            else:
                continue
            partners.append(stream)
        if kind:
            for stream in streams:
                if stream in partners or gestures[stream][index].low:
                    ballots[stream][index][kind] = 1.3


def _smooth(votes: Mapping[int, Ballot], change: float) -> list[tuple[int, int, str]]:
    """The best path of names over each unbroken run of bars, as (first bar, stop, name)."""
    found: list[tuple[int, int, str]] = []
    bars = sorted(votes)
    start = 0
    while start < len(bars):
        stop = start + 1
        while stop < len(bars) and bars[stop] == bars[stop - 1] + 1:
            stop += 1
        run = bars[start:stop]
        kinds = sorted({kind for index in run for kind in votes[index]})
        scores = {kind: votes[run[0]].get(kind, 0.0) for kind in kinds}
        back: list[dict[str, str]] = []
        for index in run[1:]:
            lead = max(kinds, key=scores.__getitem__)
            step: dict[str, str] = {}
            new: dict[str, float] = {}
            for kind in kinds:
                stay = scores[kind] >= scores[lead] - change
                step[kind] = kind if stay else lead
                new[kind] = (scores[kind] if stay else scores[lead] - change) + votes[index].get(kind, 0.0)
            back.append(step)
            scores = new
        kind = max(kinds, key=scores.__getitem__)
        path = [kind]
        for step in reversed(back):
            kind = step[kind]
            path.append(kind)
        path.reverse()
        first = 0
        for place in range(1, len(path) + 1):
            if place == len(path) or path[place] != path[first]:
                found.append((run[first], run[place - 1] + 1, path[first]))
                first = place
        start = stop
    return found


def _stretches(kind: str, playing: Mapping[int, Mapping[int, int]], bars: Sequence[Bar]) -> list[Figure]:
    """One figure for each unbroken run of bars in which the same streams play it, but for a minority that comes and goes.

    A run ends where half of the players change.  ``streams`` are those of at least half of its bars, the pulse is the most frequent.
    """
    found: list[Figure] = []
    run: list[int] = []
    for index in [*sorted(playing), -1]:
        if run and (index != run[-1] + 1 or (_others(playing[run[-1]], playing[index]) and _others(playing[run[0]], playing[index]))):
            pulses = Counter(pulse for each in run for pulse in playing[each].values())
            players = Counter(stream for each in run for stream in playing[each])
            found.append(
                Figure(
                    start=bars[run[0]].start,
                    end=bars[run[-1]].end,
                    kind=kind,
                    pulse=min(pulses, key=lambda pulse: (-pulses[pulse], pulse)) if pulses else 0,
                    streams=tuple(sorted(stream for stream, times in players.items() if 2 * times >= len(run))),
                )
            )
            run = []
        run.append(index)
    return found


def _others(before: Mapping[int, int], after: Mapping[int, int]) -> bool:
    """Whether fewer than half of the players of either bar play in both."""
    return 2 * len(before.keys() & after.keys()) < len(before.keys() | after.keys())
