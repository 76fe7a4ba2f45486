"""Warm-ups cut from the piece: a rhythm to clap, the places of the hands to find, the widest ways to drill."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise, zip_longest
from string import ascii_lowercase

from reduce.hands.clock import Clock
from reduce.hands.movement import time_for, travel
from reduce.hands.touch import HANDS
from reduce.model.booklet import Block, Heading, Items, Keyboards, Keys, Music, Rhythm, Section, Text
from reduce.model.draft import Draft, DraftMark, DraftNote, Hand
from reduce.model.record import replace
from reduce.model.score import Bar, Meter
from reduce.teach.lesson import Lesson
from reduce.teach.naming import joined, note_name, placed
from reduce.teach.patterns import Stroke, ends, places, strokes
from reduce.teach.practice import tempo_boxes
from reduce.teach.tempi import ladder

SIZE = 0.85  # share of the level's staff
_FOUR = Meter((4,), 4)
_THERE = 2  # bars of a drill, each there and back in half-notes


@dataclass(frozen=True, slots=True, kw_only=True)
class Clapped:
    """A rhythm of the tune on the bars ``first`` to ``last`` (indices); ``again`` are the first bars of its other places."""

    first: int
    last: int
    notes: tuple[DraftNote, ...]
    again: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """A way of one hand between two strokes; ``far`` millimetres in ``seconds``, of which its level needs ``share``."""

    hand: Hand
    origin: Stroke
    goal: Stroke
    far: float
    seconds: float
    share: float


def warm_ups(lesson: Lesson) -> Section:
    """The page before the piece."""
    say = lesson.words.say
    blocks: list[Block] = [Text(text=say("warmups.lead")), *_rhythm(lesson), *_positions(lesson), *_drills(lesson)]
    return Section(name="warm-ups", title=say("warmups.title"), readers=("pupil",), blocks=tuple(blocks))


def tune(lesson: Lesson) -> tuple[DraftNote, ...]:
    """The tune, one note at a time: as the log tells, or else the right hand's highest notes."""
    notes = [
        note for note in lesson.draft.notes if not note.grace and (note.id in lesson.tune or (not lesson.tune and note.hand == "right"))
    ]
    tops: dict[int, DraftNote] = {}
    for note in notes:
        if note.onset not in tops or note.midi > tops[note.onset].midi:
            tops[note.onset] = note
    row = [tops[onset] for onset in sorted(tops)]
    return tuple(
        replace(note, duration=min(note.end, after.onset) - note.onset) if after else note
        for note, after in zip_longest(row, row[1:])
    )


def clapped(lesson: Lesson) -> Clapped | None:
    """The rhythm that returns most often in the tune: of two bars, else of one; else that of its first bar."""
    line = tune(lesson)
    for size in (2, 1):
        found: dict[object, list[Clapped]] = {}
        for k in range(len(lesson.draft.bars) - size + 1):
            cut = _cut(lesson, line, k, k + size - 1)
            if cut is not None:
                found.setdefault(_shape(lesson, cut), []).append(cut)
        apart = [_apart(cuts) for cuts in found.values()]
        best = max(apart, key=lambda cuts: (len(cuts) * _interest(cuts[0]), -cuts[0].first), default=None)
        if best is not None and (len(best) > 1 or size == 1):
            return replace(best[0], again=tuple(cut.first for cut in best[1:]))
    return None


def ways(lesson: Lesson) -> tuple[Way, ...]:
    """The ways of the hands with the least time to spare, each once: where a hand has to leave its place."""
    number, level = lesson.rules.number, lesson.rules.level
    octave, span = number("hands.keyboard.octave"), lesson.span or level.hand_span
    clock = Clock(lesson.draft.tempos, lesson.draft.resolution, number("hands.tempo.usual"))
    found: dict[tuple[Hand, frozenset[tuple[int, ...]]], Way] = {}
    for hand in HANDS:
        for a, b in pairwise(strokes(lesson, hand, 0, lesson.draft.end)):
            far, seconds = travel(a.keys, b.keys, span, octave), clock.between(a.onset, b.onset)
            share = time_for(far, level.octave_seconds, number("hands.leap.start-share"), octave) / seconds
            known = found.get((hand, frozenset((a.keys, b.keys))))
            if far >= number("hands.leap.least") and share >= number("teach.warm-ups.share") and (known is None or share > known.share):
                found[hand, frozenset((a.keys, b.keys))] = Way(hand=hand, origin=a, goal=b, far=far, seconds=seconds, share=share)
    tightest = sorted(found.values(), key=lambda way: (-way.share, way.origin.onset))[: lesson.rules.whole("teach.warm-ups.drills")]
    return tuple(sorted(tightest, key=lambda way: way.origin.onset))


def positions(lesson: Lesson, hand: Hand) -> tuple[tuple[Stroke, ...], ...]:
    """The places in which a hand plays most, each once, in the order of the piece; one stroke makes no place where there are others."""
    found: dict[tuple[int, int], list[tuple[Stroke, ...]]] = {}
    for place in places(lesson, strokes(lesson, hand, 0, lesson.draft.end)):
        low, high = ends(place)
        found.setdefault((low.midi, high.midi), []).append(place)
    most = lesson.rules.whole("teach.warm-ups.places")
    strikes = {ends: sum(len(place) for place in same) for ends, same in found.items()}
    used = [found[ends] for ends in sorted(found, key=lambda ends: -strikes[ends])[:most] if strikes[ends] > 1 or len(found) == 1]
    return tuple(sorted((same[0] for same in used), key=lambda place: place[0].onset))


def _rhythm(lesson: Lesson) -> list[Block]:
    cut = clapped(lesson)
    if cut is None:
        return []
    say, words = lesson.words.say, lesson.words
    sheet = Rhythm(about=lesson.draft, notes=cut.notes, meter=lesson.draft.bars[cut.first].meter, first=cut.first, last=cut.last)
    counts = " ".join(f"{k}" for k in range(1, sum(sheet.meter.beats) + 1))
    text = say("warmups.clap", place=lesson.bars_named(cut.first, cut.last))
    if cut.again:
        text += " " + words.count("warmups.clap-again", len(cut.again), bars=words.several([lesson.number(k) for k in cut.again]))
    return [
        Heading(text=f"1  {say('warmups.rhythm')}"),
        Text(text=text),
        Music(sheet=sheet, size=SIZE, name="rhythm"),
        Items(items=(say("warmups.clap-counts", counts=counts), *(say(f"warmups.clap-{k}") for k in (1, 2, 3))), mark="box"),
        tempo_boxes(lesson, ladder(lesson)),
    ]


def _positions(lesson: Lesson) -> list[Block]:
    say, words = lesson.words.say, lesson.words
    pictures = []
    for hand in HANDS:
        for place in positions(lesson, hand):
            keys = {note.midi: note_name(note.pitch, words) for stroke in place for note in stroke.notes}
            low, high = (placed(pitch, words) for pitch in ends(place))
            bar = lesson.number(lesson.bar_at(place[0].onset))
            caption = say("warmups.key" if low == high else "warmups.place", hand=say(f"hand.{hand}"), bar=bar, low=low, high=high)
            pictures.append(Keys(pressed=tuple(sorted(keys.items())), caption=caption))
    if not pictures:
        return []
    return [
        Heading(text=f"2  {say('warmups.positions')}"),
        Text(text=say("warmups.positions-how")),
        Keyboards(pictures=tuple(pictures)),
    ]


def _drills(lesson: Lesson) -> list[Block]:
    say, words = lesson.words.say, lesson.words
    found = ways(lesson)
    if not found:
        return []
    told = []
    for letter, way in zip(ascii_lowercase, found, strict=False):
        bar = lesson.bar_at(way.goal.onset)
        place = lesson.bars_named(bar, bar)
        facts = {"start": joined(way.origin.pitches, words), "goal": joined(way.goal.pitches, words)}
        facts |= {"mm": words.number(way.far, 0), "seconds": words.number(way.seconds, 1)}
        told.append(f"{letter}  {say('warmups.drill', place=place, hand=say(f'hand.{way.hand}'), **facts)}")
    return [
        Heading(text=f"3  {say('warmups.drills')}"),
        Text(text=say("warmups.drills-how")),
        Items(items=tuple(told), mark="box"),
        Music(sheet=drills(lesson, found), size=SIZE, name="drills"),
    ]


def drills(lesson: Lesson, found: Sequence[Way]) -> Draft:
    """The two strokes of each way, there and back twice in half-notes, in the key of their bar; each under its letter."""
    draft = lesson.draft
    half = 2 * draft.resolution
    bars: list[Bar] = []
    notes: list[DraftNote] = []
    marks: list[DraftMark] = []
    for letter, way in zip(ascii_lowercase, found, strict=False):
        start = 2 * half * len(bars)
        key = draft.bars[lesson.bar_at(way.goal.onset)].key
        for k in range(_THERE):
            place, line = len(bars), "light-light" if k + 1 == _THERE and way is not found[-1] else ""
            bars.append(
                Bar(index=place, number=f"{place + 1}", start=2 * half * place, length=2 * half, meter=_FOUR, key=key, barline=line)
            )
        marks.append(DraftMark(kind="rehearsal", onset=start, end=start, text=letter))
        notes += [
            DraftNote(
                id=f"drill-{letter}{k}-{note.id}", hand=way.hand, strand=1, onset=start + half * k, duration=half, pitch=note.pitch,
                midi=note.midi, role=note.role, sources=note.sources, decision="warm-up", finger=note.finger if k < 2 else "",
            )
            for k in range(2 * _THERE)
            for note in (way.origin, way.goal)[k % 2].notes
        ]  # fmt: skip
    return replace(draft, bars=tuple(bars), notes=tuple(notes), marks=tuple(marks), tempos=())


def _cut(lesson: Lesson, line: Sequence[DraftNote], first: int, last: int) -> Clapped | None:
    """The tune in some bars, its last note cut at their end; None where it is silent there at first, or is held into them."""
    bars = lesson.draft.bars
    start, end = bars[first].start, bars[last].end
    here = bars[first : last + 1]
    if len({bar.meter for bar in here}) > 1 or any(bar.length != bar.meter.ticks(lesson.draft.resolution) for bar in here):
        return None
    notes = tuple(replace(note, duration=min(note.end, end) - note.onset) for note in line if start <= note.onset < end)
    if not notes or notes[0].onset > start or {lesson.bar_at(note.onset) for note in notes} != set(range(first, last + 1)):
        return None
    return Clapped(first=first, last=last, notes=notes, again=())


def _shape(lesson: Lesson, cut: Clapped) -> object:
    bar = lesson.draft.bars[cut.first]
    return bar.meter, tuple((note.onset - bar.start, note.duration) for note in cut.notes)


def _apart(cuts: Sequence[Clapped]) -> list[Clapped]:
    """Those that do not overlap, from the first on."""
    chosen: list[Clapped] = []
    for cut in cuts:
        if not chosen or cut.first > chosen[-1].last:
            chosen.append(cut)
    return chosen


def _interest(cut: Clapped) -> float:
    """What there is to clap: different values make a rhythm, one value again and again is a pulse."""
    return 1.0 if len({note.duration for note in cut.notes}) > 1 else 0.5
