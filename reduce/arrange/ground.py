"""The bass line: the source's own, thinned where it repeats faster than a hand, and completed where the tune itself is lowest."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Container, Sequence

from reduce.arrange.line import Tone, moved, tone_of
from reduce.arrange.outline import Outline
from reduce.arrange.sounding import Sound, over
from reduce.model.record import replace
from reduce.model.score import Bar

_SHORT = ("staccato", "staccatissimo", "spiccato")  # signs that a held note cannot have
_FIRM = 1 << 20  # more than the metric weights of any row


def slower_repeats(
    tones: Sequence[Tone],
    shortest: float,
    repeat: float,
    ticks_a_second: Callable[[int], float],
    beat: Callable[[int], int],
    least: int = 0,
    along: Container[tuple[int, int]] = (),
    strokes: int = 2,
) -> tuple[Tone, ...]:
    """The line with fast repetitions of one note struck more slowly, and no others faster than ``shortest`` seconds or ``least`` ticks.

    Of the notes in between, the metrically weaker go (``beat`` gives the weight of a moment); their sources pass to the note before.
    What another line repeats too, tick and pitch class in ``along``, is struck with it: hands together are no trouble.
    Fewer than ``strokes`` in a row are a call, not a repetition: the hand has them as fast as other notes.
    """
    out: list[Tone] = []
    for tone in _repeated(tones, repeat, ticks_a_second, beat, along, strokes):
        if out:
            last = out[-1]
            gap = (tone.onset - last.onset) / ticks_a_second(tone.onset)
            same = tone.midi == last.midi and tone.onset <= last.end
            if same and (tone.onset, tone.midi % 12) in along:
                out.append(tone)
                continue
            brief = min(tone.duration, tone.onset - last.onset) < least
            if (brief or gap < shortest) and not (beat(tone.onset) > beat(last.onset) and not same):
                if same or (brief and (tone.midi - last.midi) % 12 == 0):
                    out[-1] = _over(last, tone)
                continue
        out.append(tone)
    return tuple(out)


def _repeated(
    tones: Sequence[Tone],
    repeat: float,
    ticks_a_second: Callable[[int], float],
    beat: Callable[[int], int],
    along: Container[tuple[int, int]],
    strokes: int,
) -> list[Tone]:
    """The line with ``strokes`` and more on one note, each less than ``repeat`` seconds after the other, thinned to that time.

    The heaviest selection of each row, by the metric weight of its moments; what ``along`` holds stays whatever it costs.
    """
    rows: list[list[Tone]] = []
    for tone in tones:
        last = rows[-1][-1] if rows else tone
        again = tone.midi == last.midi and last.onset < tone.onset <= last.end
        if again and tone.onset - last.onset < repeat * ticks_a_second(tone.onset):
            rows[-1].append(tone)
        else:
            rows.append([tone])
    out: list[Tone] = []
    for row in rows:
        if len(row) < strokes:
            out += row
            continue
        best: list[tuple[int, int]] = []  # the heaviest selection up to each tone: its weight, the last tone it strikes
        came: list[int] = []
        onsets = [tone.onset for tone in row]
        for index, tone in enumerate(row):
            firm = (tone.onset, tone.midi % 12) in along
            room = index if firm else bisect_right(onsets, tone.onset - repeat * ticks_a_second(tone.onset), 0, index)
            weight, before = best[room - 1] if room else (0, -1)
            weight += 1 + beat(tone.onset) + (_FIRM if firm else 0)
            came.append(before)
            best.append((weight, index) if not best or weight > best[-1][0] else best[-1])
        struck = {best[-1][1]}
        while (before := came[min(struck)]) >= 0:
            struck.add(before)
        first = min(struck)
        for index, tone in enumerate(row):
            if index in struck:
                out.append(tone if index > first else replace(tone, sources=tuple(s for t in row[: first + 1] for s in t.sources)))
            elif index > first:
                out[-1] = _over(out[-1], tone)
    return out


def _over(tone: Tone, following: Tone) -> Tone:
    """The tone held over one that is not struck."""
    return replace(tone, end=max(tone.end, following.end), sources=tone.sources + following.sources)


def unison_bass(
    tune: Sequence[Tone], bass: Sequence[Tone], sounds: Sequence[Sound], bars: Sequence[Bar], steps: int, shift: int
) -> tuple[Tone, ...]:
    """Bass tones for the moments at which everybody plays the tune: the lowest of its doublings, in its own octave.

    Only where at least one doubling lies below the tune's own note (a real unison of high and low instruments), so that
    a lonely solo stays alone, and where nothing else goes on sounding deeper.  ``steps``, ``shift``: the draft's transposition.
    """
    line = Outline(bass)
    wanting = [tone for tone in tune if not line.during(tone.onset, tone.end)]
    out: list[Tone] = []
    for tone, heard in zip(wanting, over(sounds, [(t.onset, t.onset + 1) for t in wanting]), strict=True):
        doubles = [s for s in heard if s.onset == tone.onset and (s.midi - tone.midi) % 12 == 0 and s.midi < tone.midi]
        ground = min((s.midi for s in heard if s.role != "rhythm"), default=0)
        if not doubles or ground < min(s.midi for s in doubles):
            continue
        lowest = min(doubles, key=lambda s: (s.midi, s.stream))
        note = lowest.note
        end = min(tone.end, lowest.end)
        base = tone_of(note)
        out.append(replace(base, end=end, midi=lowest.midi, pitch=note.pitch.moved(steps, shift)))
    return tuple(out)


def still_sounding(
    bass: Sequence[Tone],
    tune: Outline,
    sounds: Sequence[Sound],
    start: int,
    end: int,
    least: int,
    steps: int,
    shift: int,
    after: Container[int] = (),
) -> tuple[Tone, ...]:
    """Bass tones for the gaps of at least ``least`` ticks in the line: the lowest note that goes on sounding there, below the tune.

    A horn or a bassoon that holds on while the basses rest is the bass then, although nobody strikes it anew; a drum is only where
    nothing else sounds (common practice: the piano dies away, so the note is struck again).  What is struck at a tick of
    ``after`` follows a bass stroke and is no bass.  ``steps``, ``shift``: the transposition.
    """
    edges = [start, *(t.end for t in bass)], [*(t.onset for t in bass), end]
    gaps = [(a, b) for a, b in zip(*edges, strict=True) if b - a >= least]
    out: list[Tone] = []
    for (a, b), heard in zip(gaps, over(sounds, gaps), strict=True):
        low = [s for s in heard if s.role not in ("melody", "rhythm")] or [s for s in heard if s.role == "rhythm"]
        long = [s for s in low if s.onset not in after and min(s.end, b) - max(s.onset, a) >= least]
        if not long:
            continue
        lowest = min(long, key=lambda s: (s.midi, s.onset))
        onset, last = max(lowest.onset, a), min(lowest.end, b)
        if any(t.midi <= lowest.midi for t in tune.during(onset, last)):
            continue
        tone = tone_of(lowest.note)
        out.append(replace(tone, onset=onset, end=last, midi=lowest.midi, pitch=lowest.note.pitch.moved(steps, shift), articulations=()))
    return tuple(out)


def held_by_another(bass: Sequence[Tone], still: Sequence[Tone], begun: Callable[[Tone], int]) -> tuple[tuple[Tone, ...], tuple[Tone, ...]]:
    """The line with each note held for as long as another player, who struck it too, holds the same note on.

    The cello leaves a note that the horn keeps: that is one long note, not two strokes.  An octave between them changes nothing.

    Args:
        bass: the line; ``still``: what goes on sounding in its gaps.
        begun: the tick at which such a note was struck in the score.

    Returns:
        The line, and what is left for the gaps.
    """
    ends = {tone.end: place for place, tone in enumerate(bass)}
    out, rest = list(bass), []
    for tone in still:
        place = ends.get(tone.onset)
        if place is None or abs(tone.midi - out[place].midi) not in (0, 12) or begun(tone) != out[place].onset:
            rest.append(tone)
            continue
        short = out[place]
        signs = tuple(sign for sign in short.articulations if sign not in _SHORT)
        out[place] = replace(short, end=tone.end, sources=(*short.sources, *tone.sources), articulations=signs)
    return tuple(out), tuple(rest)


def joined(first: Sequence[Tone], second: Sequence[Tone]) -> tuple[Tone, ...]:
    """Two lines as one, the first winning where both sound."""
    line = Outline(first)
    free = [tone for tone in second if not line.during(tone.onset, tone.end)]
    return tuple(sorted([*first, *free], key=lambda t: t.onset))


def gathered(bass: Sequence[Tone], home: Sequence[int], leap: int, longest: int, middle: int = 60) -> tuple[Tone, ...]:
    """The line without lonely high notes: one that leaps more than ``leap`` semitones up and back is played octaves lower.

    Where a bass line passes for one short note (up to ``longest`` ticks) to a high instrument, the left hand does not jump after it.
    ``home``: semitones to the octave in which each tone is read; ``middle``: notes below it (MIDI) are no high notes.
    """
    out = list(bass)
    for i in range(1, len(bass) - 1):
        tone = bass[i]
        around = [bass[j].midi + home[j] for j in (i - 1, i + 1)]
        key = tone.midi + home[i]
        down = 0
        while key - 12 * down >= middle and tone.duration <= longest and all(key - 12 * down - other > leap for other in around):
            down += 1
        if down:
            out[i] = moved(tone, -12 * down, -7 * down)
    return tuple(out)


def deepest_free(bass: Sequence[Tone], tune: Outline) -> list[tuple[int, int]]:
    """For each bass tone the keys that the tune leaves free: from the bottom up to just below the lowest tune note over it."""
    fence = []
    for tone in bass:
        above = tune.during(tone.onset, tone.end)
        fence.append((0, min((t.midi for t in above), default=128)))
    return fence


def starts_after_rest(tones: Sequence[Tone], boundaries: Sequence[int]) -> set[int]:
    """Onsets that begin a phrase: the first tone at or after each boundary."""
    onsets = [tone.onset for tone in tones]
    return {onsets[i] for b in boundaries if (i := bisect_left(onsets, b)) < len(onsets)}
