"""What the arranger has locked or edited note by note, put back after every run."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from fractions import Fraction
from typing import Literal

from reduce.arrange.explain import Ledger
from reduce.arrange.overrule import choice_decision, unfitting, where
from reduce.model.choice import Choice
from reduce.model.decision import Rejected
from reduce.model.draft import Draft, DraftMark, DraftNote, Hand
from reduce.model.pitch import STEPS, Pitch
from reduce.model.problem import Problem
from reduce.model.record import replace
from reduce.model.score import Bar


def locked(
    notes: tuple[DraftNote, ...], draft: Draft, earlier: Draft | None, choices: Sequence[Choice], ledger: Ledger
) -> tuple[tuple[DraftNote, ...], tuple[Problem, ...]]:
    """The notes with the locked bars taken from the earlier draft.

    A lock holds for a hand or both, or for the notes struck at one beat.  If the new draft stands in another key, the locked notes
    move with it.  Bars the earlier draft did not have cannot be locked: that is a problem.
    """
    problems: list[Problem] = []
    for choice in choices:
        if choice.action != "lock":
            continue
        place = where(choice, draft.bars)
        if place is None:
            problems.append(unfitting(choice, f"this draft has no bars {choice.bars}"))
            continue
        before = where(choice, earlier.bars) if earlier is not None else None
        if earlier is None or before is None or before[1].end - before[0].start != place_ticks(place, draft, earlier):
            problems.append(unfitting(choice, "there is no earlier draft with these bars to take the notes from"))
            continue
        hands: tuple[Hand, ...] = (choice.hand,) if choice.hand else ("right", "left")
        start, end = place[0].start, place[1].end
        scale = Fraction(draft.resolution, earlier.resolution)
        moved = draft.transposed - earlier.transposed
        owner = choice_decision(ledger, choice, _source_bars(place, draft), "locked: these notes stay as they are")
        taken = []
        for note in earlier.notes:
            onset = int((note.onset - before[0].start) * scale) + start
            inside = note.hand in hands and before[0].start <= note.onset < before[1].end
            if inside and _at(choice, note.onset, before[0], earlier.resolution):
                pitch, midi = note.pitch, note.midi
                if moved:
                    steps = _steps(moved)
                    pitch, midi = pitch.moved(steps, moved), midi + moved
                length = int(note.duration * scale)
                taken.append(replace(note, onset=onset, duration=length, pitch=pitch, midi=midi, decision=owner, sources=()))
        keep = [n for n in notes if not (n.hand in hands and start <= n.onset < end and _at(choice, n.onset, place[0], draft.resolution))]
        if choice.beat is None:  # what rings into the locked bars ends at their bar line
            keep = [replace(n, duration=start - n.onset) if n.hand in hands and n.onset < start < n.end else n for n in keep]
        notes = tuple(sorted([*keep, *_untangled(taken)], key=_order))
    return _numbered(notes), tuple(problems)


def locked_slurs(
    marks: tuple[DraftMark, ...], notes: Sequence[DraftNote], draft: Draft, earlier: Draft | None, choices: Sequence[Choice]
) -> tuple[DraftMark, ...]:
    """The marks with the slurs inside locked bars as the earlier draft had them."""
    if earlier is None:
        return marks
    was = {n.id: n for n in earlier.notes}
    by_id = {n.id: n for n in notes}
    struck = {(n.hand, n.onset, n.midi): n for n in notes if not n.grace}
    scale, moved = Fraction(draft.resolution, earlier.resolution), draft.transposed - earlier.transposed
    for choice in choices:
        place = where(choice, draft.bars) if choice.action == "lock" and choice.beat is None else None
        before = where(choice, earlier.bars)
        if place is None or before is None:
            continue
        start, end = place[0].start, place[1].end

        def inside(ends: Sequence[DraftNote], low: int, high: int, hand: str = choice.hand) -> bool:
            return all(low <= n.onset < high and hand in ("", n.hand) for n in ends)

        marks = tuple(m for m in marks if m.kind != "slur" or not inside([by_id[name] for name in m.notes if name in by_id], start, end))
        for mark in earlier.marks:
            ends = [was[name] for name in (mark.notes[0], mark.notes[-1]) if name in was] if mark.kind == "slur" and mark.notes else []
            if len(ends) == 2 and inside(ends, before[0].start, before[1].end):
                places = [(n.hand, start + int((n.onset - before[0].start) * scale), n.midi + moved) for n in ends]
                if all(key in struck for key in places):
                    first, last = (struck[key] for key in places)
                    marks = (*marks, DraftMark(kind="slur", onset=first.onset, end=last.end, hand=first.hand, notes=(first.id, last.id)))
    return tuple(sorted(marks, key=lambda m: m.onset))


def edited(
    notes: tuple[DraftNote, ...], marks: tuple[DraftMark, ...], draft: Draft, choices: Sequence[Choice], ledger: Ledger
) -> tuple[tuple[DraftNote, ...], tuple[DraftMark, ...], tuple[Problem, ...]]:
    """The notes and slurs with the arranger's single edits in them: add, remove, change, slur, no-slur."""
    problems: list[Problem] = []
    serial = len(notes)
    unit = draft.resolution
    for choice in choices:
        if choice.action not in ("add", "remove", "change", "slur", "no-slur") or not choice.hand:
            continue
        place = where(choice, draft.bars)
        if place is None:
            problems.append(unfitting(choice, f"this draft has no bar {choice.bars}"))
            continue
        hand: Hand = choice.hand
        onset = place[0].start + int((choice.beat or 0) * unit)
        here = [n for n in notes if n.hand == hand and n.onset == onset and not n.grace]
        source_bars = _source_bars(place, draft)
        if choice.action in ("slur", "no-slur"):
            row = [n for n in notes if n.hand == hand]
            last = onset + int((choice.length or 0) * unit)
            ends = [n for n in row if n.onset == last]
            if choice.action == "slur" and here and ends:
                owner = choice_decision(ledger, choice, source_bars, "a slur is added")
                ids = (here[0].id, ends[0].id)
                marks = (*marks, DraftMark(kind="slur", onset=onset, end=ends[0].end, hand=hand, notes=ids, decision=owner))
            elif choice.action == "no-slur" and any(m.kind == "slur" and m.onset == onset and m.hand == hand for m in marks):
                marks = tuple(m for m in marks if not (m.kind == "slur" and m.onset == onset and m.hand == hand))
                choice_decision(ledger, choice, source_bars, "a slur is taken away")
            else:
                problems.append(unfitting(choice, "no notes begin and end there any more"))
            continue
        pitch = read_pitch(choice.value)
        target = next((n for n in here if n.midi == pitch.midi), None)
        what = f"{pitch} " + {"add": "is added", "remove": "is taken away", "change": f"becomes {choice.to}"}[choice.action]
        was = [Rejected(f"{pitch} in the {hand} hand", "the tool's own choice")] if choice.action == "change" else []
        if _done_before(choice, target, notes, onset, draft.bars, choices):
            choice_decision(ledger, choice, source_bars, what, was)
        elif choice.action == "add":
            length = int((choice.length or 1) * unit)
            serial += 1
            owner = choice_decision(ledger, choice, source_bars, what)
            strand = _free_strand(notes, hand, onset, length)
            fresh = DraftNote(
                id=f"e{serial}", hand=hand, strand=strand, onset=onset, duration=length, pitch=pitch, midi=pitch.midi, decision=owner
            )
            notes = tuple(sorted([*notes, fresh], key=_order))
        elif target is None:
            problems.append(unfitting(choice, f"there is no {pitch} to {choice.action} there any more"))
        elif choice.action == "remove":
            choice_decision(ledger, choice, source_bars, what)
            notes = tuple(n for n in notes if n.id != target.id)
        else:
            owner = choice_decision(ledger, choice, source_bars, what, was)
            length = int(choice.length * unit) if choice.length is not None else target.duration
            if choice.to in ("right", "left"):
                other: Hand = "right" if choice.to == "right" else "left"
                strand = _free_strand(notes, other, onset, length)
                fresh = replace(target, hand=other, strand=strand, duration=length, decision=owner)
            else:
                new = read_pitch(choice.to)
                fresh = replace(target, pitch=new, midi=new.midi, duration=length, decision=owner)
            notes = tuple(sorted([fresh if n.id == target.id else n for n in notes], key=_order))
    return _one_length(notes), marks, tuple(problems)


def _done_before(
    choice: Choice, target: DraftNote | None, notes: Sequence[DraftNote], onset: int, bars: Sequence[Bar], choices: Sequence[Choice]
) -> bool:
    """Whether an edit is in the notes already, because locked bars brought it from the draft before."""
    if choice.action == "add":
        return target is not None
    places = [where(c, bars) for c in choices if c.action == "lock" and c.hand in ("", choice.hand)]
    if target is not None or not any(place and place[0].start <= onset < place[1].end for place in places):
        return False
    other = choice.to in ("right", "left")
    hand, midi = (choice.to, read_pitch(choice.value).midi) if other else (choice.hand, read_pitch(choice.to or choice.value).midi)
    return choice.action == "remove" or any(n.onset == onset and n.hand == hand and n.midi == midi for n in notes)


def read_pitch(text: str) -> Pitch:
    """'F#4', 'Bb3', 'C5' as a pitch (the choices file has been checked before)."""
    letter, rest = text[0].upper(), text[1:]
    sign = rest.rstrip("-0123456789")
    alter = {"": 0, "#": 1, "♯": 1, "b": -1, "♭": -1, "##": 2, "bb": -2}[sign]
    return Pitch(STEPS[STEPS.index(letter)], alter, int(rest[len(sign) :]))


def place_ticks(place: tuple[Bar, Bar], draft: Draft, earlier: Draft) -> int:
    """The length of some bars of the draft, in the ticks of the earlier one."""
    return (place[1].end - place[0].start) * earlier.resolution // draft.resolution


def _at(choice: Choice, onset: int, first: Bar, resolution: int) -> bool:
    return choice.beat is None or onset == first.start + int(choice.beat * resolution)


def _source_bars(place: tuple[Bar, Bar], draft: Draft) -> tuple[Bar, Bar]:
    """The same bars with the indices they have in the source."""
    first, last = place
    return replace(first, index=first.index + draft.first_bar), replace(last, index=last.index + draft.first_bar)


def _steps(semitones: int) -> int:
    """Staff steps of a plain transposition (a fourth for five semitones, and so on)."""
    octaves, rest = divmod(semitones, 12)
    return 7 * octaves + (0, 1, 1, 2, 2, 3, 3, 4, 5, 5, 6, 6)[rest]


def _free_strand(notes: Sequence[DraftNote], hand: Hand, onset: int, length: int) -> Literal[1, 2]:
    """The outer strand where it is free or has a chord of the same length there, else the inner one."""
    mine = [n for n in notes if n.hand == hand and n.strand == 1 and not n.grace and n.onset < onset + length and n.end > onset]
    return 1 if all(n.onset == onset and n.duration == length for n in mine) else 2


def _untangled(notes: Sequence[DraftNote]) -> list[DraftNote]:
    """Notes read back from a page, where a held note and what moves beside it may share stems: each goes to a strand of its own."""
    found = sorted(notes, key=lambda n: n.onset)
    onsets = [n.onset for n in found]
    longest = max((n.duration for n in found), default=0)
    for k in range(len(found)):
        held = found[k]
        near = range(bisect_left(onsets, held.onset - longest), bisect_left(onsets, held.end + longest))
        mine = [i for i in near if found[i].hand == held.hand and not found[i].grace]
        row = [i for i in mine if found[i].strand == held.strand and held.onset <= found[i].onset < held.end]
        chord = [i for i in row if (found[i].onset, found[i].end) == (held.onset, held.end)]
        inner = [i for i in row if found[i].onset > held.onset or found[i].end < held.end]
        if not inner or held.grace:
            continue
        below = all(found[i].midi < held.midi for i in inner)
        strand: Literal[1, 2] = 1 if below == (held.hand == "right") else 2  # of the held note: 1 where it is the hand's outer line
        wanted: dict[int, Literal[1, 2]] = {**dict.fromkeys(chord, strand), **dict.fromkeys(inner, 2 if strand == 1 else 1)}
        others = [found[i] for i in mine if i not in wanted]
        if not any(n.strand == s and n.onset < found[i].end and n.end > found[i].onset for i, s in wanted.items() for n in others):
            for i, s in wanted.items():
                found[i] = replace(found[i], strand=s)
    return found


def _one_length(notes: tuple[DraftNote, ...]) -> tuple[DraftNote, ...]:
    """Inside a strand, notes of one onset share one duration and end before the next: later notes cut earlier ones short."""
    by_strand: dict[tuple[str, int], list[DraftNote]] = {}
    for note in notes:
        if not note.grace:
            by_strand.setdefault((note.hand, note.strand), []).append(note)
    ends: dict[str, int] = {}
    for row in by_strand.values():
        chords: dict[int, list[DraftNote]] = {}
        for note in row:
            chords.setdefault(note.onset, []).append(note)
        onsets = sorted(chords)
        for onset, following in zip(onsets, [*onsets[1:], onsets[-1] + 1_000_000_000], strict=True):
            end = min(min(n.end for n in chords[onset]), following)
            ends.update((n.id, end) for n in chords[onset])
    return tuple(replace(n, duration=ends[n.id] - n.onset) if ends.get(n.id, n.end) != n.end else n for n in notes)


def _order(note: DraftNote) -> tuple[int, bool, int, bool, int]:
    return (note.onset, note.hand == "left", note.strand, not note.grace, 0 if note.grace else -note.midi)  # graces stay in playing order


def _numbered(notes: tuple[DraftNote, ...]) -> tuple[DraftNote, ...]:
    """Ids in score order where locked notes brought ids of their own."""
    if len({n.id for n in notes}) == len(notes):
        return notes
    return tuple(replace(n, id=f"n{i}") for i, n in enumerate(notes, 1))
