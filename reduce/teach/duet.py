"""The duet: where the teacher sits, how her part keeps out of the pupil's way, how much more is heard."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from fractions import Fraction
from math import ceil, floor

from reduce.hands.check import check
from reduce.hands.hand import grip
from reduce.model.booklet import Block, Ensemble, Music, Player, Section, Text
from reduce.model.draft import Draft, DraftMark, DraftNote
from reduce.model.record import dataclass, replace
from reduce.model.rules import Rules
from reduce.model.score import Bar, Score
from reduce.teach.filling import Held, filled
from reduce.teach.lesson import Lesson

OCTAVE = 12
_LOUD = ("dynamic", "hairpin")
_HANDS = ("span", "crowd", "clash", "reach", "speed", "speed-together")  # what hands cannot do
_AWAY, _CHANGE, _COVERS = 0.5, 3.0, 0.5  # prices of an octave away, of another octave than before, of a note above the pupil's
_STAFF = 7.0  # millimetres, the teacher's own staves
_SMALL = 0.75  # the pupil's staves above the teacher's


@dataclass(frozen=True, slots=True, kw_only=True)
class Seat:
    """``pianos`` 1: the teacher sits to the left and stays below the pupil, who plays ``octaves`` higher than printed; 2: anywhere.

    ``highest`` is the highest key (MIDI) that the teacher's part is arranged for.
    """

    pianos: int
    octaves: int
    highest: int


@dataclass(frozen=True, kw_only=True)
class Duet:
    """The teacher's ``part`` with its seat; ``alone`` and ``both``: shares of the orchestra's notes heard on each beat."""

    part: Draft
    seat: Seat
    alone: float
    both: float


def seat(draft: Draft, rules: Rules, highest: int) -> Seat:
    """One piano where a pupil who plays an octave higher leaves room below in most bars, else two; ``highest`` of the teacher's level."""
    lows = sorted(
        min(keys)
        for keys in ([n.midi for n in draft.notes if n.onset < bar.end and n.end > bar.start and not n.grace] for bar in draft.bars)
        if keys
    )
    most = rules.number("teach.duet-part.bars")
    room = lows[min(len(lows) - 1, int((1 - most) * len(lows)))] + OCTAVE - 1 if lows else highest
    if room >= rules.whole("teach.duet-part.room"):
        return Seat(pianos=1, octaves=1, highest=room)
    return Seat(pianos=2, octaves=0, highest=highest)


def kept_apart(part: Draft, pupil: Draft, place: Seat, rules: Rules, source: Score | None = None) -> Draft:
    """The teacher's part without the pupil's keys.

    At two pianos each hand first lies in the octave where it meets the pupil least, changed as seldom as can be; a key that the pupil
    has all the same is doubled an octave below by the left hand, and left to the pupil by the right.  At one piano a note that is not
    below every key of the pupil goes an octave down where the hand reaches it, else it is left out.  What neither player has of the
    ``source`` goes into the teacher's chords.  ``rules`` are those of the teacher's level; what its check finds too much is thinned.
    """
    scale = Fraction(part.resolution, pupil.resolution)
    held = Held(tuple((n.onset * scale, n.end * scale, n.midi + OCTAVE * place.octaves) for n in pupil.notes if not n.grace))

    def keys_at(note: DraftNote) -> set[int]:
        return held.between(note.onset, max(note.end, note.onset + 1))

    if place.pianos == 2:
        part = _beside(part, keys_at, rules)
    notes: list[DraftNote] = []
    for note in sorted(part.notes, key=lambda n: (n.onset, n.midi)):
        together = [n for n in notes if n.end > note.onset and n.onset < note.end]
        kept = _out_of_the_way(note, keys_at(note), together, place, rules)
        if kept is not None:
            notes.append(replace(kept, finger=""))
    cleared = replace(part, notes=tuple(sorted(notes, key=lambda n: (n.onset, n.hand, n.strand, n.midi))))
    if source is not None:
        cleared = filled(cleared, source, held, place.pianos == 1, replace(rules, level=replace(rules.level, highest=place.highest)))
    cleared = _thinned(cleared, rules)
    there = {note.id for note in cleared.notes}
    own = (mark for mark in part.marks if there.issuperset(mark.notes) and mark.kind not in (*_LOUD, "instrument"))
    return replace(cleared, marks=(*own, *_as_loud(pupil, part)))


def _beside(part: Draft, keys_at: Callable[[DraftNote], set[int]], rules: Rules) -> Draft:
    """Each hand in the octave of each bar where it shares fewest keys with the pupil and does not cover the tune (dynamic programming)."""
    level = rules.level
    moved: dict[str, int] = {}
    bars = [[note for note in part.notes if bar.start <= note.onset < bar.end] for bar in part.bars]
    for hand, ways in (("left", (0, -1)), ("right", (0, 1, -1))):
        best: list[dict[int, tuple[float, int]]] = []
        for here in bars:
            row = {}
            top = max((n.midi + OCTAVE * moved.get(n.id, 0) for n in here if n.hand == "left"), default=0) if hand == "right" else 0
            for way in ways:
                price = _AWAY * abs(way)
                for note in (n for n in here if n.hand == hand):
                    key, keys = note.midi + OCTAVE * way, keys_at(note)
                    price += (key in keys) + _COVERS * (key > max(keys, default=128)) + (key <= top)
                    price += 0 if level.lowest <= key <= level.highest else len(here)
                before = min(((cost + _CHANGE * (way != other), other) for other, (cost, _) in best[-1].items())) if best else (0.0, way)
                row[way] = (price + before[0], before[1])
            best.append(row)
        way = min(best[-1], key=lambda one: best[-1][one][0]) if best else 0
        for here, row in zip(reversed(bars), reversed(best), strict=True):
            moved.update((note.id, way) for note in here if note.hand == hand)
            way = row[way][1]
    return replace(part, notes=tuple(_octaves(note, moved.get(note.id, 0)) for note in part.notes))


def _octaves(note: DraftNote, count: int) -> DraftNote:
    return replace(note, midi=note.midi + OCTAVE * count, pitch=replace(note.pitch, octave=note.pitch.octave + count)) if count else note


def _out_of_the_way(note: DraftNote, keys: set[int], own: Sequence[DraftNote], place: Seat, rules: Rules) -> DraftNote | None:
    """The note on a key that is free, or None."""
    level = rules.level
    lowest = min(keys, default=128) if place.pianos == 1 else 128
    span = level.span_left if note.hand == "left" else level.span_right
    mine = [other.midi for other in own if other.hand == note.hand]
    for count in (0, -1, -2) if place.pianos == 1 else (0, -1) if note.hand == "left" else (0,):
        key = note.midi + OCTAVE * count
        free = key not in keys and level.lowest <= key < lowest and key not in (other.midi for other in own)
        row = (*mine, key)
        if free and (not count or (max(row) - min(row) <= span and grip(row, level.hand_span, note.hand) is not None)):
            return _octaves(note, count)
    return None


def _thinned(part: Draft, rules: Rules) -> Draft:
    """Without inner notes, and at last without all but the lowest, in the bars that a hand cannot take."""
    for bare in (False, True):
        wrong = {(breach.bar, breach.hand) for breach in check(part, rules.level, rules).breaches if breach.hard and breach.what in _HANDS}
        if not wrong:
            break
        spans = tuple((part.bars[bar], hand) for bar, hand in wrong)
        lowest: dict[tuple[str, int], int] = {}
        for note in part.notes:
            lowest[note.hand, note.onset] = min(note.midi, lowest.get((note.hand, note.onset), 128))
        part = replace(part, notes=tuple(n for n in part.notes if not _inside(n, spans) or _stays(n, bare, lowest)))
    return part


def _inside(note: DraftNote, spans: Iterable[tuple[Bar, str]]) -> bool:
    return any(hand in (note.hand, "both") and bar.start <= note.onset < bar.end for bar, hand in spans)


def _stays(note: DraftNote, bare: bool, lowest: Mapping[tuple[str, int], int]) -> bool:
    return note.strand == 1 and (not bare or lowest[note.hand, note.onset] == note.midi)


def _as_loud(pupil: Draft, part: Draft) -> list[DraftMark]:
    """The pupil's dynamics at the ticks of the part."""
    found = []
    for mark in pupil.marks:
        ticks = [Fraction(tick * part.resolution, pupil.resolution) for tick in (mark.onset, mark.end)]
        if mark.kind in _LOUD and all(tick.denominator == 1 for tick in ticks):
            found.append(replace(mark, onset=int(ticks[0]), end=int(ticks[1]), notes=(), hand="both"))
    return found


def shares(lesson: Lesson, part: Draft) -> tuple[float, float]:
    """How much of the orchestra is heard, as the mean over all beats of the share of its pitch classes: pupil alone, and both."""
    source, draft = lesson.source, lesson.draft
    if source is None or not source.bars:
        return 0.0, 0.0
    sums = [Fraction(0), Fraction(0)]
    beats = 0
    scale = Fraction(draft.end, source.end)
    for bar in source.bars:
        step = bar.meter.beat_ticks(source.resolution)
        for start in range(bar.start, bar.end, step):
            wanted = {
                (n.midi + draft.transposed) % 12 for n in source.notes if n.onset < start + step and n.end > start and n.kind == "struck"
            }
            if not wanted:
                continue
            beats += 1
            heard: set[int] = set()
            for k, piece in enumerate((draft, part)):
                ticks = scale * piece.resolution / draft.resolution
                low, high = floor(start * ticks), ceil((start + step) * ticks)  # whole ticks compare quickly, and part the same notes
                heard |= {n.midi % 12 for n in piece.notes if n.onset < high and n.end > low}
                sums[k] += Fraction(len(wanted & heard), len(wanted))
    return (float(sums[0] / beats), float(sums[1] / beats)) if beats else (0.0, 0.0)


def duet_page(lesson: Lesson) -> tuple[Section, ...]:
    """The teacher's part under the pupil's; nothing where the pupil plays all there is."""
    duet = lesson.duet
    if duet is None:
        return ()
    say = lesson.words.say
    where = say(f"duet.pianos-{duet.seat.pianos}")
    heard = say("duet.heard", alone=round(100 * duet.alone), both=round(100 * duet.both))
    score = Ensemble(
        players=(
            Player(name=say("duet.pupil"), short=say("duet.pupil-short"), draft=lesson.draft, size=_SMALL),
            Player(name=say("duet.teacher"), short=say("duet.teacher-short"), draft=duet.part),
        )
    )
    blocks: tuple[Block, ...] = (
        Text(text=f"{where} {say('duet.how')}"),
        Text(text=heard, look="small"),
        Music(sheet=score, size=min(1.0, _STAFF / lesson.rules.level.staff_height), name="duet"),
    )
    return (Section(name="duet", title=say("duet.title"), readers=("teacher",), blocks=blocks),)


def hint(lesson: Lesson) -> tuple[Block, ...]:
    """What the pupil does in the duet, to stand under the sheet."""
    if lesson.duet is None:
        return ()
    return (Text(text=lesson.words.say(f"duet.hint-{lesson.duet.seat.pianos}"), look="small"),)
