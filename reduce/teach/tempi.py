"""Slow tempi to climb, in numbers that stand on a metronome."""

from __future__ import annotations

from itertools import chain

from reduce.model.draft import Draft
from reduce.model.record import replace
from reduce.teach.lesson import Lesson

# The steps of a mechanical metronome (Maelzel's scale, common practice), carried on below 40.
MARKS = tuple(chain(range(20, 60, 2), range(60, 72, 3), range(72, 120, 4), range(120, 144, 6), range(144, 209, 8)))

# Note values as the music font has them for metronome marks (SMuFL 1.4, range "Metronome marks"), by quarter-notes.
BEATS = {0.5: "\ueca7", 1.0: "\ueca5", 1.5: "\ueca5\u2009\uecb7", 2.0: "\ueca3", 3.0: "\ueca3\u2009\uecb7"}


def metronome(beats: float) -> int:
    """The nearest number on a metronome, of two the slower."""
    return min(MARKS, key=lambda mark: (abs(mark - beats), mark))


def beat_quarters(draft: Draft) -> float:
    """Quarter-notes in the felt beat of the first full bar: where that is too quick for a metronome, half a bar or a whole one."""
    meter = next((bar for bar in draft.bars if not bar.pickup), draft.bars[0]).meter
    beat, bar = meter.beat_ticks(draft.resolution), meter.ticks(draft.resolution)
    quarters = next((tempo.quarters for tempo in draft.tempos if tempo.quarters), 0.0)
    wider = [beat, *([bar // 2] if bar % (2 * beat) == 0 else []), bar]
    fits = (ticks for ticks in wider if quarters * draft.resolution <= MARKS[-1] * ticks)
    return next(fits, bar) / draft.resolution


def final_beats(lesson: Lesson) -> float:
    """The tempo of the piece in felt beats a minute."""
    quarters = next((tempo.quarters for tempo in lesson.draft.tempos if tempo.quarters), lesson.rules.number("hands.tempo.usual"))
    return quarters / beat_quarters(lesson.draft)


def ladder(lesson: Lesson) -> tuple[int, ...]:
    """Tempi in felt beats a minute from slow to the piece's own, each once."""
    final = final_beats(lesson)
    rungs = lesson.rules.whole("teach.practice-steps.rungs")
    start = final * lesson.rules.number("teach.practice-steps.slow")
    climbed = [metronome(start + (final - start) * k / max(1, rungs - 1)) for k in range(rungs - 1)]
    return tuple(sorted({*(mark for mark in climbed if mark < final), round(final)}))


def at_tempo(lesson: Lesson, draft: Draft, beats: float) -> Draft:
    """The draft with all its tempi slowed alike, so that it begins with ``beats`` a minute."""
    share = beats / final_beats(lesson)
    return replace(
        draft,
        tempos=tuple(replace(tempo, quarters=round(tempo.quarters * share, 2)) if tempo.quarters else tempo for tempo in draft.tempos),
    )
