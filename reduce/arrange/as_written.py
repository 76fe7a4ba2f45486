"""The accompaniment as the orchestra plays it: its own bass line, its own rhythm, its inner voices folded into chords."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from itertools import pairwise

from reduce.arrange.after_beats import parted
from reduce.arrange.desk import Desk, balance_of, taste_of
from reduce.arrange.explain import Ledger, bars_named, explained_octaves
from reduce.arrange.fold import Inner, Room, Size, left_hand, right_hand
from reduce.arrange.ground import (
    deepest_free,
    gathered,
    held_by_another,
    joined,
    slower_repeats,
    starts_after_rest,
    still_sounding,
    unison_bass,
)
from reduce.arrange.inner import Pace, Pulse, free_pulses, left_pulses, right_pulses
from reduce.arrange.line import Tone, bar_at
from reduce.arrange.octaves import Compass, placed, shifted
from reduce.arrange.outline import Outline
from reduce.arrange.sounding import over
from reduce.model.decision import Decision, Rejected
from reduce.model.draft import Hand
from reduce.model.pitch import in_key
from reduce.model.record import replace


def strokes_apart(desk: Desk, bass: Sequence[Tone], ledger: Ledger) -> tuple[Desk, Sequence[Tone]]:
    """Desk and bass with after-beat chords apart from the bass strokes before them, where the level lays them in one shape of the hand."""
    home = desk.rules.numbers("voicing.after-beats.home")[desk.rules.level.order - 1]
    if not home:
        return desk, bass
    apart = parted(bass, desk.sounds, desk.bars, desk.chords)
    if apart.shapes:
        first, last = (bar_at(desk.bars, tick) for tick in (min(apart.shapes), max(apart.shapes)))
        around = in_key(round(home), first.key.fifths)
        ledger.add(
            Decision(
                id="",
                kind="chord",
                bars=(first.index, last.index),
                onset=min(apart.shapes),
                hand="left",
                certainty=0.8,
                sentence=(
                    f"{bars_named(first, last)}, left hand: chords after a bass stroke lie around {around}, in one shape for "
                    "each harmony, so that the hand stays near its bass; the orchestra's own spacing is lost."
                ),
                rule="voicing.after-beats",
                setting="voicing.after-beats.home",
                limit=home,
                unit="MIDI number",
                rejected=(Rejected("the octave of the orchestra", "a leap after every stroke"),),
            )
        )
    return replace(desk, sounds=apart.sounds, after=apart.shapes), apart.bass


def bass_line(desk: Desk, bass: Sequence[Tone], tune: Sequence[Tone], boundaries: Sequence[int], ledger: Ledger) -> tuple[Tone, ...]:
    """The source's bass where the left hand plays it: thinned, completed in unisons, below the tune."""
    level, rules = desk.rules.level, desk.rules
    unison = unison_bass(tune, bass, desk.sounds, desk.bars, desk.steps, desk.shift)
    repeat = rules.numbers("voicing.pace.repeat")[level.order - 1]
    bass = slower_repeats(
        bass, 1.0 / level.notes_per_second_one, repeat, desk.pace, desk.weight, int(level.shortest * desk.score.resolution),
        {(tone.onset, tone.midi % 12) for before, tone in pairwise(tune) if tone.midi == before.midi},
        rules.whole("hands.repeat.strokes"),
    )  # fmt: skip
    held = still_sounding(
        joined(bass, unison),
        Outline(tune),
        desk.sounds,
        desk.start,
        desk.end,
        desk.score.resolution,
        desk.steps,
        desk.shift,
        desk.after,
    )
    by_id = desk.score.note_by_id
    bass, held = held_by_another(bass, held, lambda tone: by_id[tone.sources[0]].onset)
    bass = joined(joined(bass, held), unison)  # in a unison the left hand keeps the tune's own rhythm
    compass = Compass(
        lowest=level.lowest,
        highest=level.highest,
        easy_low=max(level.lowest, rules.whole("placement.bass-octave.easy-low")),
        easy_high=rules.whole("placement.bass-octave.easy-high"),
        octave=rules.number("placement.bass-octave.away"),
        outside=rules.number("placement.bass-octave.outside"),
        seam=rules.number("placement.bass-octave.seam"),
        tear=rules.number("placement.bass-octave.tear"),
        near=rules.number("placement.bass-octave.near"),
        clearance=rules.whole("placement.bass-octave.clearance"),
    )
    home = desk.homes(bass)
    bass = gathered(bass, home, rules.whole("placement.bass-octave.stray"), desk.bars[0].meter.beat_ticks(desk.score.resolution))
    shifts = placed(bass, starts_after_rest(bass, boundaries), compass, deepest_free(bass, Outline(tune)), home)
    explained_octaves(ledger, "bass", "left", bass, shifts, home, desk.bars, level)
    return shifted(bass, shifts)


def inner_voices(desk: Desk, tune: Sequence[Tone], bass: Sequence[Tone]) -> tuple[tuple[Inner, ...], tuple[Room, ...]]:
    """Inner voices of both hands in the rhythm of the source's accompaniment, and what each strike had room for."""
    level, number, resolution = desk.rules.level, desk.rules.number, desk.score.resolution
    repeat = desk.rules.numbers("voicing.pace.repeat")[level.order - 1]
    pace = Pace(strike=1.0 / level.notes_per_second_both, repeat=repeat, right=number("voicing.pace.right"))
    balance, taste = balance_of(desk.rules), taste_of(desk.rules)
    upper, lower, chords = Outline(tune), Outline(bass), desk.chords
    own = frozenset(tone.onset for tone in bass)
    beats = _eased(desk, left_pulses(desk.sounds, desk.bars, resolution, pace, desk.pace, own), (0, 0, 2, 4))
    left, below = left_hand(
        beats, desk.sounds, lower, upper, chords,
        _size(desk, "left"), balance, taste, desk.pace, lambda keys: desk.playable(keys, "left"),
        desk.after, desk.rules.numbers("voicing.after-beats.home")[level.order - 1],
    )  # fmt: skip
    free = free_pulses(beats, tune, desk.sounds, desk.bars, resolution, number("voicing.as-written.free-hand"))
    beats = _eased(desk, right_pulses(tune, desk.sounds, desk.bars, resolution, pace, desk.pace, free), (0, 9, 9, 9))
    right, above = right_hand(
        beats, desk.sounds, left, lower, upper, chords,
        _size(desk, "right"), balance, taste, desk.pace, lambda keys: desk.playable(keys, "right"),
        level.voices_right > 1, desk.loud,
    )  # fmt: skip
    return (*left, *right, *_octaves(desk, bass, left)), (*below, *above)


def _size(desk: Desk, hand: Hand) -> Size:
    """What one hand of the level may take, and how quickly."""
    some, more = (desk.rules.numbers(f"voicing.pace.{hand}-{name}")[desk.rules.level.order - 1] for name in ("some", "more"))
    return Size(span=desk.spans[hand], keys=desk.most[hand], some=some, more=more)


def _eased(desk: Desk, pulses: tuple[Pulse, ...], least: tuple[int, ...]) -> tuple[Pulse, ...]:
    """The pulses that stay where bars are eased: ``least`` metric weight for each step of relief."""
    if not desk.ease:
        return pulses
    return tuple(p for p in pulses if desk.weight(p.onset) >= least[desk.eased(p.onset)])


def _octaves(desk: Desk, bass: Sequence[Tone], left: Sequence[Inner]) -> list[Inner]:
    """The lower octave of loud bass notes that leave the left hand free, where the orchestra plays it too."""
    level = desk.rules.level
    shortest = desk.rules.number("voicing.bass-octaves.shortest")
    if level.order < desk.rules.whole("voicing.bass-octaves.from-level") or level.span_left < 12:
        return []
    starts = [inner.onset for inner in left]
    out = []
    for tone, heard in zip(bass, over(desk.sounds, [(t.onset, t.onset + 1) for t in bass]), strict=True):
        low = tone.midi - 12
        if low < level.lowest or not desk.loud(tone.onset) or (tone.end - tone.onset) / desk.pace(tone.onset) < shortest:
            continue
        first = max(0, bisect_right(starts, tone.onset) - 1)
        busy = any(inner.end > tone.onset for inner in left[first : bisect_left(starts, tone.end)])
        doubled = any(s.midi <= low and (s.midi - low) % 12 == 0 and s.onset == tone.onset for s in heard)
        if doubled and not busy and not desk.eased(tone.onset):
            out.append(Inner("left", tone.onset, tone.end, (low,)))
    return out
