"""A piano piece that two hands of the level can play already is left as it is."""

from __future__ import annotations

from reduce.arrange.arrangement import Arrangement
from reduce.hands.hand import grip
from reduce.model.decision import Decision, Fate
from reduce.model.draft import Draft, Hand
from reduce.model.record import replace
from reduce.model.rules import Rules
from reduce.model.score import Score


def unchanged(piano: Draft, score: Score, rules: Rules) -> Arrangement | None:
    """The piano score itself as the draft, or None where some moment exceeds what the level allows.

    ``piano`` is the score taken as a two-staff draft (its note ids are the score's).  Every moment is tried: keys at once,
    semitones, the reach of the hand, and no key for both hands.
    """
    level = rules.level
    limits: dict[Hand, tuple[int, int]] = {"right": (level.span_right, level.notes_right), "left": (level.span_left, level.notes_left)}
    events = sorted((n for n in piano.notes if not n.grace and n.duration), key=lambda n: n.onset)
    down: list[int] = []
    for index, note in enumerate(events):
        down = [i for i in down if events[i].end > note.onset]
        down.append(index)
        if index + 1 < len(events) and events[index + 1].onset == note.onset:
            continue
        for hand, (span, most) in limits.items():
            keys = tuple(sorted({events[i].midi for i in down if events[i].hand == hand}))
            if len(keys) > most or (len(keys) > 1 and (keys[-1] - keys[0] > span or grip(keys, level.hand_span, hand) is None)):
                return None
        sides: dict[int, str] = {}
        for i in down:
            if sides.setdefault(events[i].midi, events[i].hand) != events[i].hand:
                return None
    known = score.note_by_id
    notes = tuple(replace(n, sources=(n.id,)) if n.id in known else n for n in piano.notes)
    if any(not n.sources for n in notes):
        return None
    decision = Decision(
        id="as-it-is",
        kind="hand",
        bars=(0, max(0, len(score.bars) - 1)),
        weight="big",
        sentence="The score is a piano piece already, and every grip fits this level, so nothing is changed.",
        rule="voicing.as-written",
        setting="voicing.as-written.from-level",
        source_notes=tuple(n.id for n in score.notes),
        draft_notes=tuple(n.id for n in notes),
    )
    present = {n.id for n in notes}
    fates = tuple(
        Fate(note=n.id, kind="kept", decision=decision.id, draft_notes=(n.id,))
        if n.id in present
        else Fate(note=n.id, kind="dropped", decision=decision.id)
        for n in score.notes
    )
    return Arrangement(draft=replace(piano, notes=notes, level=level.name, subtitle=level.title), decisions=(decision,), fates=fates)
