"""Short strikes of the left hand: dotted chords of the orchestra, and plucked strings, which are said so."""

from __future__ import annotations

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Mapping, Sequence

from reduce.arrange.desk import Desk
from reduce.arrange.explain import Ledger, bars_named
from reduce.arrange.inner import INNER_ROLES
from reduce.arrange.line import bar_at
from reduce.model.decision import Decision
from reduce.model.draft import DraftNote
from reduce.model.record import replace
from reduce.model.score import Score


def plucked(notes: tuple[DraftNote, ...], desk: Desk, ledger: Ledger) -> tuple[DraftNote, ...]:
    """The notes with a staccato on each short strike of the left hand for which only plucked strings are struck, and one decision.

    The tune does not count: it sings on above.  Levels without the sign keep plain notes.
    """
    spans = _spans(desk.score)
    if not spans or "staccato" not in desk.rules.level.articulations:
        return notes
    struck: dict[int, list[bool]] = defaultdict(list)
    for sound in desk.sounds:
        if sound.role not in ("melody", "melody-double", "rhythm"):
            turns = spans.get(sound.note.part, [])
            place = bisect_right(turns, (sound.onset, True)) - 1
            struck[sound.onset].append(place >= 0 and turns[place][1])
    short = {onset for onset, verdicts in struck.items() if all(verdicts)}
    longest = desk.rules.number("marks.plucked.longest") * desk.score.resolution
    plain = [n for n in notes if n.hand == "left" and n.role != "melody" and not (n.grace or n.articulations)]
    brief = [n for n in plain if n.duration <= longest]
    marked = {n.id: n for n in brief if n.onset + desk.start in short}
    if desk.rules.level.order < desk.rules.whole("voicing.as-written.from-level"):
        marked = _whole_bars(brief, marked, desk)
    if not marked:
        return notes
    first, last = (bar_at(desk.bars, n.onset + desk.start) for n in (min(marked.values(), key=_onset), max(marked.values(), key=_onset)))
    where = bars_named(first, last)
    ledger.add(
        Decision(
            id="",
            kind="notation",
            bars=(first.index, last.index),
            onset=min(n.onset for n in marked.values()) + desk.start,
            hand="left",
            sentence=f"{where}, left hand: plucked strings become staccato, because a plucked note is short; no pedal there.",
            rule="marks.plucked",
            setting="marks.plucked.longest",
            measured=float(len(marked)),
            unit="notes",
            draft_notes=tuple(marked),
        )
    )
    return tuple(replace(n, articulations=("staccato",)) if n.id in marked else n for n in notes)


def _whole_bars(brief: Sequence[DraftNote], marked: Mapping[str, DraftNote], desk: Desk) -> dict[str, DraftNote]:
    """The short strikes with a sign where a figure takes the place of the orchestra's own rhythm: of a bar with one key at a time all, if
    most have it, or none; dots on some notes of a broken chord would be mistaken for its accents.  Chords after a bass stroke differ."""
    bars: dict[int, list[DraftNote]] = defaultdict(list)
    for note in brief:
        bars[bar_at(desk.bars, note.onset + desk.start).index].append(note)
    found: dict[str, DraftNote] = {}
    for row in bars.values():
        signed = [n for n in row if n.id in marked]
        broken = len({n.onset for n in row}) == len(row)
        found |= {n.id: n for n in (signed if not broken else row if 2 * len(signed) > len(row) else ())}
    return found


def dotted(notes: tuple[DraftNote, ...], desk: Desk) -> tuple[DraftNote, ...]:
    """The notes with a staccato on each chord between bass strokes of which most of the orchestra's notes carry one."""
    if "staccato" not in desk.rules.level.articulations or not desk.after:
        return notes
    votes: dict[int, list[bool]] = defaultdict(list)
    for sound in desk.sounds:
        if sound.onset in desk.after and sound.role in INNER_ROLES:
            votes[sound.onset].append("staccato" in sound.note.articulations)
    short = {onset for onset, dots in votes.items() if 2 * sum(dots) > len(dots)}
    return tuple(
        replace(n, articulations=("staccato",))
        if n.hand == "left" and n.role == "harmony" and not n.articulations and n.onset + desk.start in short
        else n
        for n in notes
    )


def _onset(note: DraftNote) -> int:
    return note.onset


def _spans(score: Score) -> dict[int, list[tuple[int, bool]]]:
    """For each part that plucks: the moments at which it begins (True) or takes up the bow again (False), in order."""
    found: dict[int, list[tuple[int, bool]]] = defaultdict(list)
    for mark in score.marks:
        word = mark.text.strip().lower()
        if mark.kind == "text" and word.startswith(("pizz", "arco")):
            found[mark.part].append((mark.onset, word.startswith("pizz")))
    return {part: sorted(turns) for part, turns in found.items()}
