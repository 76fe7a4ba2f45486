"""The arranger's choices about tune, bass, instruments and chords, put into the texture before the hands are filled."""

from __future__ import annotations

import difflib
import re
from collections.abc import Sequence
from fractions import Fraction

from reduce.arrange.explain import Ledger, bars_named
from reduce.arrange.parted_bars import known_number, last_part
from reduce.model.choice import Choice
from reduce.model.decision import Decision, DecisionKind, Rejected
from reduce.model.problem import Problem
from reduce.model.record import dataclass, replace
from reduce.model.rules import Rules
from reduce.model.score import Bar, Note, Score
from reduce.model.texture import Chord, Lead, Role, Texture

_LETTERS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
_CHORD = re.compile(r"([A-G])([#♯b♭]?)([^/]*)(?:/([A-G])([#♯b♭]?))?")
KINDS: dict[str, DecisionKind] = {
    "melody": "melody", "bass": "bass", "key": "key", "cut": "cut", "figure": "figure", "octave": "octave", "move": "hand",
    "keep": "inner", "drop": "inner", "chord": "chord", "lock": "hand", "add": "inner", "remove": "inner", "change": "inner",
    "slur": "notation", "no-slur": "notation",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Overruled:
    """The texture with the choices in it.

    ``silent`` maps the notes of instruments that are left out to the decision that says so; ``wanted`` are notes of instruments to keep.
    """

    texture: Texture
    silent: dict[str, str]
    wanted: frozenset[str]
    problems: tuple[Problem, ...]


def choice_decision(ledger: Ledger, choice: Choice, bars: tuple[Bar, Bar], what: str, instead: Sequence[Rejected] = ()) -> str:
    """Enters a choice as the arranger's decision, in her own words where she gave some; the tool's earlier choice stays readable."""
    said = f": {choice.reason}" if choice.reason else ", because the arranger wants it so"
    return ledger.add(
        Decision(
            id=f"choice-{choice.place}",
            kind=KINDS[choice.action],
            bars=(bars[0].index, bars[1].index),
            hand=choice.hand or "both",
            weight="big",
            sentence=f"{bars_named(*bars)}: {what}{said}.",
            rule="choices",
            setting=f"choice {choice.place}",
            rejected=tuple(instead),
            by="arranger",
        )
    )


def where(choice: Choice, bars: Sequence[Bar]) -> tuple[Bar, Bar] | None:
    """First and last bar of a choice by their printed numbers ('' = all), or None where the score has no such bars."""
    if not choice.bars:
        return (bars[0], bars[-1]) if bars else None
    ends = re.split(r"\s*[-–]\s*", choice.bars)
    numbers = [bar.number for bar in bars]
    ends = [known_number(numbers, end) for end in ends]
    if not ends[0] or not ends[-1]:
        return None
    first, last = numbers.index(ends[0]), last_part(numbers, ends[-1])
    return (bars[first], bars[last]) if first <= last else None


def unfitting(choice: Choice, why: str) -> Problem:
    """A choice that no longer fits is a problem, never silence."""
    sentence = f"Choice {choice.place} ({choice.action} {choice.value}) was not followed: {why}."
    return Problem(severity="doubt", code="choice", bar=choice.bars, sentence=sentence)


def overruled(score: Score, texture: Texture, rules: Rules, choices: Sequence[Choice], ledger: Ledger) -> Overruled:
    """The texture as the arranger hears it.

    Bars are looked up in the whole score; names of instruments may be a part's or a stream's, case and spaces aside.
    """
    problems: list[Problem] = []
    silent: dict[str, str] = {}
    wanted: set[str] = set()
    figured = rules.level.order < rules.whole("voicing.as-written.from-level")
    for choice in choices:
        if choice.action not in ("melody", "bass", "keep", "drop", "chord"):
            continue
        place = where(choice, score.bars)
        if place is None:
            problems.append(unfitting(choice, f"the score has no bars {choice.bars}"))
            continue
        start, end = place[0].start, place[1].end
        if choice.action == "chord":
            chord = named_chord(choice.value, rules)
            if chord is None:
                problems.append(unfitting(choice, f"{choice.value!r} is no chord name that is known"))
                continue
            beat = (choice.beat or Fraction(0)) * score.resolution
            texture = replace(texture, chords=_chord_put(texture.chords, replace(chord, start=start + int(beat), end=end, chosen=True)))
            choice_decision(ledger, choice, place, f"the chord is {choice.value}")
            continue
        streams = _streams_named(choice.value, score, texture)
        if not streams:
            known = [part.name for part in score.parts]
            near = difflib.get_close_matches(choice.value, known, 1, 0.5)
            hint = f" (did you mean {near[0]!r}?)" if near else ""
            problems.append(unfitting(choice, f"the score has no instrument {choice.value!r}{hint}"))
            continue
        inside = [n for n in score.notes if start <= n.onset < end and texture.stream_of.get(n.id) in streams]
        if choice.action in ("melody", "bass"):
            texture = _led(score, texture, choice, place, inside, ledger, problems)
            if choice.action == "bass":
                texture = replace(texture, chords=_on_bass(score, texture, start, end))
        elif choice.action == "drop" and figured and not _leads(texture, inside):
            problems.append(unfitting(choice, "this level's figure stands for all instruments together"))
        elif choice.action == "drop":
            owner = choice_decision(ledger, choice, place, f"{choice.value} is left out")
            silent.update((note.id, owner) for note in inside)
        elif figured:
            problems.append(unfitting(choice, "this level plays one figure and has no room for another line"))
        else:
            roles: dict[str, Role] = dict(texture.roles)
            lines = {name for lead in (*texture.tune, *texture.bass) for name in lead.notes}
            roles.update((note.id, "counter") for note in inside if note.id not in lines)
            texture = replace(texture, roles=roles)
            wanted |= {note.id for note in inside}
            choice_decision(ledger, choice, place, f"{choice.value} is kept wherever a hand can hold it")
    if silent:
        texture = replace(
            texture,
            tune=tuple(replace(lead, notes=tuple(n for n in lead.notes if n not in silent)) for lead in texture.tune),
            bass=tuple(replace(lead, notes=tuple(n for n in lead.notes if n not in silent)) for lead in texture.bass),
        )
    return Overruled(texture, silent, frozenset(wanted), tuple(problems))


def _leads(texture: Texture, notes: Sequence[Note]) -> bool:
    """Whether some of the notes are of the tune or the bass."""
    lines = {name for lead in (*texture.tune, *texture.bass) for name in lead.notes}
    return any(note.id in lines for note in notes)


def _on_bass(score: Score, texture: Texture, start: int, end: int) -> tuple[Chord, ...]:
    """The chords of a stretch with the bass line's own note below them, where it is one of theirs."""
    line = [score.note_by_id[name] for lead in texture.bass for name in lead.notes]
    out = []
    for chord in texture.chords:
        if start <= chord.start < end:
            below = next((n.midi % 12 for n in line if n.onset < chord.end and n.end > chord.start and n.midi % 12 in chord.tones), None)
            chord = replace(chord, bass=chord.bass if below is None else below)
        out.append(chord)
    return tuple(out)


def _led(
    score: Score, texture: Texture, choice: Choice, place: tuple[Bar, Bar], inside: Sequence[Note], ledger: Ledger, problems: list[Problem]
) -> Texture:
    """The texture with tune or bass given to an instrument for some bars."""
    start, end = place[0].start, place[1].end
    tops: dict[int, Note] = {}
    graces: list[Note] = []
    lower = choice.action == "bass"
    for note in inside:
        if note.kind == "grace" and not lower:
            graces.append(note)
        elif note.kind == "struck" and note.duration:
            best = tops.get(note.onset)
            if best is None or (note.midi < best.midi if lower else note.midi > best.midi):
                tops[note.onset] = note
    if not tops:
        problems.append(unfitting(choice, f"{choice.value} rests in these bars"))
        return texture
    line = sorted([*tops.values(), *graces], key=lambda n: (n.onset, n.kind != "grace"))
    leads = texture.bass if lower else texture.tune
    names = {stream.id: stream.name for stream in texture.streams}
    before = dict.fromkeys(names[lead.stream] for lead in leads if lead.start < end and lead.end > start and lead.stream in names)
    stream = texture.stream_of[line[-1].id]
    fresh = Lead(start=start, end=end, stream=stream, notes=tuple(n.id for n in line), evidence=(("the arranger's choice", 1.0),))
    roles: dict[str, Role] = dict(texture.roles)
    kept: list[Lead] = []
    for lead in leads:
        for first, last in ((lead.start, min(lead.end, start)), (max(lead.start, end), lead.end)):
            if first < last:
                inner = tuple(n for n in lead.notes if first <= score.note_by_id[n].onset < last)
                kept.append(replace(lead, start=first, end=last, notes=inner))
        roles.update((n, "harmony") for n in lead.notes if start <= score.note_by_id[n].onset < end)
    role: Role = "bass" if lower else "melody"
    double: Role = "bass-double" if lower else "melody-double"
    heard = {(n.onset, n.midi % 12) for n in tops.values()}
    free = (None, "harmony", "figuration", "counter")
    for note in score.notes:
        if start <= note.onset < end and (note.onset, note.midi % 12) in heard and roles.get(note.id) in free:
            roles[note.id] = double
    roles.update((n.id, role) for n in line)
    kept.append(fresh)
    kept.sort(key=lambda lead: lead.start)
    what = f"the {'bass' if lower else 'tune'} is {choice.value}'s"
    choice_decision(ledger, choice, place, what, [Rejected(name, "the tool's own choice") for name in before if name != names.get(stream)])
    changed = {"bass": tuple(kept)} if lower else {"tune": tuple(kept)}
    return replace(texture, roles=roles, **changed)  # type: ignore[arg-type]


def _streams_named(name: str, score: Score, texture: Texture) -> set[int]:
    """Streams whose own name or whose part's name is meant."""
    wanted = " ".join(name.lower().split())
    exact = {s.id for s in texture.streams if " ".join(s.name.lower().split()) == wanted}
    return exact or {s.id for s in texture.streams if " ".join(score.parts[s.part].name.lower().split()) == wanted}


def named_chord(name: str, rules: Rules) -> Chord | None:
    """A chord from its letter name ('F#m7/C#'), as ``rules/harmony.toml`` spells kinds; None where it is none."""
    found = _CHORD.fullmatch(name.strip())
    if found is None:
        return None
    root = _class(found[1], found[2])
    suffix = found[3].strip().replace("b5", "♭5")
    for setting, value in rules.values.items():
        if setting.startswith("harmony.chord-names.") and value == suffix:
            quality = setting.removeprefix("harmony.chord-names.")
            if f"harmony.chord-templates.{quality}" not in rules.values:
                continue
            tones = tuple((root + int(tone)) % 12 for tone in rules.numbers(f"harmony.chord-templates.{quality}"))
            bass = _class(found[4], found[5]) if found[4] else root
            return Chord(start=0, end=0, root=root, quality=quality, bass=bass, tones=tones, name=name)
    return None


def _class(letter: str, sign: str) -> int:
    return (_LETTERS[letter] + {"#": 1, "♯": 1, "b": -1, "♭": -1}.get(sign, 0)) % 12


def _chord_put(chords: Sequence[Chord], new: Chord) -> tuple[Chord, ...]:
    """The chords with a stretch of them replaced."""
    out = [new]
    for chord in chords:
        for first, last in ((chord.start, min(chord.end, new.start)), (max(chord.start, new.end), chord.end)):
            if first < last:
                out.append(replace(chord, start=first, end=last))
    return tuple(sorted(out, key=lambda c: c.start))
