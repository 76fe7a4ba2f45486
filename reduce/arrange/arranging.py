"""The acts of arranging in their order, from the score's texture to a draft with its reasons."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from reduce.arrange.explain import Ledger, explained_fates, explained_octaves
from reduce.arrange.fates import stood_for, traced
from reduce.arrange.fold import Balance, Inner, Outline, Size, left_hand, right_hand
from reduce.arrange.ground import deepest_free, joined, slower_repeats, starts_after_rest, unison_bass
from reduce.arrange.inner import Pace, left_pulses, right_pulses, strength
from reduce.arrange.line import Tone, line_of, moved
from reduce.arrange.octaves import Compass, placed, shifted
from reduce.arrange.sounding import Sound, bed
from reduce.arrange.strands import Key as Press
from reduce.arrange.strands import Refused, assembled, kept_legal
from reduce.arrange.voicing import Taste
from reduce.hands.hand import grip
from reduce.model.decision import Decision, Fate
from reduce.model.draft import Draft, DraftNote, Hand
from reduce.model.pitch import Pitch, in_key
from reduce.model.problem import Problem
from reduce.model.rules import Rules
from reduce.model.score import Bar, Score, Tempo
from reduce.model.texture import Lead, Texture

DEFAULT_QUARTERS = 96.0  # a minute, where the score names no tempo (judgement)


@dataclass(frozen=True, slots=True, kw_only=True)
class Request:
    """What the arranger asked for: bars as printed ('9-16'), key ('keep', 'auto' or a name), length ('full', 'level', 'A-B')."""

    bars: str | None = None
    key: str = "keep"
    length: str | None = None


@dataclass(frozen=True, kw_only=True)
class Arrangement:
    draft: Draft
    decisions: tuple[Decision, ...]
    fates: tuple[Fate, ...]
    problems: tuple[Problem, ...] = ()
    refused: tuple[Refused, ...] = ()


def arrange(score: Score, texture: Texture, rules: Rules, request: Request) -> Arrangement:
    """The draft of a score for a level."""
    level = rules.level
    ledger = Ledger()
    first, last = 0, len(score.bars) - 1
    bars = score.bars[first : last + 1]
    start, end = bars[0].start, bars[-1].end
    shift, steps = 0, 0
    tempos = score.tempos
    pace_of = _speed(tempos, score.resolution)

    sounds = bed(score, texture, shift, start, end)
    boundaries = sorted({p.start for p in texture.phrases} | {lead.start for lead in texture.tune})
    tune = _line(score, texture.tune, start, end, shift, steps)
    compass = Compass(
        lowest=level.lowest,
        highest=level.highest,
        easy_low=max(level.lowest, rules.whole("placement.tune-octave.easy-low")),
        easy_high=min(level.highest, rules.whole("placement.tune-octave.easy-high")),
        octave=rules.number("placement.tune-octave.away"),
        outside=rules.number("placement.tune-octave.outside"),
        seam=rules.number("placement.tune-octave.seam"),
        tear=rules.number("placement.tune-octave.tear"),
    )
    shifts = placed(tune, starts_after_rest(tune, boundaries), compass)
    explained_octaves(ledger, "melody", "right", tune, shifts, bars, level)
    tune = shifted(tune, shifts)

    starts = [bar.start for bar in bars]

    def weight(onset: int) -> int:
        return strength(onset, bars[max(0, bisect_right(starts, onset) - 1)], score.resolution)

    bass = _line(score, texture.bass, start, end, shift, steps)
    bass = joined(bass, unison_bass(tune, bass, sounds, bars, steps, shift))
    repeat = rules.number("voicing.pace.repeat")
    bass = slower_repeats(bass, 1.0 / level.notes_per_second_one, repeat, pace_of, weight)
    upper = Outline(tune)
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
    shifts = placed(bass, starts_after_rest(bass, boundaries), compass, deepest_free(bass, upper))
    explained_octaves(ledger, "bass", "left", bass, shifts, bars, level)
    bass = shifted(bass, shifts)
    lower = Outline(bass)

    spans: dict[Hand, int] = {"right": level.span_right, "left": level.span_left}
    most: dict[Hand, int] = {"right": level.notes_right, "left": level.notes_left}

    def playable(keys: tuple[int, ...], hand: Hand) -> bool:
        return len(keys) < 2 or grip(keys, level.hand_span, hand) is not None

    inner = _as_written(score, texture, rules, sounds, bars, upper, lower, pace_of, spans, most, playable)
    presses, refused = kept_legal(assembled(tune, bass, inner), spans, most, playable, level.lowest, level.highest)

    names = _names(sounds, steps, shift)
    notes, claims = _written(presses, names, bars, start)
    draft = Draft(
        resolution=score.resolution,
        title=score.title,
        subtitle=level.title,
        composer=score.composer,
        rights=score.rights,
        source=score.source,
        level=level.name,
        transposed=shift,
        first_bar=first,
        bars=tuple(replace(bar, index=i, start=bar.start - start) for i, bar in enumerate(bars)),
        notes=notes,
        tempos=tuple(replace(t, onset=max(0, t.onset - start)) for t in tempos if t.onset < end),
    )
    traces = traced(score.notes, notes, texture.roles, claims, shift, start, start, end)
    fates = explained_fates(ledger, traces, score, texture, bars, refused, level)
    standing = stood_for(traces)
    draft = replace(draft, notes=tuple(replace(n, sources=standing.get(n.id, n.sources)) for n in notes))
    return Arrangement(draft=draft, decisions=ledger.decisions(), fates=fates, refused=refused)


def _line(score: Score, leads: Sequence[Lead], start: int, end: int, shift: int, steps: int) -> tuple[Tone, ...]:
    """The notes of the leads as one line inside the kept bars, in the draft's key."""
    by_id = score.note_by_id
    ids = [name for lead in leads for name in lead.notes if start <= by_id[name].onset < end]
    line = line_of(ids, by_id)
    clipped = tuple(replace(tone, end=min(tone.end, end)) for tone in line)
    return tuple(moved(tone, shift, steps) for tone in clipped) if shift or steps else clipped


def _speed(tempos: Sequence[Tempo], resolution: int) -> Callable[[int], float]:
    """Ticks a second at a moment."""
    known = [(t.onset, t.quarters) for t in tempos if t.quarters]
    onsets = [onset for onset, _ in known]
    rates = [float(quarters or DEFAULT_QUARTERS) * resolution / 60 for _, quarters in known]

    def ticks_a_second(tick: int) -> float:
        index = bisect_right(onsets, tick) - 1
        return rates[index] if index >= 0 else (rates[0] if rates else DEFAULT_QUARTERS * resolution / 60)

    return ticks_a_second


def _as_written(
    score: Score,
    texture: Texture,
    rules: Rules,
    sounds: Sequence[Sound],
    bars: Sequence[Bar],
    tune: Outline,
    bass: Outline,
    pace_of: Callable[[int], float],
    spans: dict[Hand, int],
    most: dict[Hand, int],
    playable: Callable[[tuple[int, ...], Hand], bool],
) -> list[Inner]:
    """Inner voices in the rhythm of the source's own accompaniment (the upper levels)."""
    level = rules.level
    number = rules.number
    pace = Pace(strike=1.0 / level.notes_per_second_both, repeat=number("voicing.pace.repeat"), right=number("voicing.pace.right"))
    balance = Balance(
        third=number("voicing.chord-notes.third"),
        seventh=number("voicing.chord-notes.seventh"),
        fifth=number("voicing.chord-notes.fifth"),
        foreign=number("voicing.chord-notes.foreign"),
        heard=number("voicing.chord-notes.heard"),
        covered=number("voicing.chord-notes.covered"),
        struck=number("voicing.chord-notes.struck"),
        counter=number("voicing.chord-notes.counter"),
        note_left=number("voicing.chord-notes.note-left"),
        note_right=number("voicing.chord-notes.note-right"),
    )
    taste = Taste(
        exact=number("voicing.grip-to-grip.exact"),
        repeat=number("voicing.grip-to-grip.repeat"),
        mud=number("voicing.low-intervals.mud"),
        travel=number("voicing.grip-to-grip.travel"),
        leap=number("voicing.grip-to-grip.leap"),
        crowd=number("voicing.grip-to-grip.crowd"),
        gap=number("voicing.grip-to-grip.gap"),
        limits=tuple(int(v) for v in rules.numbers("voicing.low-intervals.limits")),
    )
    left = left_hand(
        left_pulses(sounds, bars, score.resolution, pace, pace_of), sounds, bass, tune, texture.chords,
        Size(span=spans["left"], keys=most["left"]), balance, taste, pace_of, lambda keys: playable(keys, "left"),
    )  # fmt: skip
    right = right_hand(
        right_pulses(tune.tones, sounds, bars, score.resolution, pace, pace_of), sounds, left, bass, tune, texture.chords,
        Size(span=spans["right"], keys=most["right"]), balance, taste, pace_of, lambda keys: playable(keys, "right"),
        level.voices_right > 1,
    )  # fmt: skip
    return [*left, *right]


def _names(sounds: Sequence[Sound], steps: int, shift: int) -> Callable[[int, int, int, int], Pitch]:
    """A speller: the name that the source gives to a key sounding in a stretch, else the plain one of the key signature."""
    by_class: dict[int, list[Sound]] = {}
    for sound in sounds:
        by_class.setdefault(sound.midi % 12, []).append(sound)
    onsets = {pc: [s.onset for s in row] for pc, row in by_class.items()}

    def name(midi: int, onset: int, end: int, fifths: int) -> Pitch:
        row = by_class.get(midi % 12)
        if row:
            i = bisect_right(onsets[midi % 12], max(onset, end - 1)) - 1
            if i >= 0 and row[i].end > onset - 1:
                sounding = row[i].note.pitch.moved(steps, shift)
                return Pitch(sounding.step, sounding.alter, sounding.octave + (midi - sounding.midi) // 12)
        return in_key(midi, fifths)

    return name


def _written(
    presses: Sequence[Press], name: Callable[[int, int, int, int], Pitch], bars: Sequence[Bar], offset: int
) -> tuple[tuple[DraftNote, ...], dict[str, str]]:
    """Draft notes with ids in score order, and which source note each outer note claims."""
    starts = [bar.start for bar in bars]
    notes: list[DraftNote] = []
    claims: dict[str, str] = {}
    ordered = sorted(presses, key=lambda p: (p.onset, p.hand == "left", p.strand, -p.midi))
    serial = 0
    for press in ordered:
        tone = press.tone
        for grace in tone.graces if tone is not None else ():
            serial += 1
            notes.append(
                DraftNote(
                    id=f"n{serial}", hand=press.hand, strand=press.strand, onset=press.onset - offset, duration=0, pitch=grace.pitch,
                    midi=grace.midi, role="melody", sources=grace.sources, grace=True, grace_slash=True,
                )
            )  # fmt: skip
        serial += 1
        bar = bars[max(0, bisect_right(starts, press.onset) - 1)]
        pitch = press.pitch if press.pitch is not None else name(press.midi, press.onset, press.end, bar.key.fifths)
        note = DraftNote(
            id=f"n{serial}",
            hand=press.hand,
            strand=press.strand,
            onset=press.onset - offset,
            duration=press.end - press.onset,
            pitch=pitch,
            midi=press.midi,
            role=("melody" if press.hand == "right" else "bass") if press.outer else "harmony",
            sources=tone.sources if tone is not None else (),
            decision=tone.changed if tone is not None else "",
            articulations=tone.articulations if tone is not None else (),
            ornaments=tone.ornaments if tone is not None else (),
            fermata=tone.fermata if tone is not None else False,
        )
        for source in tone.sources if tone is not None else ():
            claims[source] = note.id
        notes.append(note)
    return tuple(notes), claims
