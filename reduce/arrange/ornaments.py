"""Ornaments and grace notes as a level plays them."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from reduce.arrange.line import Tone, bar_at
from reduce.model.decision import Decision
from reduce.model.pitch import STEPS, Pitch, spelled
from reduce.model.record import replace
from reduce.model.rules import Rules
from reduce.model.score import Bar

TRILLS = frozenset(("trill-mark", "wavy-line", "shake"))
TURNS = frozenset(("turn", "inverted-turn", "delayed-turn", "mordent", "inverted-mordent"))
_KNOWN: dict[str, frozenset[str]] = {"none": frozenset(), "grace": frozenset(), "trill-turn": TRILLS | TURNS}


def dress_ornaments(
    tones: Sequence[Tone], bars: Sequence[Bar], rules: Rules, *, resolution: int
) -> tuple[tuple[Tone, ...], tuple[Decision, ...]]:
    """The line with the ornaments and graces of the level, and a decision for each kind of change.

    A trill becomes one upper grace note where the level has single graces; the upper note is the next step of the key signature
    (common practice).  Of several graces the last ones stay.  A turn that is written out in values which the level does not read is an
    ornament too.
    """
    level = rules.level
    most = int(rules.numbers("ornament.grace.most")[level.order - 1])
    farthest = int(rules.numbers("ornament.grace.farthest")[level.order - 1])
    least = rules.number("ornament.sign.beats-min") if level.ornaments != "all" else 0.0
    known = _KNOWN.get(level.ornaments)
    as_grace = rules.flag("ornament.sign.trill-as-grace") and most > 0
    out: list[Tone] = []
    changes: dict[str, list[Tone]] = {"left-out": [], "as-grace": [], "fewer-graces": [], "no-graces": [], "no-turn": [], "as-sign": []}
    for tone in turns_written(tones, bars, rules, resolution):
        if tone.changed in ("ornament-no-turn", "ornament-as-sign"):
            changes[tone.changed.removeprefix("ornament-")].append(tone)
            out.append(tone)
            continue
        if not tone.ornaments and not tone.graces:
            out.append(tone)
            continue
        bar = bar_at(bars, tone.onset)
        signs, graces, name = tone.ornaments, tone.graces, ""
        if signs and known is not None:
            short = tone.duration < least * bar.meter.beat_ticks(resolution)
            kept = tuple(sign for sign in signs if sign in known and not short)
            if kept != signs:
                trilled = any(sign in TRILLS for sign in signs) and not short
                name = "as-grace" if trilled and as_grace and not graces and not kept else "left-out"
                if name == "as-grace":
                    graces = (_upper(tone, bar.key.fifths),)
                signs = kept
        if tone.graces:
            near = tuple(grace for grace in tone.graces if abs(grace.midi - tone.midi) <= farthest)
            kept_graces = near[len(near) - most :] if most < len(near) else near
            if kept_graces != tone.graces:
                name = "fewer-graces" if kept_graces else "no-graces"
                graces = kept_graces
        if name:
            changes[name].append(tone)
            tone = replace(tone, ornaments=signs, graces=graces, changed=tone.changed or f"ornament-{name}")
        out.append(tone)
    return tuple(out), tuple(_told(name, found, bars, rules, most) for name, found in changes.items() if found)


def turns_written(tones: Sequence[Tone], bars: Sequence[Bar], rules: Rules, resolution: int) -> tuple[Tone, ...]:
    """The line with each written-out turn, too short to be read, as its main note: with the sign where the level has it, else plain."""
    known = _KNOWN.get(rules.level.ornaments)
    shortest = max(float(rules.level.shortest), rules.number("ornament.turn.shortest"))
    out: list[Tone] = []
    place = 0
    while place < len(tones):
        five = tones[place : place + 5]
        sign = _turn(five)
        beat = bar_at(bars, five[0].onset).meter.beat_ticks(resolution) if sign else 0
        if not sign or rules.level.shortest == 0 or five[0].duration >= shortest * resolution or five[-1].end - five[0].onset > beat:
            out.append(tones[place])
            place += 1
            continue
        signed = known is None or sign in known
        told = "ornament-as-sign" if signed else "ornament-no-turn"
        meant = five if signed else five[::2]
        sources = tuple(source for tone in meant for source in tone.sources)
        signs = (*five[0].ornaments, sign) if signed else five[0].ornaments
        out.append(replace(five[0], end=five[-1].end, sources=sources, ornaments=signs, changed=told))
        place += 5
    return tuple(out)


def _turn(five: Sequence[Tone]) -> str:
    """The sign of five even notes round a main note, its neighbours once above and once below (common practice); "" where they are none."""
    if len(five) < 5 or any(a.end != b.onset for a, b in pairwise(five)) or len({tone.duration for tone in five}) > 1:
        return ""
    main, first, again, second, last = (tone.midi for tone in five)
    if not main == again == last or any(tone.graces for tone in five):
        return ""
    away = (first - main, second - main)
    near = all(1 <= abs(step) <= 2 for step in away)
    return "turn" if near and away[0] > 0 > away[1] else "inverted-turn" if near and away[0] < 0 < away[1] else ""


def _upper(tone: Tone, fifths: int) -> Tone:
    """The upper neighbour of a tone in the key signature, as a grace that stands for the tone's trill."""
    octave, index = divmod(tone.pitch.diatonic + 1, 7)
    step = STEPS[index]
    order = "FCGDAEB"
    alter = 1 if fifths > 0 and order.index(step) < fifths else -1 if fifths < 0 and order.index(step) >= 7 + fifths else 0
    pitch: Pitch = spelled(step, alter, octave)
    away = pitch.midi - tone.midi
    if not 1 <= away <= 2:  # above an altered note: a whole or a half step
        pitch = spelled(step, alter + (2 - away if away > 2 else 1 - away), octave)
    return Tone(tone.onset, tone.onset, pitch.midi, pitch, tone.sources)


_WORDS = {
    "left-out": ("ornaments left out and their main notes kept", "this level has none of them"),
    "as-grace": ("trills become one upper grace note", "this level has single graces"),
    "fewer-graces": ("only the last graces before a note stay", ""),
    "no-graces": ("grace notes left out", ""),
    "no-turn": ("a turn written out in short notes is left out, its main note stays", "this level has no ornaments"),
    "as-sign": ("a turn written out in short notes is a sign over its main note", "this level does not read its values"),
}


def _told(name: str, found: Sequence[Tone], bars: Sequence[Bar], rules: Rules, most: int) -> Decision:
    first, last = bar_at(bars, found[0].onset), bar_at(bars, found[-1].onset)
    where = f"Bar {first.number}" if first is last else f"Bars {first.number}–{last.number}, {len(found)} places"
    what, because = _WORDS[name]
    because = because or (f"this level plays {most} before a note" if most else "this level plays none")
    graces = name.endswith("graces")
    return Decision(
        id=f"ornament-{name}",
        kind="notation",
        bars=(first.index, last.index),
        sentence=f"{where}: {what}, because {because}; the tune itself is whole.",
        onset=found[0].onset,
        hand="right",
        rule="ornament.grace" if graces else "ornament.turn" if name in ("no-turn", "as-sign") else "ornament.sign",
        setting="ornament.grace.most" if graces else "level.ornaments",
        measured=float(max(len(tone.graces) for tone in found)) if graces else float(len(found)),
        limit=float(most) if graces else None,
        unit="graces" if graces else "places",
        source_notes=tuple(source for tone in found for source in (*tone.sources, *(s for grace in tone.graces for s in grace.sources))),
    )
