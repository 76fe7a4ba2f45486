"""What became of every source note: kept, moved, merged into another, simplified or dropped, and why."""

from __future__ import annotations

from bisect import bisect_left
from collections import defaultdict
from collections.abc import Container, Iterable, Mapping, Sequence
from typing import Literal

from reduce.model.decision import FateKind
from reduce.model.draft import DraftNote
from reduce.model.record import dataclass
from reduce.model.score import Note
from reduce.model.texture import Role

Reason = Literal[
    "same",  # sounds as written
    "octave",  # in another octave
    "doubling",  # another note of the draft already stands for it
    "rhythm",  # heard, but not struck at its own moment
    "ornament",  # a grace the level does not play
    "drum",  # timpani: evidence for the bass only
    "cue",  # printed for orientation or hidden, not music of its own
    "thinned",  # its chord tone is not sounded here: the hand has no place or time for it
    "silenced",  # the arranger leaves its instrument out
    "outside",  # outside the bars of this draft
]


@dataclass(frozen=True, slots=True)
class Trace:
    """The fate of one note before it gets its decision."""

    note: Note
    kind: FateKind
    reason: Reason
    draft_notes: tuple[str, ...] = ()


def traced(
    notes: Iterable[Note],
    draft: Sequence[DraftNote],
    roles: Mapping[str, Role],
    claims: Mapping[str, str],
    shift: int,
    offset: int,
    start: int,
    end: int,
    silent: Container[str] = (),
) -> tuple[Trace, ...]:
    """One trace for each source note.

    Args:
        notes: the source notes, all of them.
        draft: the draft's notes; their ticks count from the draft's first bar.
        claims: source note id -> draft note id, where the line that took the note is known (tune and bass).
        shift: semitones from source to draft.
        offset: ticks of the source at which the draft begins.
        start, end: the kept stretch of the source in ticks.
        silent: notes of instruments that the arranger leaves out.
    """
    at: dict[tuple[int, int], list[DraftNote]] = defaultdict(list)
    by_class: dict[int, list[DraftNote]] = defaultdict(list)
    for d in draft:
        if not d.grace:
            at[d.onset + offset, d.midi % 12].append(d)
            by_class[d.midi % 12].append(d)
    onsets = {pc: [d.onset + offset for d in row] for pc, row in by_class.items()}
    longest = {pc: max(d.duration for d in row) for pc, row in by_class.items()}
    graces = {source: d.id for d in draft if d.grace for source in d.sources}

    out: list[Trace] = []
    taken: set[tuple[str, int]] = set()
    pending: list[tuple[Note, DraftNote]] = []
    for note in notes:
        if note.kind in ("cue", "hidden"):
            out.append(Trace(note, "dropped", "cue"))
            continue
        if not start <= note.onset < end:
            out.append(Trace(note, "dropped", "outside"))
            continue
        if note.id in silent:
            out.append(Trace(note, "dropped", "silenced"))
            continue
        if note.kind == "grace":
            twin = graces.get(note.id)
            out.append(Trace(note, "kept", "same", (twin,)) if twin else Trace(note, "dropped", "ornament"))
            continue
        key = note.midi + shift
        pc = key % 12
        together = at.get((note.onset, pc))
        claimed = claims.get(note.id)
        if together:
            twin_note = next((d for d in together if d.id == claimed), None) or min(together, key=lambda d: (abs(d.midi - key), d.id))
            exact = twin_note.midi == key
            if exact and (twin_note.id, 0) not in taken:
                taken.add((twin_note.id, 0))
                out.append(Trace(note, "kept", "same", (twin_note.id,)))
            elif exact:
                out.append(Trace(note, "merged", "doubling", (twin_note.id,)))
            else:
                pending.append((note, twin_note))
            continue
        if claimed is not None:
            out.append(Trace(note, "simplified", "rhythm", (claimed,)))
            continue
        row = by_class.get(pc)
        heard: DraftNote | None = None
        if row:
            places = onsets[pc]
            i = bisect_left(places, note.onset + note.duration)
            best = 0
            while i > 0:
                i -= 1
                if places[i] + longest[pc] <= note.onset:
                    break
                common = min(places[i] + row[i].duration, note.onset + note.duration) - max(places[i], note.onset)
                if common > best:
                    best, heard = common, row[i]
        if roles.get(note.id) == "rhythm":
            out.append(Trace(note, "merged", "drum", (heard.id,)) if heard else Trace(note, "dropped", "drum"))
        elif heard is not None:
            out.append(Trace(note, "simplified", "rhythm", (heard.id,)))
        else:
            out.append(Trace(note, "dropped", "thinned"))
    pending.sort(key=lambda pair: (claims.get(pair[0].id) != pair[1].id, pair[0].onset))
    for note, twin_note in pending:
        if (twin_note.id, 0) in taken:
            out.append(Trace(note, "merged", "doubling", (twin_note.id,)))
        else:
            taken.add((twin_note.id, 0))
            out.append(Trace(note, "moved", "octave", (twin_note.id,)))
    order = {trace.note.id: trace for trace in out}
    _claim_struck_again(order, draft, shift, offset)
    return tuple(order[note.id] for note in notes)


def _claim_struck_again(traces: dict[str, Trace], draft: Sequence[DraftNote], shift: int, offset: int) -> None:
    """A draft note that renews a tone which the source merely holds stands for that held note too."""
    standing = {name for trace in traces.values() for name in trace.draft_notes}
    lonely = [d for d in draft if not d.grace and d.id not in standing]
    if not lonely:
        return
    sounding: dict[int, list[Note]] = defaultdict(list)
    for trace in traces.values():
        if trace.note.kind == "struck" and trace.note.duration and trace.reason not in ("cue", "outside"):
            sounding[(trace.note.midi + shift) % 12].append(trace.note)
    onsets: dict[int, list[int]] = {}
    for pc, row in sounding.items():
        row.sort(key=lambda n: n.onset)
        onsets[pc] = [n.onset for n in row]
    for d in lonely:
        row = sounding.get(d.midi % 12, [])
        start, end = d.onset + offset, d.end + offset
        best: tuple[int, int, Note] | None = None
        for note in row[max(0, bisect_left(onsets.get(d.midi % 12, []), start) - 24) : bisect_left(onsets.get(d.midi % 12, []), end)]:
            common = min(end, note.onset + note.duration) - max(start, note.onset)
            if common > 0:
                rank = (common, -abs(note.midi + shift - d.midi), note)
                if best is None or rank[:2] > best[:2]:
                    best = rank
        if best is not None:
            trace = traces[best[2].id]
            kind: FateKind = "simplified" if trace.kind == "dropped" else trace.kind
            reason: Reason = "rhythm" if trace.kind == "dropped" else trace.reason
            traces[best[2].id] = Trace(trace.note, kind, reason, (*trace.draft_notes, d.id))


def stood_for(traces: Iterable[Trace]) -> dict[str, tuple[str, ...]]:
    """Draft note id -> ids of the source notes it stands for."""
    sources: dict[str, list[str]] = defaultdict(list)
    for trace in traces:
        for name in trace.draft_notes:
            sources[name].append(trace.note.id)
    return {name: tuple(ids) for name, ids in sources.items()}
