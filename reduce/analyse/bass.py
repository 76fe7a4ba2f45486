"""The functional bass: the lowest sounding line, octave doublings taken together, whoever plays it."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from heapq import heappop, heappush

from reduce.analyse.reasons import where
from reduce.analyse.streams import desks_of
from reduce.model.decision import Decision, Rejected
from reduce.model.record import replace
from reduce.model.rules import Rules
from reduce.model.score import Note, Score
from reduce.model.texture import Lead, Stream

# Who is named first where several play the bass in unison or octaves (common practice: the written bass line is the cello's).
_PREFERENCE = ("cello", "keyboard", "bassoon", "double-bass", "viola", "trombone", "tuba", "horn")


def bass(
    score: Score, streams: Sequence[Stream], stream_of: Mapping[str, int], tune: Sequence[Lead], rules: Rules
) -> tuple[tuple[Lead, ...], tuple[Decision, ...]]:
    """The bass and who carries it.

    At each moment the lowest sounding note that is not the tune belongs to the line; where the same note is struck one or
    two octaves higher by a player who stands before in the usual order (cello before contrabass), that note is taken and
    the other player named as doubling.  Drums are no bass.  A lead goes to the player who has most of the line in its bars;
    short fills by others stay inside it.

    Returns:
        Leads in order (gaps where nothing sounds below the tune), and one decision for each change of player.
    """
    desks = desks_of(score, streams, stream_of)
    pitched = [
        n for n in score.notes if n.kind == "struck" and n.duration > 0 and n.id in stream_of and desks[stream_of[n.id]] != "percussion"
    ]
    tune_notes = {name for lead in tune for name in lead.notes}
    struck: dict[int, list[Note]] = defaultdict(list)
    for note in pitched:
        struck[note.onset].append(note)
    line = []
    for low, end in lowest(pitched):
        if low.id in tune_notes:
            continue
        # sixteen-foot players sound an octave below the bass that is written; everybody else is taken where he sounds
        octaves = (0, 12) if desks[stream_of[low.id]] in ("double-bass", "contrabassoon") else (0,)
        players: dict[int, Note] = {}
        for note in struck[low.onset]:
            if note.midi - low.midi in octaves and note.id not in tune_notes:
                players.setdefault(stream_of[note.id], note)
        owner = min(players, key=lambda s: (_order(desks[s]), s))
        line.append(_Step(players[owner], end, owner, frozenset(players) - {owner}))
    if not line:
        return (), ()
    shortest = rules.whole("bass.carriers.shortest")
    leads = tuple(_leads(score, line, shortest))
    return leads, _told(score, streams, leads)


class _Step:
    """One note of the line: who plays it, until when it is the lowest, who doubles it."""

    __slots__ = ("doubling", "end", "note", "owner")

    def __init__(self, note: Note, end: int, owner: int, doubling: frozenset[int]) -> None:
        self.note, self.end, self.owner, self.doubling = note, end, owner, doubling


def _order(kind: str) -> int:
    return _PREFERENCE.index(kind) if kind in _PREFERENCE else len(_PREFERENCE)


def lowest(notes: Sequence[Note]) -> list[tuple[Note, int]]:
    """The notes that are the lowest sounding when they are struck, each with the moment at which it ceases to be so.

    ``notes`` sorted by onset.  Of equal pitches the later one counts; a held note that becomes lowest because a lower one
    ended is not struck anew and does not appear.
    """
    times = sorted({n.onset for n in notes} | {n.end for n in notes})
    sounding: list[tuple[int, int, int]] = []  # midi, -onset, index
    found: list[tuple[Note, int]] = []
    current = -1
    at = 0
    for time in times:
        while at < len(notes) and notes[at].onset <= time:
            heappush(sounding, (notes[at].midi, -notes[at].onset, at))
            at += 1
        while sounding and notes[sounding[0][2]].end <= time:
            heappop(sounding)
        low = sounding[0][2] if sounding else -1
        if low == current:
            continue
        if found and current >= 0 and found[-1][0] is notes[current]:
            found[-1] = (notes[current], time)
        current = low
        if low >= 0 and notes[low].onset == time:
            found.append((notes[low], notes[low].end))
    return found


def _leads(score: Score, line: Sequence[_Step], shortest: int) -> list[Lead]:
    """Group the line by the player who has most of each bar, changes of fewer than ``shortest`` bars smoothed away."""
    weight: dict[int, Counter[int]] = defaultdict(Counter)
    for step in line:
        weight[step.note.bar][step.owner] += step.end - step.note.onset
    bars = sorted(weight)
    owner = {bar: max(weight[bar], key=lambda s: (weight[bar][s], -s)) for bar in bars}
    groups: list[list[int]] = []
    for bar in bars:
        if groups and groups[-1][-1] >= bar - 1 and owner[groups[-1][-1]] == owner[bar]:
            groups[-1].append(bar)
        else:
            groups.append([bar])
    merged: list[tuple[int, list[int]]] = []
    for group in groups:
        who = owner[group[0]]
        if (
            merged
            and merged[-1][1][-1] >= group[0] - 1
            and (merged[-1][0] == who or (len(group) < shortest and any(weight[b][merged[-1][0]] for b in group)))
        ):
            merged[-1][1].extend(group)
        else:
            merged.append((who, list(group)))
    leads = []
    steps = defaultdict(list)
    for step in line:
        steps[step.note.bar].append(step)
    for who, group in merged:
        chosen = [step for bar in group for step in steps[bar]]
        time = sum(step.end - step.note.onset for step in chosen)
        share = sum(step.end - step.note.onset for step in chosen if step.owner == who) / max(time, 1)
        also: Counter[int] = Counter(s for step in chosen for s in step.doubling)
        other: Counter[int] = Counter()
        for step in chosen:
            if step.owner != who:
                other[step.owner] += step.end - step.note.onset
        second = other.most_common(1)[0] if other else None
        leads.append(
            Lead(
                start=chosen[0].note.onset,
                end=max(step.end for step in chosen),
                stream=who,
                notes=tuple(step.note.id for step in chosen),
                doubled_by=tuple(sorted(s for s, n in also.items() if 2 * n >= len(chosen) and s != who)),
                certainty=round(share, 3),
                evidence=((f"it sounds lowest for {share:.0%} of the time", round(share, 2)),),
                runner_up=second[0] if second else None,
                runner_up_share=round(second[1] / max(time, 1), 3) if second else 0.0,
            )
        )
    return _untangled(leads)


def _untangled(leads: list[Lead]) -> list[Lead]:
    """Cut each lead's end at the start of the next one."""
    return [replace(lead, end=min(lead.end, leads[i + 1].start)) if i + 1 < len(leads) else lead for i, lead in enumerate(leads)]


def _told(score: Score, streams: Sequence[Stream], leads: Sequence[Lead]) -> tuple[Decision, ...]:
    decisions = []
    for number, lead in enumerate(leads):
        first, last = score.note_by_id[lead.notes[0]].bar, score.note_by_id[lead.notes[-1]].bar
        with_whom = f", doubled by {' and '.join(streams[s].name for s in lead.doubled_by[:2])}" if lead.doubled_by else ""
        decisions.append(
            Decision(
                id=f"bass-{number + 1}",
                kind="bass",
                bars=(first, last),
                onset=lead.start,
                sentence=f"{where(score, first, last)}: the bass is {streams[lead.stream].name}'s{with_whom}, "
                f"because {lead.evidence[0][0]}.",
                hand="left",
                weight="medium",
                certainty=lead.certainty,
                rule="bass.carriers",
                setting="bass.carriers.shortest",
                measured=round(100 * lead.certainty),
                unit="% of the time lowest",
                source_notes=lead.notes,
                rejected=()
                if lead.runner_up is None
                else (Rejected(what=streams[lead.runner_up].name, why=f"lowest for only {lead.runner_up_share:.0%} of the time"),),
            )
        )
    return tuple(decisions)
