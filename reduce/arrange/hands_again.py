"""Bars that sound the same and sing the same tune have the same keys in both hands: the last look over what was chosen bar by bar."""

from __future__ import annotations

from bisect import bisect_right
from collections import Counter
from collections.abc import Callable, Sequence

from reduce.arrange.desk import Desk
from reduce.arrange.line import Tone
from reduce.arrange.same_again import heard_again, sung_by
from reduce.arrange.sounding import Sound
from reduce.arrange.strands import Key
from reduce.model.record import dataclass, replace

Legal = Callable[[Sequence[Key]], bool]
_Shape = frozenset[tuple[int, int, int, str, bool]]


@dataclass(frozen=True, slots=True)
class Model:
    """The bar ``first`` (position), ``up`` semitones lower, is what another one was played like."""

    first: int
    up: int


def hands_again(keys: Sequence[Key], desk: Desk, hers: Sequence[tuple[int, int]], legal: Legal) -> tuple[tuple[Key, ...], dict[int, Model]]:
    """The keys with those of bars that sound the same brought into one form, and by bar (position) the one that it was played like.

    Of the forms that such bars have, the one that serves most of them is taken, of these the one that most have, the fullest, the
    earliest; for one that is only found in other keys a bar gives up doublings and nothing else.  A bar whose own notes are held over its
    bar lines otherwise, or in which the form breaks a limit (``legal``), stays as it is, and so do bars whose tune is another one or lies
    in the other hand, and those in which the arranger chose something (``hers``, in ticks).
    """
    heard = heard_again(desk)
    if not heard:
        return tuple(keys), {}
    table = _Table(keys, desk)
    groups: dict[int, list[tuple[int, int]]] = {}
    for place, (first, up) in heard.items():
        groups.setdefault(first, [(first, 0)]).append((place, up))
    played: dict[int, Model] = {}
    for members in groups.values():
        alike: dict[object, list[tuple[int, int]]] = {}
        for place, up in members:
            if any(start < desk.bars[place].end and desk.bars[place].start < end for start, end in hers):
                continue
            alike.setdefault((table.shape(place, up, sung=True), desk.eased(desk.bars[place].start)), []).append((place, up))
        for same in alike.values():
            played.update(_agreed(same, table, legal))
    return table.keys(), played


def _agreed(places: Sequence[tuple[int, int]], table: _Table, legal: Legal) -> dict[int, Model]:
    """Bring bars of one sound and one tune into the form that serves most of them."""
    shapes = [table.shape(place, up) for place, up in places]
    count = Counter(shapes)
    if len(count) < 2:
        return {}
    best: dict[int, tuple[Key, ...]] = {}
    chosen: tuple[int, int] | None = None
    ranked = sorted(count, key=lambda shape: (-count[shape], -len(shape), shapes.index(shape)))
    for shape in ranked:
        model, low = places[shapes.index(shape)]
        heights = {up for (_, up), own in zip(places, shapes, strict=True) if own == shape}
        found: dict[int, tuple[Key, ...]] = {}
        for (place, up), own in zip(places, shapes, strict=True):
            row = table.moved(model, place, up - low) if own != shape and (up in heights or not _names(own) - _names(shape)) else None
            if row is not None and legal(row):
                found[place] = row
        if chosen is None or len(found) + count[shape] > len(best) + count[ranked[0]]:
            best, chosen = found, (model, low)
        if len(found) + count[shape] == len(places):
            break
    if chosen is None:
        return {}
    for place, row in best.items():
        table.put(place, row)
    ups = dict(places)
    return {place: Model(chosen[0], ups[place] - chosen[1]) for place in best}


class _Table:
    """The keys by bar, and the source's notes by moment."""

    def __init__(self, keys: Sequence[Key], desk: Desk) -> None:
        self._desk = desk
        self._starts = [bar.start for bar in desk.bars]
        self._struck: list[list[Key]] = [[] for _ in desk.bars]
        self._held: list[list[Key]] = [[] for _ in desk.bars]  # from earlier bars
        for key in keys:
            self._put(key)
        self._found: dict[int, list[Sound]] | None = None

    def keys(self) -> tuple[Key, ...]:
        """All keys in order."""
        return tuple(sorted((key for row in self._struck for key in row), key=lambda k: (k.onset, k.hand, k.strand, k.midi)))

    def shape(self, place: int, up: int, *, sung: bool = False) -> _Shape:
        """What sounds in a bar and in which hand, counted from its beginning, ``up`` semitones lower; with ``sung`` the tune alone."""
        bar = self._desk.bars[place]
        return frozenset(
            (max(key.onset, bar.start) - bar.start, min(key.end, bar.end) - bar.start, key.midi - up, key.hand, _is_tune(key))
            for key in (*self._held[place], *self._struck[place])
            if _is_tune(key) or not sung
        )

    def moved(self, model: int, place: int, up: int) -> tuple[Key, ...] | None:
        """What a bar would sound with the keys of its model, those held into it included; None where its own ties forbid it."""
        bar, old = self._desk.bars[place], self._desk.bars[model]
        away = bar.start - old.start
        held = {(key.hand, key.midi): key for key in self._held[place]}
        own = {(key.onset, key.midi): key for key in self._struck[place] if key.outer}
        on = {(key.hand, key.midi): key for key in (*self._held[place], *self._struck[place]) if key.end > bar.end}
        row: list[Key] = []
        for key in (*self._held[model], *self._struck[model]):
            onset, end, midi = max(key.onset, old.start) + away, min(key.end, old.end) + away, key.midi + up
            after = on.pop((key.hand, midi), None) if end == bar.end else None
            end = end if after is None else after.end
            tied = held.pop((key.hand, midi), None) if onset == bar.start else None
            if tied is not None and tied.outer == key.outer:
                row.append(replace(tied, end=end))
                continue
            if tied is not None or (key.onset < old.start and not self._strikes(onset, midi)):
                return None
            new = self._new(key, own.get((onset, midi)), onset, end, midi, up)
            if new is None:
                return None
            row.append(new)
        if on or any(key.outer for key in held.values()):
            return None
        row += [replace(key, end=bar.start) for key in held.values()]
        return tuple(sorted(_stranded(row), key=lambda k: (k.onset, k.hand, k.strand, k.midi)))

    def put(self, place: int, row: Sequence[Key]) -> None:
        """Put such a row in the place of what sounded in the bar."""
        old = (*self._held[place], *self._struck[place])
        gone = {id(key) for key in old}
        bar = self._desk.bars[place]
        first, last = (
            max(0, bisect_right(self._starts, tick) - 1)
            for tick in (min((k.onset for k in old), default=bar.start), max((k.end for k in old), default=bar.start))
        )
        for rows in (self._struck, self._held):
            for there in range(first, last + 1):
                rows[there] = [key for key in rows[there] if id(key) not in gone]
        for key in row:
            self._put(key)

    def _put(self, key: Key) -> None:
        place = max(0, bisect_right(self._starts, key.onset) - 1)
        self._struck[place].append(key)
        place += 1
        while place < len(self._starts) and self._starts[place] < key.end:
            self._held[place].append(key)
            place += 1

    def _new(self, key: Key, own: Key | None, onset: int, end: int, midi: int, up: int) -> Key | None:
        """The model's key struck in another bar: an outer one with the notes of that bar, the tune's own notes as they are."""
        if key.outer and own is not None:
            return replace(own, strand=key.strand, end=end)
        if key.tone is None and not _is_tune(key):
            return replace(key, onset=onset, end=end, midi=midi, pitch=None)
        tone = None if _is_tune(key) or key.tone is None else self._sung(key.tone, onset, end, up)
        return None if tone is None else replace(key, onset=onset, end=end, midi=midi, tone=tone, pitch=tone.pitch)

    def _sung(self, tone: Tone, onset: int, end: int, up: int) -> Tone | None:
        found = sung_by(tone, onset - tone.onset, up, {onset: self._sounds.get(onset, [])}, self._desk)
        return None if found is None else replace(found, end=end)

    def _strikes(self, onset: int, midi: int) -> bool:
        return any((sound.midi - midi) % 12 == 0 for sound in self._sounds.get(onset, ()))

    @property
    def _sounds(self) -> dict[int, list[Sound]]:
        if self._found is None:
            self._found = {}
            for sound in self._desk.sounds:
                self._found.setdefault(sound.onset, []).append(sound)
        return self._found


def _names(shape: _Shape) -> set[tuple[int, int]]:
    """The notes of a form by moment and name, whatever their octave."""
    return {(onset, key % 12) for onset, _, key, _, _ in shape}


def _stranded(row: Sequence[Key]) -> list[Key]:
    """The keys with inner ones in the outer line's strand where both have one onset and end or no outer key sounds, else in the second."""
    lines = {hand: [key for key in row if key.outer and key.hand == hand] for hand in ("left", "right")}
    out: list[Key] = []
    for key in row:
        with_it = [line for line in lines[key.hand] if line.onset < key.end and key.onset < line.end]
        one = all((line.onset, line.end) == (key.onset, key.end) for line in with_it)
        out.append(key if key.outer else replace(key, strand=1 if one else 2))
    return out


def _is_tune(key: Key) -> bool:
    return key.outer and (key.sung or key.hand == "right")

