"""The page of hard spots: where, how big, what repeats in the notes, how to practise it, with the bars."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from reduce.hands.keyboard import BLACK
from reduce.hands.report import BarLoad, Spot
from reduce.hands.touch import HANDS
from reduce.model.booklet import Block, Heading, Items, Music, Section, Text
from reduce.model.draft import DraftNote, Hand
from reduce.teach.lesson import Lesson, ranges, sounding
from reduce.teach.makings import what_repeats
from reduce.teach.naming import interval, joined, note_name, placed
from reduce.teach.patterns import Stroke, by_places, ends, pattern, places, strokes, told

TIPS = (1, 2, 3)
SIZE = 0.85  # share of the level's staff
_MOVES = ("leap", "shift", "wide-arpeggio")  # kinds that are told by where the hand comes from and goes to
_REPEATS = ("repeated-note", "repeated-chord", "octaves")
_SHARED = ("shared-key", "quick-change")
_SPOKEN = {(True, True): "together", (True, False): "right", (False, True): "left"}


def hard_spots(lesson: Lesson) -> Section:
    """Every spot of the check with the bars it stands in; without any, the bar that asks most; then what repeats.

    How to practise a kind is told in full where it first comes; later spots of that kind say what is their own.
    """
    say = lesson.words.say
    blocks: list[Block] = []
    first: dict[tuple[str, Literal["right", "left", "both"]], int] = {}
    for number, spot in enumerate(lesson.report.spots, 1):
        blocks += _entry(lesson, number, spot, first.get((spot.kind, spot.hand)))
        first.setdefault((spot.kind, spot.hand), number)
    care = Text(text=say("spots.strain"), look="caution")
    lead = [Text(text=lesson.words.count("spots.lead", len(lesson.report.spots)))]
    blocks = [*lead, care, *blocks] if blocks else [care, *_busiest(lesson)]
    blocks += what_repeats(lesson)
    return Section(name="spots", title=say("spots.title"), readers=("pupil", "teacher"), blocks=tuple(blocks))


def _entry(lesson: Lesson, number: int, spot: Spot, like: int | None) -> list[Block]:
    """One spot: its place and size, its bars, the ways to practise it (``like``: the number of an entry that tells them)."""
    say = lesson.words.say
    place = lesson.bars_named(spot.bar, spot.bar)
    where = say("spots.where", place=place[:1].upper() + place[1:], hand=say(f"hand.{spot.hand}"), kind=say(f"spot.{spot.kind}.name"))
    lines = [measured(lesson, spot)]
    if spot.again:
        runs = ranges([lesson.index_of[number] for number in spot.again])
        bars = lesson.words.several([lesson.range_of(*run) for run in runs])
        lines.append(lesson.words.count("spots.again", len(spot.again), bars=bars))
    lines += explained(lesson, spot)
    tips = ways(lesson, spot)
    if like is not None:
        tips = [tips[0], say("spots.as-before", number=like)]
    blocks: list[Block] = [
        Heading(text=f"{number}  {where}"),
        Text(text=" ".join(lines)),
        Music(sheet=lesson.draft, first=_from(lesson, spot), last=spot.bar, size=SIZE),
        Items(items=tuple(tips), mark="box"),
    ]
    if like is None:
        blocks.append(Text(text=say("spots.easier", easier=say(f"spot.{spot.kind}.easier", **_facts(lesson, spot))), look="small"))
    if spot.caution:
        blocks.append(Text(text=say("spots.caution"), look="caution"))
    return blocks


def measured(lesson: Lesson, spot: Spot) -> str:
    """Where the hand comes from and goes to, as interval, millimetres, seconds."""
    facts = _facts(lesson, spot)
    name = "size"
    if spot.kind == "stretch" and spot.size <= lesson.report.span:
        name = "inside"
    elif spot.kind in _REPEATS and spot.available >= spot.needed:
        name = "long"
    elif spot.kind == "quick-change" and spot.available < 0.005:
        name = "at-once"
    elif spot.kind == "shared-key" and not _held(lesson, spot):
        name = "both"
    elif spot.kind == "cross-rhythm" and "order" not in facts:
        name = "plain"
    return lesson.words.say(f"spot.{spot.kind}.{name}", **facts)


def explained(lesson: Lesson, spot: Spot) -> list[str]:
    """What repeats in the notes around the spot, and the places that the hand takes."""
    if spot.hand == "both":
        return []
    bars = lesson.draft.bars
    row = strokes(lesson, spot.hand, bars[_from(lesson, spot)].start, bars[spot.bar].end)
    lines = []
    found = pattern(lesson, [stroke for stroke in row if stroke.onset >= bars[spot.bar].start]) or pattern(lesson, row)
    if found is not None and any(first.onset <= spot.onset <= last.onset for first, last in [(found.strokes[0], found.strokes[-1])]):
        lines.append(told(lesson, found))
    taken = _places(lesson, spot)
    if 1 < len(taken) <= 4:
        names = [joined(dict.fromkeys(ends(place)), lesson.words, octaves=True) for place in taken]
        lines.append(lesson.words.say("pattern.places", n=len(taken), places=lesson.words.several(names)))
    return lines


def ways(lesson: Lesson, spot: Spot) -> list[str]:
    """How to practise the spot, with its own notes."""
    facts, words = _facts(lesson, spot), lesson.words
    about = {"stretch": "inner", "cross-rhythm": "order"}.get(spot.kind)  # what the usual tips are about
    sort = "plain" if about is not None and about not in facts else "practise"
    return [words.say(name, **facts) for k in TIPS if words.has(name := f"spot.{spot.kind}.{sort}-{k}")]


def _facts(lesson: Lesson, spot: Spot) -> dict[str, object]:
    """Everything that a sentence on a spot may be filled with."""
    words = lesson.words
    notes = _notes(lesson, spot)
    facts: dict[str, object] = {
        "mm": words.number(spot.size, 0), "available": words.number(spot.available, 2), "needed": words.number(spot.needed, 2),
        "span": words.number(lesson.report.span, 0), "other": words.say(f"hand.{_other(spot)}"),
    }  # fmt: skip
    if notes:
        pitches = [note.pitch for note in notes]
        facts |= {"note": note_name(pitches[-1], words), "notes": joined(pitches, words)}
        facts["thumb"] = note_name(pitches[0 if spot.hand == "right" else -1], words)
    if spot.kind in _SHARED and notes:
        facts["note"] = note_name(_contested(lesson, spot, notes).pitch, words)
    if spot.kind in _MOVES:
        facts |= _move(lesson, spot, notes)
    elif spot.kind == "stretch":
        facts |= _chord(lesson, spot, notes)
    elif spot.kind in _REPEATS and spot.hand != "both":
        facts["n"] = _times(lesson, spot)
    elif spot.kind == "black-thumb" and spot.hand != "both":
        both = [note for stroke in _strokes_before(lesson, spot, 1) for note in stroke.notes] + notes
        facts["thumb"] = note_name(next((note.pitch for note in both if BLACK[note.midi]), notes[-1].pitch), words)
        facts["turn"] = joined([note.pitch for note in both], words)
    elif spot.kind == "crossing":
        facts |= _crossed(lesson, spot)
    elif spot.kind == "cross-rhythm":
        facts |= _against(lesson, spot)
    elif spot.kind == "dense":
        facts["parts"] = heavy_parts(lesson, lesson.report.load[spot.bar])
    return facts


def _move(lesson: Lesson, spot: Spot, notes: Sequence[DraftNote]) -> dict[str, object]:
    """From where to where the hand goes, measured at the side where it goes less far."""
    words = lesson.words
    before = _strokes_before(lesson, spot, 2 if spot.kind == "wide-arpeggio" else 1)
    origin = before[0]
    up = notes[0].midi > origin.notes[0].midi
    sides = ((origin.pitches[0], notes[0].pitch), (origin.pitches[-1], notes[-1].pitch))
    nearer = min(sides, key=lambda side: abs(side[1].midi - side[0].midi))
    return {
        "start": joined(origin.pitches, words, octaves=True),
        "goal": joined([note.pitch for note in notes], words, octaves=True),
        "interval": interval(*nearer, words),
        "way": words.say(f"way.{'up' if up else 'down'}"),
        "grips": by_places(lesson, _near(lesson, spot)),
    }


def _chord(lesson: Lesson, spot: Spot, notes: Sequence[DraftNote]) -> dict[str, object]:
    """A chord that is wide: all keys that the hand has down then, its outer and its inner notes."""
    words = lesson.words
    down = {note.midi: note for note in sounding(lesson.hand(_hand(spot)), spot.onset, spot.onset + 1)}
    pitches = [down[key].pitch for key in sorted(down)] or [note.pitch for note in notes]
    facts: dict[str, object] = {
        "notes": joined(pitches, words, octaves=True),
        "interval": interval(pitches[0], pitches[-1], words),
        "outer": joined((pitches[0], pitches[-1]), words),
    }
    if len(pitches) > 2:
        facts["inner"] = joined(pitches[1:-1], words)
    return facts


def _times(lesson: Lesson, spot: Spot) -> int:
    """How many strokes the repetition has, from the spot on."""
    row = strokes(lesson, _hand(spot), spot.onset, lesson.draft.end)
    count = 0
    for stroke in row:
        alike = len(stroke.keys) > 1 if spot.kind == "octaves" else stroke.keys == row[0].keys
        if not alike:
            break
        count += 1
    return count


def _crossed(lesson: Lesson, spot: Spot) -> dict[str, object]:
    """The right hand's lowest key and the left hand's highest where the hands cross."""
    right, left = ([note.pitch for note in sounding(lesson.hand(hand), spot.onset, spot.onset + 1)] for hand in HANDS)
    if not right or not left:
        return {}
    low, high = min(right, key=lambda pitch: pitch.midi), max(left, key=lambda pitch: pitch.midi)
    return {"low": placed(low, lesson.words), "high": placed(high, lesson.words)}


def _against(lesson: Lesson, spot: Spot) -> dict[str, object]:
    """The first beat of the bar that the hands divide differently: in which order they strike."""
    bar = lesson.draft.bars[spot.bar]
    beat = bar.meter.beat_ticks(lesson.draft.resolution)
    for start in range(bar.start, bar.end, beat):
        right, left = ({stroke.onset for stroke in strokes(lesson, hand, start, start + beat)} for hand in HANDS)
        a, b = right - {start}, left - {start}
        if a and b and not a <= b and not b <= a:
            order = [lesson.words.say(f"spoken.{_SPOKEN[onset in right, onset in left]}") for onset in sorted(right | left)]
            return {"order": ", ".join(order)}
    return {}


def _busiest(lesson: Lesson) -> list[Block]:
    """The heaviest bar of a piece without hard spots."""
    say = lesson.words.say
    load = max(lesson.report.load, key=lambda bar: (bar.total, -bar.bar), default=None)
    if load is None or not load.total:
        return [Text(text=say("spots.none"))]
    place = lesson.bars_named(load.bar, load.bar)
    return [
        Text(text=f"{say('spots.none')} {say('spots.busiest', place=place, parts=heavy_parts(lesson, load))}"),
        Music(sheet=lesson.draft, first=max(0, load.bar - 1), last=load.bar, size=SIZE),
        Items(items=tuple(say(f"spot.dense.practise-{k}") for k in TIPS), mark="box"),
    ]


def heavy_parts(lesson: Lesson, load: BarLoad) -> str:
    """What asks most in a bar, three things at most."""
    heavy = sorted((part for part in load.parts if part[1] > 0), key=lambda part: -part[1])[:3]
    return lesson.words.several([lesson.words.say(f"load.{name.replace(' ', '-')}") for name, _ in heavy])


def _from(lesson: Lesson, spot: Spot) -> int:
    """The bar from which the spot is shown: that of the stroke before, if it is the bar before."""
    before = _strokes_before(lesson, spot, 1)
    return max(spot.bar - 1, min(spot.bar, lesson.bar_at(before[-1].onset))) if before else spot.bar


def _places(lesson: Lesson, spot: Spot) -> list[tuple[Stroke, ...]]:
    """The places of the hand around a move."""
    if spot.kind not in _MOVES or spot.hand == "both":
        return []
    return places(lesson, _near(lesson, spot))


def _near(lesson: Lesson, spot: Spot) -> list[Stroke]:
    """Four strokes up to a spot, and two after it in its bar."""
    after = strokes(lesson, _hand(spot), spot.onset + 1, lesson.draft.bars[spot.bar].end)[:2]
    return [*strokes(lesson, _hand(spot), 0, spot.onset + 1)[-4:], *after]


def _strokes_before(lesson: Lesson, spot: Spot, count: int) -> list[Stroke]:
    return strokes(lesson, spot.hand, 0, spot.onset)[-count:] if spot.hand != "both" else []


def _held(lesson: Lesson, spot: Spot) -> bool:
    """Whether the other hand holds the shared key already."""
    key = _contested(lesson, spot, _notes(lesson, spot)).midi
    return any(note.midi == key and note.onset < spot.onset < note.end for note in lesson.hand(_other(spot)))


def _contested(lesson: Lesson, spot: Spot, notes: Sequence[DraftNote]) -> DraftNote:
    """Which of the notes is the key that the other hand has too, or had last."""
    left = {note.midi: note.end for note in lesson.hand(_other(spot)) if note.onset <= spot.onset}
    return max(notes, key=lambda note: left.get(note.midi, -1))


def _notes(lesson: Lesson, spot: Spot) -> list[DraftNote]:
    wanted = set(spot.notes)
    return sorted((note for note in lesson.draft.notes if note.id in wanted), key=lambda note: note.midi)


def _hand(spot: Spot) -> Hand:
    return "left" if spot.hand == "left" else "right"


def _other(spot: Spot) -> Hand:
    return "left" if spot.hand == "right" else "right"
