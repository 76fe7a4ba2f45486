"""The acts of arranging in their order, from the score's texture to a draft with its reasons."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from reduce.arrange.arrangement import Arrangement, Request
from reduce.arrange.as_written import bass_line, inner_voices
from reduce.arrange.by_figures import accompaniment
from reduce.arrange.desk import Desk, speed
from reduce.arrange.easing import explained as explained_easing
from reduce.arrange.easing import relief
from reduce.arrange.explain import Ledger, explained_additions, explained_fates, explained_fingers, explained_octaves
from reduce.arrange.fates import stood_for, traced
from reduce.arrange.ground import starts_after_rest
from reduce.arrange.key import choose_key
from reduce.arrange.length import choose_length
from reduce.arrange.line import Tone, bar_at, line_of, moved
from reduce.arrange.marks import merge_marks
from reduce.arrange.octaves import Compass, placed, shifted
from reduce.arrange.rhythm import fit_rhythm
from reduce.arrange.sounding import Sound, bed
from reduce.arrange.strands import Key as Press
from reduce.arrange.strands import Refused, assembled, kept_legal, one_voice
from reduce.arrange.tempo import choose_tempo
from reduce.hands.check import check
from reduce.hands.fingers import fingered
from reduce.model.draft import Draft, DraftNote
from reduce.model.pitch import Pitch, in_key
from reduce.model.rules import Rules
from reduce.model.score import Bar, Score, Tempo
from reduce.model.texture import Lead, Texture


@dataclass(frozen=True, kw_only=True)
class _Plan:
    """What is settled before the hands are filled: the desk, the tune and the bass as they sound in the draft's key."""

    desk: Desk
    first: int
    tune: tuple[Tone, ...]
    bass: tuple[Tone, ...]
    boundaries: tuple[int, ...]


def arrange(score: Score, texture: Texture, rules: Rules, request: Request) -> Arrangement:
    """The draft of a score for a level.

    Raises:
        UsageError: bars that the score does not have, or a key that is none.
    """
    settled = Ledger()
    plan, tempos = _planned(score, texture, rules, request, settled)
    bars, level = plan.desk.bars, rules.level
    asked, ease = tempos, dict[int, int]()
    beat = bars[0].meter.beat_ticks(score.resolution) / score.resolution if bars else 1.0
    report = None
    rounds = 0 if level.order > rules.whole("easing.bar.up-to-level") else rules.whole("easing.bar.rounds")
    for attempt in range(rounds + 1):
        ledger = settled.copy()
        refused, notes, claims = _realised(plan, tempos, ease, ledger)
        draft = _draft(plan, notes, tempos)
        if attempt == rounds:
            break
        report = check(draft, level, rules)
        wish = relief(report, tempos, ease, rules, beat)
        if wish is None:
            break
        tempos, ease = wish.tempos, dict(wish.ease)
    if report is not None:
        explained_easing(ledger, report, asked, tempos, ease, bars, rules)

    marks, decided = merge_marks(score, texture, notes, rules, bars)
    ledger.extend(decided)
    start, end, shift = plan.desk.start, plan.desk.end, plan.desk.shift
    traces = traced(score.notes, notes, texture.roles, claims, shift, start, start, end)
    fates = explained_fates(ledger, traces, score, texture, bars, refused, level)
    standing = stood_for(traces)
    notes = tuple(replace(n, sources=standing.get(n.id, n.sources)) for n in notes)
    notes = explained_additions(ledger, notes, bars, start)
    draft = replace(draft, notes=notes, marks=marks)
    fingers = fingered(draft, level)
    explained_fingers(ledger, fingers, bars, level)
    draft = replace(draft, notes=tuple(replace(n, finger=fingers[n.id]) if n.id in fingers else n for n in notes))
    return Arrangement(draft=draft, decisions=ledger.decisions(), fates=fates, refused=refused)


def _planned(score: Score, texture: Texture, rules: Rules, request: Request, ledger: Ledger) -> tuple[_Plan, tuple[Tempo, ...]]:
    """Length, tempo and key, and the tune in its octave."""
    first, last, decided = choose_length(score, texture, rules, request.bars or request.length)
    ledger.extend(decided)
    bars = score.bars[first : last + 1]
    start, end = bars[0].start, bars[-1].end
    tempos, decided = choose_tempo(score, rules, bars)
    ledger.extend(decided)
    written = _line(score, texture.tune, start, end)
    shift, steps, keys, decided = choose_key(score, texture, rules, request.key, written, bars)
    ledger.extend(decided)
    bars = tuple(replace(bar, key=key) for bar, key in zip(bars, keys, strict=True))
    desk = Desk(
        score=score, texture=texture, rules=rules, bars=bars, shift=shift, steps=steps,
        sounds=bed(score, texture, shift, start, end), pace=speed(tempos, score.resolution),
    )  # fmt: skip
    boundaries = tuple(sorted({p.start for p in texture.phrases} | {lead.start for lead in texture.tune}))
    tune = _tune_placed(desk, tuple(moved(tone, shift, steps) for tone in written), boundaries, ledger)
    bass = tuple(moved(tone, shift, steps) for tone in _line(score, texture.bass, start, end))
    return _Plan(desk=desk, first=first, tune=tune, bass=bass, boundaries=boundaries), tempos


def _realised(
    plan: _Plan, tempos: tuple[Tempo, ...], ease: dict[int, int], ledger: Ledger
) -> tuple[tuple[Refused, ...], tuple[DraftNote, ...], dict[str, str]]:
    """Both hands filled at a tempo, with the given bars (index into the kept ones) eased."""
    score, texture, rules = plan.desk.score, plan.desk.texture, plan.desk.rules
    desk = replace(plan.desk, pace=speed(tempos, score.resolution), ease=ease)
    level, bars = rules.level, desk.bars
    quarters = desk.pace(desk.start) * 60 / score.resolution
    tune, decided = fit_rhythm(
        plan.tune, bars, rules, resolution=score.resolution, quarters=quarters, phrases=texture.phrases, chords=texture.chords
    )
    ledger.extend(decided)
    if level.order >= rules.whole("voicing.as-written.from-level"):
        bass = bass_line(desk, plan.bass, tune, plan.boundaries, ledger)
        inner = inner_voices(desk, tune, bass)
        bass, inner = one_voice(bass, inner, int(rules.number("voicing.as-written.short-bass") * score.resolution))
        presses = assembled(tune, bass, inner)
    else:
        left, right, decided, _ = accompaniment(desk, tune, plan.bass, quarters)
        ledger.extend(decided)
        presses = tuple(sorted([*left, *assembled(tune, (), right)], key=lambda k: (k.onset, k.hand, k.strand, k.midi)))
    presses, refused = kept_legal(presses, desk.spans, desk.most, desk.playable, level.lowest, level.highest)
    notes, claims = _written(presses, _names(desk.sounds, desk.steps, desk.shift), bars, desk.start)
    return refused, notes, claims


def _draft(plan: _Plan, notes: tuple[DraftNote, ...], tempos: tuple[Tempo, ...]) -> Draft:
    """The draft's frame around its notes, counted from its own first bar."""
    score, start = plan.desk.score, plan.desk.start
    return Draft(
        resolution=score.resolution,
        title=score.title,
        subtitle=plan.desk.rules.level.title,
        composer=score.composer,
        rights=score.rights,
        source=score.source,
        level=plan.desk.rules.level.name,
        transposed=plan.desk.shift,
        first_bar=plan.first,
        bars=tuple(replace(bar, index=i, start=bar.start - start) for i, bar in enumerate(plan.desk.bars)),
        notes=notes,
        tempos=tuple(replace(t, onset=max(0, t.onset - start)) for t in tempos),
    )


def _tune_placed(desk: Desk, tune: tuple[Tone, ...], boundaries: Sequence[int], ledger: Ledger) -> tuple[Tone, ...]:
    """The tune in the octave where the right hand plays it, phrase by phrase."""
    level, rules = desk.rules.level, desk.rules
    compass = Compass(
        lowest=level.lowest,
        highest=level.highest,
        easy_low=max(level.lowest, rules.whole("placement.tune-octave.easy-low")),
        easy_high=min(level.highest, rules.whole("placement.tune-octave.easy-high")),
        octave=rules.numbers("placement.tune-octave.away")[level.order - 1],
        outside=rules.number("placement.tune-octave.outside"),
        seam=rules.number("placement.tune-octave.seam"),
        tear=rules.number("placement.tune-octave.tear"),
    )
    shifts = placed(tune, starts_after_rest(tune, boundaries), compass)
    explained_octaves(ledger, "melody", "right", tune, shifts, desk.bars, level)
    return shifted(tune, shifts)


def _line(score: Score, leads: Sequence[Lead], start: int, end: int) -> tuple[Tone, ...]:
    """The notes of the leads as one line inside the kept bars, as the source sounds."""
    by_id = score.note_by_id
    ids = [name for lead in leads for name in lead.notes if start <= by_id[name].onset < end]
    return tuple(replace(tone, end=min(tone.end, end)) for tone in line_of(ids, by_id))


def _names(sounds: Sequence[Sound], steps: int, shift: int) -> Callable[[int, int, int, int], Pitch]:
    """A speller: the name that the source gives to a key sounding in a stretch, else the plain one of the key signature."""
    by_class: dict[int, list[Sound]] = {}
    for sound in sounds:
        by_class.setdefault(sound.midi % 12, []).append(sound)

    def name(midi: int, onset: int, end: int, fifths: int) -> Pitch:
        for sound in by_class.get(midi % 12, ())[_first_after(by_class[midi % 12], onset) :] if midi % 12 in by_class else ():
            if sound.onset >= end:
                break
            if sound.end > onset:
                sounding = sound.note.pitch.moved(steps, shift)
                return Pitch(sounding.step, sounding.alter, sounding.octave + (midi - sounding.midi) // 12)
        return in_key(midi, fifths)

    return name


def _first_after(row: Sequence[Sound], onset: int, look_back: int = 24) -> int:
    """Where to begin looking for what sounds at ``onset``: a few notes before it in a row sorted by onset."""
    low, high = 0, len(row)
    while low < high:
        middle = (low + high) // 2
        if row[middle].onset < onset:
            low = middle + 1
        else:
            high = middle
    return max(0, low - look_back)


def _written(
    presses: Sequence[Press], name: Callable[[int, int, int, int], Pitch], bars: Sequence[Bar], offset: int
) -> tuple[tuple[DraftNote, ...], dict[str, str]]:
    """Draft notes with ids in score order, and which source note each outer note claims."""
    notes: list[DraftNote] = []
    claims: dict[str, str] = {}
    serial = 0
    for press in sorted(presses, key=lambda p: (p.onset, p.hand == "left", p.strand, -p.midi)):
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
        pitch = press.pitch or name(press.midi, press.onset, press.end, bar_at(bars, press.onset).key.fifths)
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
        claims.update((source, note.id) for source in note.sources)
        notes.append(note)
    return tuple(notes), claims
