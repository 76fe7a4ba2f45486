"""Takes a two-staff piano score, the tool's or a person's, as a draft."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from itertools import groupby
from typing import Literal

from reduce.model.draft import Draft, DraftMark, DraftMarkKind, DraftNote, Hand
from reduce.model.score import Mark, Note, Part, Score
from reduce.read.words import jump_in

Strand = Literal[1, 2]

_HANDS: tuple[Hand, Hand] = ("right", "left")
_OTHER: dict[Strand, Strand] = {1: 2, 2: 1}
_MARKS: dict[str, DraftMarkKind] = {
    "dynamic": "dynamic", "hairpin": "hairpin", "slur": "slur", "text": "text", "tempo-text": "text", "rehearsal": "rehearsal",
    "pedal": "pedal", "breath": "breath", "fermata": "fermata", "ottava": "ottava",
}  # fmt: skip
_JUMP_WORDS = 24  # letters of 'Da Capo al Fine' and the like; longer words say more than the jump
_STRAY = 0.2  # share of a voice's notes on the other staff up to which it still belongs to one hand


def as_draft(score: Score) -> Draft | None:
    """The piano piece that ``score`` holds, or None where it is none.

    A piano piece is one part on two staves, or two parts on one staff each that are keyboard parts as far as one can tell.
    The hand is the staff where a voice is at home (a few notes on the other staff stay in their hand); strand 1 is the upper voice
    of the right and the lower voice of the left hand, or the only one.  Ids are the score's.  Hidden and cue notes are left out.
    """
    parts = _staves_of(score)
    if parts is None:
        return None
    notes = [note for note in score.notes if note.part in parts and note.kind in ("struck", "grace")]
    hand_of = _hands(notes, parts)
    strands = _untangled(notes, hand_of, _strands(notes, hand_of))
    drafted = tuple(
        DraftNote(
            id=note.id,
            hand=_HANDS[hand_of[note.id] - 1],
            strand=strands[note.id],
            onset=note.onset,
            duration=note.duration,
            pitch=note.pitch,
            midi=note.midi,
            sources=(note.id,),
            articulations=note.articulations,
            ornaments=note.ornaments,
            fermata=note.fermata,
            grace=note.kind == "grace",
            grace_slash=note.grace_slash,
            tremolo=note.tremolo,
            arpeggio=note.arpeggio,
            finger=note.fingers[0] if note.fingers else "",
            staff=0 if _staff(note, parts) == hand_of[note.id] else _other_staff(_staff(note, parts)),
            tuplet=note.tuplet,
        )
        for note in notes
    )
    facts = dict(score.fields)
    return Draft(
        resolution=score.resolution,
        title=score.title,
        subtitle=score.subtitle,
        composer=score.composer,
        arranger=score.arranger,
        rights=score.rights,
        source=score.source,
        level=facts.get("level", ""),
        transposed=_whole(facts.get("transposed", "")),
        first_bar=_whole(facts.get("first-bar", "")),
        bars=score.bars,
        notes=drafted,
        marks=tuple(_marks(score, parts, hand_of)),
        tempos=score.tempos,
    )


def _whole(text: str) -> int:
    return int(text) if text.removeprefix("-").isdecimal() and len(text) < 6 else 0


def _staves_of(score: Score) -> dict[int, int] | None:
    """Part index to the number of its first staff in the piano's pair, or None where the score is no piano piece."""
    heard = {note.part for note in score.notes}
    if any(stroke.part not in heard for stroke in score.strokes):
        return None
    parts = [part for part in score.parts if part.index in heard] or list(score.parts)
    if len(parts) == 1 and parts[0].staves == 2:
        return {parts[0].index: 1}
    if len(parts) == 2 and all(_one_keyboard_staff(part) for part in parts):
        return {parts[0].index: 1, parts[1].index: 2}
    return None


def _one_keyboard_staff(part: Part) -> bool:
    return part.staves == 1 and part.family in ("keyboard", "unknown")


def _staff(note: Note, parts: dict[int, int]) -> int:
    """1 for the upper, 2 for the lower staff of the pair."""
    return parts[note.part] + note.staff - 1


def _other_staff(staff: int) -> Literal[1, 2]:
    return 1 if staff == 1 else 2


def _hands(notes: Sequence[Note], parts: dict[int, int]) -> dict[str, int]:
    """1 (right) or 2 (left) for each note id."""
    counts: dict[tuple[int, str], Counter[int]] = {}
    for note in notes:
        counts.setdefault((note.part, note.voice), Counter())[_staff(note, parts)] += 1
    home = {
        voice: staves.most_common(1)[0][0] for voice, staves in counts.items() if min(staves.values(), default=0) <= _STRAY * staves.total()
        or len(staves) == 1
    }  # fmt: skip
    return {note.id: home.get((note.part, note.voice), _staff(note, parts)) for note in notes}


def _strands(notes: Sequence[Note], hand_of: dict[str, int]) -> dict[str, Strand]:
    """The strand of each note: stretches across whose edges no note is held are looked at one by one."""
    strands: dict[str, Strand] = {}
    for hand in (1, 2):
        stretches: list[list[Note]] = [[]]
        reach = 0
        for note in [n for n in notes if hand_of[n.id] == hand]:
            if stretches[-1] and note.onset >= reach and note.onset > stretches[-1][-1].onset:
                stretches.append([])
            stretches[-1].append(note)
            reach = max(reach, note.end)
        upside_down = sum(map(_first_above_last, stretches)) < 0
        for stretch in stretches:
            voices = _by_number(stretch)
            first_is_outer = (hand == 1) != upside_down
            outer = voices[0 if first_is_outer else -1] if voices else ""
            strands.update({note.id: 1 if note.voice == outer else 2 for note in stretch})
    return strands


def _untangled(notes: Sequence[Note], hand_of: dict[str, int], strands: dict[str, Strand]) -> dict[str, Strand]:
    """The same where nothing of a strand overlaps: a note tied on from a chord into the other voice lies in that voice from its beginning.

    Where neither strand is free it stays in its own.
    """

    def by_chord(note: Note) -> tuple[int, int, Strand, int]:  # the outer notes first
        hand = hand_of[note.id]
        return hand, note.onset, strands[note.id], note.midi if hand == 2 else -note.midi

    found = dict(strands)
    busy: dict[tuple[int, Strand], tuple[int, int]] = {}
    struck = sorted((note for note in notes if note.kind != "grace"), key=by_chord)
    for (hand, _, own), chord in groupby(struck, key=lambda note: (hand_of[note.id], note.onset, strands[note.id])):
        row = list(chord)
        parted = any(note.end != row[0].end for note in row)
        for note in row:
            wished: Strand = own if not parted else 1 if note.end == row[0].end else 2
            for strand in (wished, _OTHER[wished]):
                onset, end = busy.get((hand, strand), (-1, 0))
                if note.onset >= end or (note.onset, note.end) == (onset, end):
                    found[note.id] = strand
                    busy[hand, strand] = (note.onset, note.end)
                    break
    return found


def _by_number(stretch: Sequence[Note]) -> list[str]:
    """The voices at work, by number: by custom from the top."""
    return sorted({note.voice for note in stretch}, key=lambda voice: (not voice.isdecimal(), len(voice), voice))


def _first_above_last(stretch: Sequence[Note]) -> float:
    """How many semitones the first voice lies above the last, on the whole."""
    voices = _by_number(stretch)
    if len(voices) < 2:
        return 0.0
    first = [note.midi for note in stretch if note.voice == voices[0]]
    last = [note.midi for note in stretch if note.voice == voices[-1]]
    return sum(first) / len(first) - sum(last) / len(last)


def _marks(score: Score, parts: dict[int, int], hand_of: dict[str, int]) -> Iterable[DraftMark]:
    ours = any(name == "level" for name, _ in score.fields)  # our own files set names of instruments upright, all other words not
    told = {(tempo.onset, tempo.text) for tempo in score.tempos}
    at = {note.id: note for note in score.notes}
    for mark in score.marks:
        kind = _MARKS.get(mark.kind)
        if kind is None or mark.part not in parts or (mark.kind == "tempo-text" and (mark.onset, mark.text) in told):
            continue
        if any(name not in hand_of for name in mark.notes):
            continue
        if mark.kind == "text" and len(mark.text) <= _JUMP_WORDS and jump_in(mark.text):
            continue  # the bar's jumps say it
        if kind == "text" and ours and mark.face == "normal":
            kind = "instrument"
        onset = at[mark.notes[0]].onset if kind == "breath" and mark.notes else mark.onset
        yield DraftMark(
            kind=kind,
            onset=onset,
            end=max(mark.end, onset),
            text=mark.text,
            hand=_hand_of_mark(mark, parts, hand_of),
            notes=mark.notes if kind == "slur" else (),
        )


def _hand_of_mark(mark: Mark, parts: dict[int, int], hand_of: dict[str, int]) -> Hand | Literal["both"]:
    if mark.notes:
        return _HANDS[hand_of[mark.notes[0]] - 1]
    if mark.kind in ("dynamic", "hairpin", "rehearsal", "pedal"):
        return "both"
    return _HANDS[1 if parts[mark.part] + mark.staff - 1 >= 2 else 0]
