"""Turns what was gathered into the frozen records of the score, in the score's order."""

from __future__ import annotations

from collections.abc import Sequence

from reduce.model.record import replace
from reduce.model.score import Mark, Note, Stroke, Tempo
from reduce.read.measures import PartWalk
from reduce.read.pieces import Piece


def note_records(parts: Sequence[list[Piece]]) -> tuple[Note, ...]:
    """The records, in the score's order: onset, part, staff, playing order of graces, descending pitch."""
    _name_all(parts)
    ordered = [
        (p.onset, i, p.staff, p.rank, 0 if p.rank != 1 else -p.midi, n, p) for i, part in enumerate(parts) for n, p in enumerate(part)
    ]
    ordered.sort()  # part and place in it tell all entries apart, so that no pieces are compared
    return tuple(
        [
            Note(
                id=p.id, part=part, staff=p.staff, voice=p.voice, bar=p.bar, onset=p.onset,
                duration=p.duration if p.lengths is None else sum(p.lengths), pitch=p.pitch, midi=p.midi, kind=p.kind,
                written=(p.duration,) if p.lengths is None else tuple(p.lengths), tuplet=p.tuplet, tremolo=p.tremolo,
                tremolo_pair=p.tremolo_pair, articulations=p.articulations, ornaments=p.ornaments, fermata=p.fermata,
                arpeggio=p.arpeggio, grace_slash=p.grace_slash, fingers=p.fingers,
            )
            for _, part, _, _, _, _, p in ordered
        ]
    )  # fmt: skip


def _name_all(parts: Sequence[list[Piece]]) -> None:
    """Keep the file's ids where they are unique; name the others by part, bar and place."""
    taken: set[str] = set()
    for pieces in parts:
        for piece in pieces:
            if piece.id in taken:
                piece.id = ""
            elif piece.id:
                taken.add(piece.id)
    for index, pieces in enumerate(parts, 1):
        bar = place = -1
        for piece in pieces:
            if piece.bar != bar:
                bar, place = piece.bar, 0
            place += 1
            if not piece.id:
                name = f"p{index}b{bar + 1}n{place}"
                while name in taken:
                    name += "x"
                piece.id = name


def stroke_records(walks: Sequence[PartWalk]) -> tuple[Stroke, ...]:
    strokes = []
    for walk in walks:
        for count, (identity, bar, onset, duration) in enumerate(walk.strokes, 1):
            name = identity or f"p{walk.index + 1}s{count}"
            strokes.append(Stroke(id=name, part=walk.index, bar=bar, onset=onset, duration=duration))
    return tuple(sorted(strokes, key=lambda s: (s.onset, s.part)))


def mark_records(walks: Sequence[PartWalk]) -> tuple[Mark, ...]:
    marks = [
        Mark(
            kind=sign.kind, part=walk.index, staff=sign.staff, bar=sign.bar, onset=sign.onset, end=sign.end, text=sign.text,
            notes=tuple(piece.struck.id for piece in sign.pieces), face=sign.face,
        )
        for walk in walks
        for sign in walk.signs
    ]  # fmt: skip
    return tuple(sorted(marks, key=lambda mark: (mark.onset, mark.part, mark.staff)))


def tempo_records(walks: Sequence[PartWalk]) -> tuple[Tempo, ...]:
    """One tempo a moment: printed before hinted, numbered before words alone; parts repeat each other's."""
    at: dict[int, Tempo] = {}
    for walk in walks:
        for tempo in walk.directions.tempos:
            known = at.get(tempo.onset)
            if known is None:
                at[tempo.onset] = tempo
                continue
            better, other = sorted((known, tempo), key=lambda t: (t.quarters is None, t.sounding))
            at[tempo.onset] = replace(better, text=better.text or other.text)
    return tuple(at[onset] for onset in sorted(at))
