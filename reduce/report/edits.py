"""An edit made elsewhere comes back: a changed copy of a draft as entries of the arranger's choices file."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from fractions import Fraction

from reduce.model.choice import Action, Choice
from reduce.model.draft import Draft, DraftNote, Hand
from reduce.model.errors import UsageError
from reduce.model.pitch import Pitch
from reduce.model.record import dataclass, replace

_SIGNS = {0: "", 1: "#", -1: "b", 2: "##", -2: "bb"}
_WIDEST = 24  # semitones within which a note that is gone and one that is new at its moment count as one that was moved


@dataclass(frozen=True, slots=True)
class Edits:
    """What was edited: ``choices`` in the order of the score, and, in words, what a choices file cannot hold."""

    choices: tuple[Choice, ...]
    left_behind: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Place:
    """A moment of the draft: the index of its bar and quarters from the bar line."""

    bar: int
    beat: Fraction


@dataclass(frozen=True, slots=True)
class _Note:
    place: _Place
    hand: Hand
    midi: int
    length: Fraction
    pitch: Pitch


def edits(before: Draft, after: Draft, *, level: str = "", reason: str = "", first: int = 1) -> Edits:
    """What changed from a draft to its edited copy, note by note.

    A note at the same moment that is now longer, in the other hand or (the nearest one) on another key is a change; what is left over
    was taken away or added.  Slurs are compared by where they begin and end.  Ids, voices and resolution may be anybody's.

    Args:
        before, after: the draft and its copy.
        level: the level the choices hold for; '' = all.
        reason: entered with each choice.
        first: number of the first new entry in the choices file.

    Raises:
        UsageError: where the copy has other bars.
    """
    _same_bars(before, after)
    numbers = [bar.number for bar in before.bars]
    found: list[tuple[_Place, Choice]] = [*_changed_notes(before, after, numbers), *_changed_slurs(before, after, numbers)]
    nameless = {place.bar for place, _ in found if numbers.index(numbers[place.bar]) != place.bar}
    found = sorted((item for item in found if item[0].bar not in nameless), key=lambda item: (item[0].bar, item[0].beat))
    levels = (level,) if level else ()
    choices = tuple(replace(choice, place=first + k, levels=levels, reason=reason) for k, (_, choice) in enumerate(found))
    left = [f"Bar {numbers[bar]}: its number is printed twice, and a choice would mean the other bar." for bar in sorted(nameless)]
    return Edits(choices, (*left, *_left_behind(before, after)))


def _same_bars(before: Draft, after: Draft) -> None:
    if len(before.bars) != len(after.bars):
        raise UsageError(
            f"The edited copy has {len(after.bars)} bars and the draft {len(before.bars)}: edit notes and slurs in the copy, and choose "
            "bars with --bars or a cut in choices.toml."
        )
    for old, new in zip(before.bars, after.bars, strict=True):
        if Fraction(old.length, before.resolution) != Fraction(new.length, after.resolution):
            raise UsageError(f"Bar {old.number} has another length in the edited copy: keep the metre of the draft.")


def _places(draft: Draft) -> Iterator[tuple[DraftNote, _Place]]:
    place = 0
    for note in sorted(draft.notes, key=lambda n: n.onset):
        while place + 1 < len(draft.bars) and draft.bars[place + 1].start <= note.onset:
            place += 1
        yield note, _Place(place, Fraction(note.onset - draft.bars[place].start, draft.resolution))


def _notes(draft: Draft) -> Counter[_Note]:
    return Counter(
        _Note(place, note.hand, note.midi, Fraction(note.duration, draft.resolution), note.pitch)
        for note, place in _places(draft)
        if not note.grace
    )


def _changed_notes(before: Draft, after: Draft, numbers: Sequence[str]) -> list[tuple[_Place, Choice]]:
    old, new = _notes(before), _notes(after)
    gone, fresh = list((old - new).elements()), list((new - old).elements())
    found: list[tuple[_Place, Choice]] = []

    def pair(alike: Callable[[_Note, _Note], bool], to: Callable[[_Note], str]) -> None:
        """Takes the pairs that agree by ``alike`` from both lists; ``to`` names what the old note becomes."""
        for was in list(gone):
            candidates = [now for now in fresh if now.place == was.place and alike(was, now)]
            if candidates:
                now = min(candidates, key=lambda one: (abs(one.midi - was.midi), one.midi))
                gone.remove(was)
                fresh.remove(now)
                longer = now.length if now.length != was.length else None
                found.append((was.place, _entry("change", was, numbers, to=to(now), length=longer)))

    pair(lambda was, now: (now.hand, now.midi) == (was.hand, was.midi), lambda now: plain_pitch(now.pitch))
    pair(lambda was, now: now.hand != was.hand and now.midi == was.midi, lambda now: now.hand)
    pair(
        lambda was, now: now.hand == was.hand and abs(now.midi - was.midi) <= _WIDEST,
        lambda now: plain_pitch(now.pitch),
    )
    found += [(was.place, _entry("remove", was, numbers)) for was in gone]
    found += [(now.place, _entry("add", now, numbers, length=now.length)) for now in fresh]
    return found


def _entry(action: Action, note: _Note, numbers: Sequence[str], to: str = "", length: Fraction | None = None) -> Choice:
    return Choice(
        place=0, action=action, value=plain_pitch(note.pitch), bars=numbers[note.place.bar], hand=note.hand,
        beat=note.place.beat, to=to, length=length,
    )  # fmt: skip


def plain_pitch(pitch: Pitch) -> str:
    """A pitch as the choices file writes it: 'F#4', 'Bb3'."""
    return f"{pitch.step}{_SIGNS.get(pitch.alter, '')}{pitch.octave}"


def _changed_slurs(before: Draft, after: Draft, numbers: Sequence[str]) -> list[tuple[_Place, Choice]]:
    old, new = _slurs(before), _slurs(after)
    found = []
    for place, hand, _ in sorted(old - new, key=lambda slur: (slur[0].bar, slur[0].beat)):
        found.append((place, Choice(place=0, action="no-slur", bars=numbers[place.bar], hand=hand, beat=place.beat)))
    for place, hand, length in sorted(new - old, key=lambda slur: (slur[0].bar, slur[0].beat)):
        slur = Choice(place=0, action="slur", value="yes", bars=numbers[place.bar], hand=hand, beat=place.beat, length=length)
        found.append((place, slur))
    return found


def _slurs(draft: Draft) -> set[tuple[_Place, Hand, Fraction]]:
    """Slurs by their first note's moment, their hand, and the quarters from there to their last note."""
    where = {note.id: (note, place) for note, place in _places(draft)}
    found = set()
    for mark in draft.marks:
        if mark.kind == "slur" and len(mark.notes) >= 2 and mark.notes[0] in where and mark.notes[-1] in where:
            (first, place), (last, _) = where[mark.notes[0]], where[mark.notes[-1]]
            found.add((place, first.hand, Fraction(last.onset - first.onset, draft.resolution)))
    return found


def _left_behind(before: Draft, after: Draft) -> list[str]:
    """Changes that no entry of a choices file can say, bar by bar."""
    kinds: tuple[tuple[str, Counter[_Sign], Counter[_Sign]], ...] = (
        ("grace notes", _graces(before), _graces(after)),
        ("fingers, articulations or ornaments", _signs(before, after), _signs(after, before)),
        ("dynamics, pedal or words", _marks(before), _marks(after)),
    )
    told = []
    for what, old, new in kinds:
        bars = sorted({sign[0].bar for sign in (old - new) + (new - old)})
        if bars:
            names = ", ".join(before.bars[bar].number for bar in bars[:8]) + (f" and {len(bars) - 8} more" if len(bars) > 8 else "")
            told.append(
                f"Bar{'s' if len(bars) > 1 else ''} {names}: changed {what}; choices do not hold them, so they stay in your copy only."
            )
    return told


_Sign = tuple[_Place, str, int, str]


def _graces(draft: Draft) -> Counter[_Sign]:
    return Counter((place, note.hand, note.midi, "") for note, place in _places(draft) if note.grace)


def _signs(draft: Draft, other: Draft) -> Counter[_Sign]:
    """Signs of the notes that both drafts have; a note that is new brings its own."""
    known = {(place, note.hand, note.midi) for note, place in _places(other)}
    return Counter(
        (place, note.hand, note.midi, sign)
        for note, place in _places(draft)
        if (place, note.hand, note.midi) in known
        for sign in (*((note.finger,) if note.finger else ()), *note.articulations, *note.ornaments)
    )


def _marks(draft: Draft) -> Counter[_Sign]:
    starts = [bar.start for bar in draft.bars]
    found: Counter[_Sign] = Counter()
    for mark in draft.marks:
        if mark.kind not in ("slur", "instrument") and starts:
            bar = max((k for k, start in enumerate(starts) if start <= mark.onset), default=0)
            found[_Place(bar, Fraction(mark.onset - starts[bar], draft.resolution)), mark.kind, 0, mark.text] += 1
    return found
