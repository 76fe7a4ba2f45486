"""Fingers for a whole draft, and which of them a level prints."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from reduce.hands.clock import Clock
from reduce.hands.fingering import FREE, JOINED, LIFTED, phrase
from reduce.hands.habits import ARPEGGIO, NONE, Prices, prices
from reduce.hands.keyboard import BLACK
from reduce.hands.touch import HANDS, Touch, touches
from reduce.model.draft import Draft, Hand
from reduce.model.level import Level
from reduce.model.record import dataclass

_FREES = 0.5  # seconds of rest after which the hand may start anew
_WHITE_BELOW = (0, 0, 1, 1, 2, 3, 3, 4, 4, 5, 5, 6)
_ROUNDS = 3
_AGAIN = 2  # bars within which the same fingers in the same place are not printed again
# Chords whose fingers need no telling, by number of keys, thumb first.
_PLAIN: dict[int, set[tuple[int, ...]]] = {3: {(1, 3, 5), (1, 2, 5)}, 4: {(1, 2, 3, 5), (1, 2, 4, 5)}}
_USUAL: dict[int, set[tuple[int, ...]]] = {
    3: {(1, 3, 5), (1, 2, 5), (1, 2, 4), (1, 2, 3), (1, 4, 5)},
    4: {(1, 2, 3, 5), (1, 2, 4, 5), (1, 2, 3, 4), (1, 3, 4, 5)},
}


Place = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Fingered:
    """A touch with its fingers, lowest key first (0 where a key has none)."""

    touch: Touch
    fingers: tuple[int, ...]
    starts: bool  # first of its phrase
    known: bool  # inside a scale or broken chord whose fingers every pianist knows


def played(draft: Draft, span_mm: float) -> dict[Hand, tuple[Fingered, ...]]:
    """Every touch of both hands with the fingers that take it, for a hand of ``span_mm``.

    Equal phrases get equal fingers wherever they stand.
    """
    clock = Clock(draft.tempos, draft.resolution)
    return fingers_of(touches(draft, clock), draft, span_mm)


def fingers_of(lines: dict[Hand, tuple[Touch, ...]], draft: Draft, span_mm: float) -> dict[Hand, tuple[Fingered, ...]]:
    """The same for touches that are at hand already."""
    out: dict[Hand, tuple[Fingered, ...]] = {}
    for hand in HANDS:
        places = _parallels(lines[hand], draft)
        memory: dict[Place, tuple[int, ...]] = {}
        found: list[Fingered] = []
        for part in _phrases(lines[hand]):
            key = draft.bars[part[0].bar].key if draft.bars else None
            habits = _habits(part, hand, key.fifths if key else 0, bool(key and key.mode == "minor"))
            own = [places[id(t)] for t in part]
            steps = _steps(part, habits)
            chosen = phrase(tuple([(*step, memory.get(place, ())) for step, place in zip(steps, own, strict=True)]), span_mm, hand)
            for _ in range(_ROUNDS):  # bars that come twice in one phrase have to agree among themselves
                common = _commonest(own, chosen) | {place: memory[place] for place in own if place in memory}
                if all(common[place] == fingers for place, fingers in zip(own, chosen, strict=True)):
                    break
                chosen = phrase(tuple([(*step, common[place]) for step, place in zip(steps, own, strict=True)]), span_mm, hand)
            for place, fingers in zip(own, chosen, strict=True):
                memory.setdefault(place, fingers)
            found.extend(
                Fingered(t, f, i == 0, max(habit) >= ARPEGGIO) for i, (t, f, habit) in enumerate(zip(part, chosen, habits, strict=True))
            )
        out[hand] = tuple(found)
    return out


def _commonest(places: Sequence[Place], chosen: Sequence[tuple[int, ...]]) -> dict[Place, tuple[int, ...]]:
    """The fingers that parallel places take most often, the earlier of equals."""
    votes: dict[Place, dict[tuple[int, ...], int]] = {}
    for place, fingers in zip(places, chosen, strict=True):
        counts = votes.setdefault(place, {})
        counts[fingers] = counts.get(fingers, 0) + 1
    return {place: max(counts, key=lambda fingers: counts[fingers]) for place, counts in votes.items()}


def _steps(part: Sequence[Touch], habits: Sequence[Prices]) -> list[tuple[tuple[int, ...], tuple[int, ...], int, Prices]]:
    """A phrase as the fingering takes it, in the lowest octave, without the fingers of parallel places."""
    base = 12 * (min(min(t.down) for t in part) // 12)
    return [
        (
            tuple([k - base for k in t.keys]),
            tuple([k - base for k in t.held]),
            FREE if t.rest > 0.25 or t.next_in == float("inf") else JOINED if t.joined else LIFTED,
            habit,
        )
        for t, habit in zip(part, habits, strict=True)
    ]


def _parallels(line: Sequence[Touch], draft: Draft) -> dict[int, Place]:
    """For each touch (by identity) what makes its place parallel to another: what the hand does in the bar, by number, and where in it."""
    in_bar: dict[int, list[Touch]] = {}
    for touch in line:
        in_bar.setdefault(touch.bar, []).append(touch)
    numbers: dict[tuple[object, ...], int] = {}
    places: dict[int, Place] = {}
    for bar, row in in_bar.items():
        start = draft.bars[bar].start if draft.bars else 0
        content = tuple((t.onset - start, t.end - t.onset, t.keys, t.held) for t in row)
        number = numbers.setdefault(content, len(numbers))
        for i, touch in enumerate(row):
            places[id(touch)] = (number, i)
    return places


def fingering(draft: Draft, span_mm: float) -> dict[str, int]:
    """The finger of every note of the draft by its id."""
    return {
        note.id: finger
        for line in played(draft, span_mm).values()
        for one in line
        for note, finger in zip(one.touch.notes, one.fingers, strict=True)
        if finger
    }


def fingered(draft: Draft, level: Level) -> dict[str, str]:
    """The fingers to print, by note id, as sparse as the level asks for.

    ``first-and-moves``: the first note of each hand and wherever its position changes; ``crossovers``: both notes of each
    crossing too; ``shifts``: moves by two keys and more, crossings, chords; ``non-obvious``: crossings outside scales, wide moves,
    unusual chords, thumbs on black keys; ``rare``: only what a good reader would not find.
    """
    lines = played(draft, level.hand_span)
    return {
        note.id: str(finger)
        for hand in HANDS
        for one in _printed(lines[hand], hand, level.fingering)
        for note, finger in zip(one.touch.notes, one.fingers, strict=True)
        if finger
    }


def _phrases(line: Sequence[Touch]) -> Iterator[list[Touch]]:
    """Stretches between rests that free the hand, or the end of a slur with a lift or a long note."""
    part: list[Touch] = []
    for touch in line:
        part.append(touch)
        if touch.rest >= _FREES or (touch.breath and (touch.rest > 0 or touch.next_in >= 2 * _FREES)):
            yield part
            part = []
    if part:
        yield part


def _habits(part: Sequence[Touch], hand: Hand, fifths: int, minor: bool) -> list[Prices]:
    """Habits for the single lines of a phrase; chords and held notes have none."""
    habits: list[Prices] = [NONE] * len(part)
    start = 0
    for i in range(len(part) + 1):
        if i < len(part) and len(part[i].keys) == 1 and not part[i].held:
            continue
        if i - start >= 4:
            habits[start:i] = prices(tuple(t.keys[0] for t in part[start:i]), hand, fifths, minor)
        start = i + 1
    return habits


def _position(one: Fingered, hand: Hand) -> float:
    """Where the hand lies: the white-key place under thumb (right) or little finger (left) if the fingers lay side by side."""
    places = [
        7 * (k // 12) + _WHITE_BELOW[k % 12] - (f - 1 if hand == "right" else 5 - f)
        for k, f in zip(one.touch.keys, one.fingers, strict=True)
        if f
    ]
    return sum(places) / len(places) if places else 0.0


def _printed(line: Sequence[Fingered], hand: Hand, density: str) -> Iterator[Fingered]:
    before: Fingered | None = None
    place = 0.0
    shown: dict[tuple[tuple[int, ...], tuple[int, ...]], int] = {}
    shape: tuple[int, ...] = ()
    due = False
    for one, after in zip(line, (*line[1:], None)[: len(line)], strict=True):
        count = len(one.touch.keys)
        fingers = tuple(sorted(one.fingers))
        here = _position(one, hand)
        moved = abs(here - place) if before else 99.0
        crossing = before is not None and not one.starts and crosses(before, one, hand)
        thumb = any(f == 1 and BLACK[k] for f, k in zip(one.fingers, one.touch.keys, strict=True))
        run = one.known and (before is None or not before.known)
        wish = {
            "first-and-moves": moved >= 1,
            "crossovers": moved >= 1.5 or crossing or due,
            "shifts": moved >= 2 or (crossing and not one.known) or (count > 2 and fingers != shape) or run,
            "non-obvious": (
                (crossing and not one.known)
                or (moved >= 4 and not one.starts and one.touch.rest == 0 and count < 3)
                or (
                    count in _PLAIN
                    and fingers not in _PLAIN[count]
                    and fingers != shape
                    and (fingers not in _USUAL[count] or _onward(one, after, hand))
                )
                or (run and fingers != (1,))
            ),
            "rare": before is not None
            and ((crossing and thumb and not one.known) or (count in _USUAL and fingers not in _USUAL[count] and fingers != shape)),
        }[density]
        due = crossing
        shape = fingers if count > 2 else shape
        if density in ("first-and-moves", "crossovers", "shifts") and before is None:
            wish = True
        mark = (one.touch.keys, one.fingers)
        if wish and not one.touch.grace:
            if shown.get(mark, -99) + _AGAIN < one.touch.bar or density == "first-and-moves":
                yield one
            shown[mark] = one.touch.bar
        before, place = one, here


def _onward(one: Fingered, after: Fingered | None, hand: Hand) -> bool:
    """Whether the line goes on outward from a chord without a lift, so that the finger beside the outermost one has to be kept free."""
    if after is None or not one.touch.joined:
        return False
    return after.touch.keys[-1] > one.touch.keys[-1] if hand == "right" else after.touch.keys[0] < one.touch.keys[0]


def crosses(a: Fingered, b: Fingered, hand: Hand) -> bool:
    """Whether the thumb goes under, or a finger over it, between two single notes."""
    if len(a.touch.keys) != 1 or len(b.touch.keys) != 1 or a.touch.keys == b.touch.keys:
        return False
    f, g = a.fingers[0], b.fingers[0]
    up = (b.touch.keys[0] > a.touch.keys[0]) == (hand == "right")
    return 1 in (f, g) and f != g and (f > g) == up
