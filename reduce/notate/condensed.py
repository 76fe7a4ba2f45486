"""The condensed score: what is there, at sounding pitch, on three or four staves, doublings named in words."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence

from reduce.model.draft import Draft, DraftMark, DraftNote
from reduce.model.score import Note, Score
from reduce.model.texture import Lead, Texture
from reduce.notate.doublings import Namer
from reduce.notate.engine import Line, write
from reduce.notate.excerpt import excerpt
from reduce.notate.header import document
from reduce.notate.marks import mark_directions, signs_on_notes, tempo_directions
from reduce.notate.partwise import part_xml, unit_of
from reduce.notate.shared_stems import shared_lanes, without_octaves, without_unisons
from reduce.notate.style import Style
from reduce.notate.ticks import finer_source

STAVES = (("Melody", "Mel."), ("Inner", "Inn."), ("Harmony", "Harm."), ("Bass", "Bass"))
STAFF_OF = {"melody": 0, "melody-third": 0, "counter": 1, "figuration": 1, "harmony": 2, "bass": 3}
CONDENSED = Style(courtesy_other_staff=False, staff_height=5.5)
HOLD_NAME = 4  # bars for which a list of players stands before it is told again


def condensed(score: Score, texture: Texture, bars: tuple[int, int] | None = None) -> bytes:
    """The source on few staves: tune, inner parts, held harmony, bass; at sounding pitch, with the source's bar numbers.

    Each note keeps the id of its source note (the `id` attribute), unison doublings are printed once and octave doublings of
    tune and bass are only named.  A staff that would stay empty is left out.  ``bars``: indices of the first
    and last bar wanted (all without it).
    """
    if bars is not None:
        score, texture = excerpt(score, texture, *bars)
    score, texture = finer_source(score, texture)
    namer = Namer(score, texture)
    by_staff, players = _by_staff(score, texture)
    used = [k for k in range(len(STAVES)) if by_staff[k] or k == 0]
    marks = _marks(score, texture, namer, by_staff, players)
    head = Draft(
        resolution=score.resolution, title=score.title, subtitle="Condensed score, at sounding pitch", composer=score.composer,
        rights=score.rights, source=score.source, bars=score.bars,
    )  # fmt: skip
    pages = {}
    for k in used:
        notes = [note for _, note in by_staff[k]]
        home = "F" if k == 3 or (k and notes and sum(note.midi for note in notes) < 57 * len(notes)) else "G"
        lanes = shared_lanes([(stream, note) for stream, note in by_staff[k] if not note.grace], score.bars, score.resolution)
        line = Line(staff=1, first_voice=1, home=home, low_first=False, notes=tuple(notes), lanes=lanes)
        pages[k] = write([line], score.bars, score.resolution, CONDENSED)
    directions = {
        k: (tempo_directions(score.tempos) if k == used[0] else []) + mark_directions(marks[k], [(1, line) for line in pages[k].ottavas[0]])
        for k in used
    }
    ticks = {bar.start for bar in score.bars} | {bar.end for bar in score.bars}
    for k in used:
        for voices in pages[k].bars:
            ticks.update(edge for voice in voices for sign in voice.written for edge in (sign.start, sign.ticks))
        ticks.update(item.onset for item in directions[k])
    unit = unit_of(score.resolution, ticks)
    parts, body = [], []
    for k in used:
        part_id = f"S{k + 1}"
        parts.append((part_id, *STAVES[k], 0))
        on_notes = signs_on_notes(marks[k], [note for _, note in by_staff[k]])
        body += part_xml(part_id, pages[k], score.bars, score.resolution, unit, directions[k], on_notes)
    return document(head, CONDENSED, parts, body)


Staves = list[list[tuple[int, DraftNote]]]


def _by_staff(score: Score, texture: Texture) -> tuple[Staves, list[list[tuple[int, int]]]]:
    """The notes to print on each staff with their streams, unisons once; and who plays there: (stream, onset), doublings too."""
    raw: list[list[Note]] = [[] for _ in STAVES]
    for note in score.notes:
        role = texture.roles.get(note.id)
        if role in STAFF_OF and note.kind == "struck" and note.duration > 0:
            raw[STAFF_OF[role]].append(note)
    if not raw[1]:  # nothing moves inside: the harmony alone makes three staves
        raw[1], raw[2] = raw[2], []
    found: Staves = []
    for notes in raw:
        kept = without_unisons([_as_written(note) for note in notes])
        named = [(texture.stream_of.get(note.id, -1), note) for note in kept]
        if notes is raw[0]:
            tune = [item for item in named if texture.roles[item[1].id] == "melody"]
            named = tune + [item for item in named if texture.roles[item[1].id] != "melody"]
        found.append(sorted(without_octaves(named, score.bars), key=lambda item: (item[1].onset, -item[1].midi, item[1].id)))
    return found, [[(texture.stream_of.get(note.id, -1), note.onset) for note in notes] for notes in raw]


def _as_written(note: Note) -> DraftNote:
    return DraftNote(
        id=note.id, hand="right", strand=1, onset=note.onset, duration=note.duration, pitch=note.pitch, midi=note.midi,
        articulations=note.articulations, ornaments=note.ornaments, fermata=note.fermata, tremolo=note.tremolo, arpeggio=note.arpeggio,
    )  # fmt: skip


def _marks(
    score: Score, texture: Texture, namer: Namer, by_staff: Staves, players: Sequence[Sequence[tuple[int, int]]]
) -> list[list[DraftMark]]:
    """Names above each staff; dynamics and slurs of the tune; rehearsal letters."""
    marks: list[list[DraftMark]] = [[], [], [], []]
    roles, stream_of = texture.roles, texture.stream_of
    thirds = [(note.onset, stream_of.get(note.id, -1)) for note in score.notes if roles.get(note.id) == "melody-third"]
    marks[0] += _names_of_leads(texture.tune, namer, thirds)
    marks[3] += _names_of_leads(texture.bass, namer, [])
    for k in (1, 2):
        marks[k] += _names_of_players(score, namer, players[k])
    marks[0] += _signs_of_the_tune(score, texture, {note.id for _, note in by_staff[0]})
    seen: set[int] = set()
    for mark in score.marks:
        if mark.kind == "rehearsal" and mark.onset not in seen:
            seen.add(mark.onset)
            marks[0].append(DraftMark(kind="rehearsal", onset=mark.onset, end=mark.onset, text=mark.text, hand="right"))
    return marks


def _names_of_leads(leads: Sequence[Lead], namer: Namer, thirds: Sequence[tuple[int, int]]) -> list[DraftMark]:
    found = []
    last = ""
    onsets = [onset for onset, _ in thirds]
    for lead in leads:
        if not lead.notes:
            continue
        low, high = bisect_right(onsets, lead.start - 1), bisect_right(onsets, lead.end - 1)
        along = sorted({stream for _, stream in thirds[low:high]} - {lead.stream, *lead.doubled_by})
        name = namer.lead(lead, along)
        if name != last:
            first = namer.by_id.get(lead.notes[0])
            found.append(_name(first.onset if first else lead.start, name))
        last = name
    return found


def _names_of_players(score: Score, namer: Namer, struck: Sequence[tuple[int, int]]) -> list[DraftMark]:
    """The players of a staff, told anew where others come in."""
    starts = [bar.start for bar in score.bars]
    by_bar: list[dict[int, int]] = [{} for _ in starts]
    for stream, onset in struck:
        by_bar[max(bisect_right(starts, onset) - 1, 0)].setdefault(stream, onset)
    found = []
    told: set[int] = set()
    since = -HOLD_NAME
    for k, here in enumerate(by_bar):
        if not here:
            continue
        players = set(here)
        for ahead in by_bar[k + 1 : k + 2]:
            players |= set(ahead)
        if set(here) - told and (k - since >= HOLD_NAME or not set(here) & told):
            found.append(_name(min(here.values()), namer.players(sorted(players, key=lambda s: namer.order.get(s, (0, 0))))))
            told, since = players, k
    return found


def _name(onset: int, text: str) -> DraftMark:
    return DraftMark(kind="instrument", onset=onset, end=onset, text=text, hand="right")


def _signs_of_the_tune(score: Score, texture: Texture, printed: set[str]) -> list[DraftMark]:
    """Dynamics, hairpins and slurs of whoever has the tune."""
    part_of = {stream.id: stream.part for stream in texture.streams}
    spans = [(lead.start, lead.end, part_of.get(lead.stream, -1)) for lead in texture.tune]
    starts = [start for start, _, _ in spans]
    found: list[DraftMark] = []
    wedge_end = 0
    seen: set[tuple[int, str]] = set()
    for mark in score.marks:
        if mark.kind == "slur":
            if len(mark.notes) >= 2 and {mark.notes[0], mark.notes[-1]} <= printed:
                ends = (mark.notes[0], mark.notes[-1])
                found.append(DraftMark(kind="slur", onset=mark.onset, end=mark.end, hand="right", notes=ends))
            continue
        k = bisect_right(starts, mark.onset) - 1
        if mark.kind not in ("dynamic", "hairpin") or k < 0 or mark.part != spans[k][2] or mark.onset >= spans[k][1]:
            continue
        if mark.kind == "hairpin":
            if mark.onset < wedge_end:
                continue
            wedge_end = mark.end
        if (mark.onset, mark.kind) not in seen:
            seen.add((mark.onset, mark.kind))
            found.append(DraftMark(kind=mark.kind, onset=mark.onset, end=mark.end, text=mark.text, hand="both"))
    return found
