"""Reasons in a musician's sentence: the ledger that every act of arranging writes into."""

from __future__ import annotations

from bisect import bisect_right
from collections import Counter, defaultdict
from collections.abc import Container, Iterable, Mapping, Sequence
from typing import Literal

from reduce.arrange.fates import Reason, Trace
from reduce.arrange.left_out import LeftOut, Why
from reduce.arrange.line import Tone
from reduce.model.decision import Decision, DecisionKind, Fate, FateKind, Rejected
from reduce.model.draft import DraftNote, Hand
from reduce.model.level import Level
from reduce.model.pitch import in_key
from reduce.model.record import replace
from reduce.model.score import Bar, Score
from reduce.model.texture import Texture


class Ledger:
    """Collects decisions and numbers them; ids are stable for equal input."""

    def __init__(self) -> None:
        self._rows: list[Decision] = []

    def copy(self) -> Ledger:
        """Another ledger with the same entries, for an attempt that may be given up."""
        other = Ledger()
        other._rows = list(self._rows)
        return other

    def add(self, decision: Decision) -> str:
        """Enter a decision; its id (empty on entry) is returned."""
        name = decision.id or f"d{len(self._rows) + 1}"
        self._rows.append(replace(decision, id=name))
        return name

    def taken(self, name: str) -> Decision | None:
        """The decision of that id, struck out: another one takes its place."""
        found = next((row for row in self._rows if row.id == name), None)
        self._rows = [row for row in self._rows if row is not found]
        return found

    def extend(self, decisions: Iterable[Decision]) -> None:
        for decision in decisions:
            self._rows.append(decision)

    def decisions(self) -> tuple[Decision, ...]:
        """All of them: whole-piece matters first, then in the order of the bars."""
        weight = {"big": 0, "medium": 1, "small": 2}
        return tuple(sorted(self._rows, key=lambda d: (d.kind not in ("cut", "key", "tempo"), d.bars[0], weight[d.weight], d.onset or 0)))


def bars_named(first: Bar, last: Bar) -> str:
    """'Bar 5' or 'Bars 5-8', as printed."""
    return f"Bar {first.number}" if first.number == last.number else f"Bars {first.number}–{last.number}"


def and_list(words: Sequence[str], most: int = 3) -> str:
    """'a', 'a and b', 'a, b and 3 more'."""
    if len(words) > most + 1:
        words = [*words[:most], f"{len(words) - most} more"]
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)


def explained_octaves(
    ledger: Ledger,
    kind: Literal["melody", "bass"],
    hand: Hand,
    tones: Sequence[Tone],
    shifts: Sequence[int],
    home: Sequence[int],
    bars: Sequence[Bar],
    level: Level,
    told: Container[int] = (),
) -> None:
    """One decision for each stretch of a line that is played in another octave than it is read in, and one for instruments read so.

    ``home``: for each tone the semitones to the octave it is read in (a piccolo's, a double bass's).  ``told``: tones (positions) whose
    octave has its reason already.
    """
    starts = [bar.start for bar in bars]
    what = "tune" if kind == "melody" else "bass"

    def bar(index: int) -> Bar:
        return bars[bisect_right(starts, tones[index].onset) - 1]

    read = [i for i, (shift, own) in enumerate(zip(shifts, home, strict=True)) if own and shift == own]
    if read:
        up = home[read[0]] > 0
        first, last = bar(read[0]), bar(read[-1])
        who = "double basses, sounding an octave below what they read, have"
        if not up:
            who = "a piccolo, sounding an octave above what it reads, has"
        sentence = f"{bars_named(first, last)}, {hand} hand: where only {who} the {what}, it is played as read; there the piano "
        sentence += "is clear." if up else "sings."
        ledger.add(
            Decision(
                id="",
                kind="octave",
                bars=(first.index, last.index),
                onset=tones[read[0]].onset,
                hand=hand,
                certainty=0.8,
                sentence=sentence,
                rule=f"placement.{what}-octave",
                setting=f"placement.{what}-octave.away",
                measured=float(len(read)),
                unit="notes",
                source_notes=tuple(s for i in read for s in tones[i].sources),
                rejected=(Rejected("the sounding octave", "heavy and far from its chord" if up else "thin at the edge of the keyboard"),),
            )
        )
    index = 0
    while index < len(tones):
        stop = index
        shift = shifts[index] - home[index]
        known = index in told
        while stop + 1 < len(tones) and shifts[stop + 1] - home[stop + 1] == shift and (stop + 1 in told) == known:
            stop += 1
        if shift and not known:
            first, last = bar(index), bar(stop)
            read_at = [t.midi + own for t, own in zip(tones[index : stop + 1], home[index : stop + 1], strict=True)]
            low, high = min(read_at), max(read_at)
            octaves = "an octave" if abs(shift) == 12 else "two octaves"
            way = "higher" if shift > 0 else "lower"
            where = bars_named(first, last)
            low_name, high_name = in_key(low, first.key.fifths), in_key(high, first.key.fifths)
            if low < level.lowest or high > level.highest:
                bound = level.lowest if low < level.lowest else level.highest
                outside = low_name if low < level.lowest else high_name
                because = f"{outside} lies outside this level's keys (limit {in_key(bound, first.key.fifths)})"
            elif kind == "melody":
                low_lying = f"at {low_name}–{high_name} it would leave no room for chords below it"
                because = low_lying if shift > 0 else f"{high_name} lies high for the hand"
            else:
                because = "it would run into the tune" if shift < 0 else f"{low_name} is out of reach of the chord above it"
            ledger.add(
                Decision(
                    id="",
                    kind="octave",
                    bars=(first.index, last.index),
                    onset=tones[index].onset,
                    hand=hand,
                    weight="medium" if kind == "melody" else "small",
                    certainty=0.8,
                    sentence=f"{where}, {hand} hand: the {what} is played {octaves} {way}, because {because}; its colour changes.",
                    rule=f"placement.{what}-octave",
                    setting=f"placement.{what}-octave.{'easy-low' if shift > 0 else 'easy-high'}",
                    measured=float(low if shift > 0 else high),
                    limit=float(level.lowest if shift > 0 else level.highest),
                    unit="MIDI number",
                    source_notes=tuple(s for t in tones[index : stop + 1] for s in t.sources),
                    rejected=(Rejected("the written octave", because),),
                )
            )
        index = stop + 1


def explained_additions(ledger: Ledger, notes: Sequence[DraftNote], bars: Sequence[Bar], offset: int) -> tuple[DraftNote, ...]:
    """Notes that stand for no source note get the decision that added them: the figure of their bars, or one entered here."""
    figures = [d for d in ledger.decisions() if d.kind == "figure"]
    starts = [bar.start - offset for bar in bars]
    out: list[DraftNote] = []
    fresh: dict[int, str] = {}
    for note in notes:
        if not note.sources and not note.decision:
            bar = bars[max(0, bisect_right(starts, note.onset) - 1)]
            owner = next((d.id for d in figures if d.bars[0] <= bar.index <= d.bars[1]), None)
            if owner is None:
                owner = fresh.get(bar.index)
            if owner is None:
                needs = f"{note.pitch.name} is added, because the harmony needs it here though no instrument strikes it just then"
                owner = fresh[bar.index] = ledger.add(
                    Decision(
                        id="",
                        kind="chord",
                        bars=(bar.index, bar.index),
                        onset=note.onset + offset,
                        hand=note.hand,
                        certainty=0.6,
                        sentence=f"{bars_named(bar, bar)}, {note.hand} hand: {needs}.",
                        rule="voicing.chord-notes",
                        setting="voicing.chord-notes.third",
                        draft_notes=(note.id,),
                    )
                )
            note = replace(note, decision=owner)
        out.append(note)
    return tuple(out)


_DENSITY = {
    "first-and-moves": "for the first note of each hand and wherever the hand moves",
    "crossovers": "where the hand moves, and for a crossing and the note after it",
    "shifts": "for shifts, crossings and new chord shapes",
    "non-obvious": "only where the finger is not obvious",
    "rare": "only where a good reader would not find it",
}


def explained_fingers(ledger: Ledger, fingers: Mapping[str, str], bars: Sequence[Bar], level: Level) -> None:
    """One decision for all printed fingers."""
    if fingers:
        ledger.add(
            Decision(
                id="",
                kind="fingering",
                bars=(bars[0].index, bars[-1].index),
                sentence=f"Fingers are printed {_DENSITY[level.fingering]}, because this level reads them so; the easiest are chosen.",
                rule="hands.fingering",
                setting="level.fingering",
                measured=float(len(fingers)),
                unit="fingers",
                draft_notes=tuple(fingers),
            )
        )


_WORDS: dict[tuple[FateKind, Reason], tuple[DecisionKind, str]] = {
    ("kept", "same"): ("inner", "{who}: played as written, because they carry the tune, the bass or a chord note the hands can hold."),
    ("moved", "octave"): (
        "octave",
        "{who}: played in another octave, because there the note lies under the hand; the colour changes, the harmony stays.",
    ),
    ("merged", "doubling"): (
        "inner",
        "{who}: left to another note that sounds the same tone (unison or octave), because one key is enough; the weight is lost.",
    ),
    ("merged", "drum"): ("inner", "{who}: the drum's tone is in the bass already and is heard there; a drum stroke is no note of its own."),
    ("simplified", "rhythm"): ("rhythm", "{who}: sounds, but is not struck in its own rhythm, because {struck}; the inner motion is lost."),
    ("dropped", "thinned"): ("chord", "{who}: left out, because {why}; {lost}."),
    ("dropped", "ornament"): ("notation", "{who}: grace notes left out, because this level plays {ornaments}; the main notes stay."),
    ("dropped", "drum"): (
        "inner",
        "{who}: drum strokes left out, because a drum stroke is no note of its own; its weight goes into the dynamics.",
    ),
    ("dropped", "cue"): ("inner", "{who}: cue or hidden notes left out, because they are printed for orientation only."),
    ("dropped", "silenced"): ("inner", "{who}: left out, because the arranger wants it so."),
    ("dropped", "outside"): ("cut", "{who}: outside the bars of this draft."),
}
_CITED: dict[Reason, Why] = {  # the rule behind each reason, and the setting that would change it
    "same": Why(words="", rule="voicing.grip-to-grip", setting="voicing.grip-to-grip.exact"),
    "octave": Why(words="", rule="voicing.grip-to-grip", setting="voicing.grip-to-grip.exact"),
    "doubling": Why(words="", rule="voicing.grip-to-grip", setting="voicing.grip-to-grip.repeat"),
    "ornament": Why(words="", rule="ornament.grace", setting="level.ornaments"),
    "drum": Why(words="", rule="marks.colour", setting="marks.colour.silence-bars"),
    "outside": Why(words="", rule="length.excerpt", setting="level.bars-max"),
    "silenced": Why(words="", rule="choices", setting=""),
}
_UNTOLD = Why(words="", rule="", setting="")
_PRICE = dict.fromkeys(("level.notes-left", "level.notes-right"), "thirds, sevenths and outer lines come first")
_TOLD_BY: dict[Reason, tuple[DecisionKind, ...]] = {  # kinds of decisions that may have settled it before
    "octave": ("octave",),
    "rhythm": ("rhythm",),
    "ornament": ("notation",),
    "outside": ("cut",),
    "thinned": ("rhythm",),  # a note that the tune lost for its rhythm
}
_BEFORE, _AFTER = -2, -1  # blocks of notes outside the bars of a draft
_ORNAMENTS = {"none": "none", "grace": "single graces only", "trill-turn": "trills and turns only", "all": "only those of the tune"}


def _section_ends(texture: Texture, bars: Sequence[Bar], fewest: int = 12) -> list[int]:
    """Where stretches of at least ``fewest`` bars end, at phrase ends where there are any."""
    joints = sorted({p.end for p in texture.phrases} | {bars[-1].end})
    ends: list[int] = []
    count = 0
    for bar in bars:
        count += 1
        joint = any(bar.start < joint <= bar.end for joint in joints[bisect_right(joints, bar.start) :][:1])
        if (count >= fewest and joint) or count >= 2 * fewest:
            ends.append(bar.end)
            count = 0
    return ends


def explained_fates(
    ledger: Ledger,
    traces: Sequence[Trace],
    score: Score,
    texture: Texture,
    bars: Sequence[Bar],
    left_out: LeftOut,
    level: Level,
) -> tuple[Fate, ...]:
    """One decision for each phrase, kind of fate and rule that decided it, and every note's fate with the decision that says why.

    A note whose fate an earlier decision told (an octave, a rhythm, a grace, the cut) points to that decision.
    """
    ends = _section_ends(texture, bars)
    names = {stream.id: stream.name for stream in texture.streams}
    starts = [bar.start for bar in score.bars]
    earlier = {
        reason: {name: d.id for d in ledger.decisions() if d.kind in kinds for name in d.source_notes} for reason, kinds in _TOLD_BY.items()
    }
    decided: dict[str, str] = {}
    groups: dict[tuple[int, FateKind, Reason, str], list[Trace]] = defaultdict(list)
    whys: dict[tuple[int, FateKind, Reason, str], Why] = {}
    for trace in traces:
        told = earlier.get(trace.reason, {}).get(trace.note.id)
        if told is not None:
            decided[trace.note.id] = told
            continue
        block = bisect_right(ends, trace.note.onset)
        if trace.reason in ("outside", "cue"):
            block = _BEFORE if trace.note.onset < bars[0].start else _AFTER
        why = left_out.why(trace) if trace.reason == "thinned" else _cited(trace.reason, left_out)
        place = (block, trace.kind, trace.reason, why.setting)
        whys.setdefault(place, why)
        groups[place].append(trace)
    for place, members in sorted(groups.items(), key=lambda g: g[0]):
        _, kind, reason, _ = place
        why = whys[place]
        first = bisect_right(starts, min(t.note.onset for t in members)) - 1
        last = bisect_right(starts, max(t.note.onset for t in members)) - 1
        count = Counter(names.get(texture.stream_of.get(t.note.id, -1), score.parts[t.note.part].name) for t in members)
        who = and_list([name for name, _ in count.most_common()])
        decision_kind, words = _WORDS[kind, reason]
        sentence = f"{bars_named(score.bars[first], score.bars[last])}, " + words.format(
            who=who,
            why=why.words,
            lost=_PRICE.get(why.setting, "the chord is thinner" if len(members) > 1 else "one note is missing"),
            struck=why.words,
            ornaments=_ORNAMENTS[level.ornaments],
        )
        name = ledger.add(
            Decision(
                id="",
                kind=decision_kind,
                bars=(first, last),
                onset=min(t.note.onset for t in members),
                sentence=sentence,
                certainty=0.9,
                rule=why.rule,
                setting=why.setting,
                measured=float(len(members)) if why.measured is None else why.measured,
                limit=why.limit,
                unit=why.unit or "notes",
                source_notes=tuple(t.note.id for t in members),
                draft_notes=tuple(dict.fromkeys(d for t in members for d in t.draft_notes)),
            )
        )
        for trace in members:
            decided[trace.note.id] = name
    _summed_up(ledger, traces, groups, whys, bars)
    return tuple(Fate(note=t.note.id, kind=t.kind, decision=decided[t.note.id], draft_notes=t.draft_notes) for t in traces)


def _summed_up(
    ledger: Ledger,
    traces: Sequence[Trace],
    groups: Mapping[tuple[int, FateKind, Reason, str], Sequence[Trace]],
    whys: Mapping[tuple[int, FateKind, Reason, str], Why],
    bars: Sequence[Bar],
) -> None:
    """One big decision: how much of the orchestra is left out, and for what reason most of it."""
    inside = [t for t in traces if t.reason not in ("outside", "cue")]
    count: Counter[str] = Counter()
    chief: dict[str, Why] = {}
    for place, members in groups.items():
        if place[2] == "thinned":
            count[place[3]] += len(members)
            chief.setdefault(place[3], whys[place])
    if not count:
        return
    lost = 100 * count.total() / len(inside)
    doubled = 100 * sum(t.reason == "doubling" for t in inside) / len(inside)
    why = chief[count.most_common(1)[0][0]]
    where = bars_named(bars[0], bars[-1])
    share = f"{lost:.0f} of 100 notes are" if lost >= 1.5 else "hardly any note is"
    those = "most go" if lost >= 1.5 else "those that are go"
    ledger.add(
        Decision(
            id="",
            kind="inner",
            bars=(bars[0].index, bars[-1].index),
            onset=bars[0].start,
            sentence=f"{where}: {share} left out and {doubled:.0f} of 100 double others; {those} because {why.words}.",
            weight="big",
            certainty=0.9,
            rule=why.rule,
            setting=why.setting,
            measured=round(lost, 1),
            unit="notes of 100",
        )
    )


def _cited(reason: Reason, left_out: LeftOut) -> Why:
    """The rule and setting behind a fate that is no leaving out."""
    return left_out.slower() if reason == "rhythm" else _CITED.get(reason, _UNTOLD)
