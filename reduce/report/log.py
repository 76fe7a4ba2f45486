"""The explanation log and the fates, one JSON object a line."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from functools import cache
from json.encoder import encode_basestring as quoted
from typing import Any

from reduce.model.decision import Decision, Fate
from reduce.model.draft import DraftNote
from reduce.model.record import replace
from reduce.model.score import Score
from reduce.report.places import Places, plain


def decisions_jsonl(decisions: Iterable[Decision], score: Score, notes: Iterable[DraftNote] = ()) -> bytes:
    """``decisions.jsonl``: one decision a line, in the order of the score after the one that says which bars are played.

    Bars are the printed numbers, ``beat`` the felt beat (1 on the bar line) of the first bar or null.  ``notes`` of the draft that
    name the decision which put them there are listed with it.
    """
    places = Places(score)
    put: dict[str, list[str]] = {}
    for note in notes:
        if note.decision:
            put.setdefault(note.decision, []).append(note.id)
    decisions = [_with_notes(decision, put.get(decision.id, ())) for decision in decisions]
    ordered = sorted(decisions, key=_place)
    encode = json.JSONEncoder(ensure_ascii=False).encode
    return "".join(encode(row(decision, places)) + "\n" for decision in ordered).encode()


def _place(decision: Decision) -> tuple[bool, int, int]:
    played = decision.kind == "cut" and decision.weight == "big"
    return not played, decision.bars[0], -1 if decision.onset is None else decision.onset


def _with_notes(decision: Decision, names: Iterable[str]) -> Decision:
    return replace(decision, draft_notes=tuple(dict.fromkeys((*decision.draft_notes, *names))))


def row(decision: Decision, places: Places) -> dict[str, Any]:
    """A decision as it stands in the log."""
    first, last = decision.bars
    return {
        "id": decision.id,
        "kind": decision.kind,
        "bars": [places.number(first), places.number(last)],
        "beat": None if decision.onset is None else places.beat(decision.onset, places.bar_at(decision.onset)),
        "hand": decision.hand,
        "weight": decision.weight,
        "certainty": plain(decision.certainty),
        "sentence": decision.sentence,
        "rule": decision.rule,
        "setting": decision.setting,
        "measured": None if decision.measured is None else plain(decision.measured),
        "limit": None if decision.limit is None else plain(decision.limit),
        "unit": decision.unit,
        "source_notes": decision.source_notes,
        "draft_notes": decision.draft_notes,
        "rejected": [{"what": other.what, "why": other.why} for other in decision.rejected],
        "by": decision.by,
    }


def notes_jsonl(fates: Iterable[Fate], score: Score, roles: Mapping[str, str] | None = None) -> bytes:
    """``notes.jsonl``: the fate of every source note, in the order of the score; ``roles`` adds what each note does in the texture.

    A movement has tens of thousands of notes, so lines are put together from strings that are quoted once.
    """
    places = Places(score)
    beats = cache(lambda onset, bar: repr(places.beat(onset, score.bars[bar])))
    parts = [quoted(part.name) for part in score.parts]
    numbers = [quoted(bar.number) for bar in score.bars]
    told = {fate.note: fate for fate in fates}
    pitches: dict[int, str] = {}  # by identity: the few pitches of a score are shared records
    lines = []
    for note in score.notes:
        fate = told.get(note.id)
        if fate is None:
            continue
        pitch = note.pitch
        name = pitches.get(id(pitch))
        if name is None:
            name = pitches[id(pitch)] = quoted(str(pitch))
        drafted = ", ".join([quoted(each) for each in fate.draft_notes])
        role = (roles or {}).get(note.id)
        lines.append(
            f'{{"note": {quoted(note.id)}, "part": {parts[note.part]}, "bar": {numbers[note.bar]}, "beat": {beats(note.onset, note.bar)}, '
            f'"pitch": {name}, "fate": "{fate.kind}", "decision": {quoted(fate.decision)}, '
            f'"draft_notes": [{drafted}]' + (f', "role": "{role}"}}\n' if role else "}\n")
        )
    return "".join(lines).encode()
