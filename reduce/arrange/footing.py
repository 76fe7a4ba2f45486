"""What the left hand's figures stand on: the keys that each harmony may have lowest, how wide a chord may lie, what is heard of it."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from reduce.arrange.chord_sizes import within
from reduce.arrange.complete import lacking
from reduce.arrange.desk import Desk, balance_of, taste_of
from reduce.arrange.easing import LEAST_CHORD
from reduce.arrange.figured import Seat, few_black
from reduce.arrange.figures import Strike
from reduce.arrange.line import bar_at
from reduce.model.record import dataclass, replace
from reduce.model.texture import Chord

_BASS_STAFF = 57  # A3, the top line of the bass staff: from ledger line to ledger line it is three or four keys


class Heard:
    """What the orchestra sounds of the harmonies."""

    def __init__(self, desk: Desk) -> None:
        self._desk, self._balance = desk, balance_of(desk.rules)
        self._least = desk.rules.number("accompaniment.from-the-orchestra.share")

    def sounds(self, chord: Chord, pc: int) -> bool:
        """Whether a pitch class sounds for long enough of a harmony."""
        return chord.chosen or not self._least or self._desk.heard.share(pc, chord.start, chord.end) >= self._least

    def struck(self, pc: int, start: int, end: int) -> bool:
        """Whether it sounds in an inner voice between two ticks."""
        return not self._least or self._desk.heard_inside.share(pc, start, end) > 0

    def near(self, pc: int, onset: int) -> bool:
        """Whether it sounds anywhere in the bar of a tick."""
        bar = bar_at(self._desk.bars, onset)
        return not self._least or self._desk.heard.share(pc, bar.start, bar.end) > 0

    def worth(self, chord: Chord, pc: int) -> float:
        """How much the harmony needs it; nothing where it is not heard."""
        return self._balance.place(chord, pc) if self.sounds(chord, pc) else 0.0


def seat_of(desk: Desk) -> Seat:
    """Where the left hand of the level sits."""
    level, rules = desk.rules.level, desk.rules
    return Seat(
        lowest=max(level.lowest, rules.whole("placement.figure-bass.lowest")),
        highest=rules.whole("placement.figure-bass.highest"),
        home=int(rules.numbers("placement.figure-bass.home")[level.order - 1]),
        away=rules.number("placement.figure-bass.away"),
        step=rules.number("placement.figure-bass.step"),
        leap=rules.number("placement.figure-bass.leap"),
        other=rules.number("placement.figure-bass.other"),
        position=rules.numbers("placement.figure-bass.position")[level.order - 1],
        span=level.hand_span,
        top=_BASS_STAFF + 7 * level.ledger_max // 2,
    )


@dataclass(frozen=True, kw_only=True)
class Footing:
    """The harmonies (by index) that the left hand plays, ``used``, and what it may stand on in each.

    ``lowest``: the pitch classes, the best first, where they need not be the bass; ``spans``: semitones that it may take; ``prices``: of
    each note that finds no place above the lowest key; ``close``: those in close position; ``onsets``: when they are struck.
    """

    desk: Desk
    heard: Heard
    chords: Sequence[Chord]
    used: Sequence[int]
    lowest: dict[int, tuple[int, ...]]
    spans: dict[int, int]
    prices: dict[int, float]
    close: Collection[int]
    onsets: dict[int, list[int]]

    def lacks(self, index: int, key: int, roof: int) -> float:
        """The price of what finds no place above a key and under a roof."""
        if index not in self.prices:
            return 0.0
        chord, rules = self.chords[index], self.desk.rules
        above = [pc for pc in chord.tones if pc != key % 12 and self.heard.worth(chord, pc) > 0]
        reach = within(rules) if index in self.close else rules.level.span_left
        return self.prices[index] * lacking(key, above, roof, reach, taste_of(rules).never)

    def second(self, index: int, pc: int, low: int) -> bool:
        """Whether a chord of two keys may have a pitch class above its lowest key: it is heard wherever the chord is struck."""
        level = self.desk.rules.level
        if level.at_limit_per_bar <= 1:  # there a key less is a thing less at its limit
            return True
        black = len(few_black((low, low + (pc - low) % 12), level.black_in_chord)) < 2
        return not black and all(self.heard.near(pc, onset) for onset in self.onsets[index])


def footing_of(desk: Desk, heard: Heard, seat: Seat, strikes: Sequence[Strike], chords: Sequence[Chord]) -> Footing:
    """What the left hand may stand on in each harmony that it strikes."""
    level, rules = desk.rules.level, desk.rules
    mine = [strike for strike in strikes if strike.hand == "left"]
    onsets: dict[int, list[int]] = {}
    for strike in mine:
        onsets.setdefault(strike.chord, []).append(strike.onset)
    used = sorted(onsets)
    eased = {strike.chord for strike in mine if desk.eased(strike.onset) >= 4}
    slim = {strike.chord for strike in mine if desk.slim.get(desk.place(strike.onset))}
    firm = {*used[:1], *used[-2:]}  # the piece begins and closes on roots, whatever lies nearer to the hand
    over = {strike.chord: strike.end for strike in strikes if strike.chord in eased}  # one key for all harmonies of a bar
    unheard = [index for index in used if not heard.sounds(chords[index], chords[index].bass)]
    lowest: dict[int, tuple[int, ...]] = {index: (_ground(chords[index], heard),) for index in unheard}
    for index in used if seat.position else eased:
        later = [chord for chord in chords[index + 1 : index + 5] if chord.start < over.get(index, 0)]
        lowest[index] = _plain_grounds(desk, chords[index], later, firm=index in firm)
    for index in slim - lowest.keys():
        lowest[index] = (chords[index].bass if chords[index].bass in chords[index].tones else chords[index].root,)  # on the staff
    whole = {strike.chord for strike in mine if strike.kind == "chord" and strike.size > 1 and desk.slim.get(desk.place(strike.onset))}
    close = whole - firm
    for index in close:  # the seventh in its place above a third rather than far above a root
        chord = chords[index]
        there = [pc for pc in chord.tones if heard.sounds(chord, pc) and all(heard.near(pc, onset) for onset in onsets[index])]
        lowest[index] = _inversions(chord, there) or (_ground(chord, heard),)
    price = rules.numbers("placement.figure-bass.lacking")[level.order - 1]
    prices = {strike.chord: price for strike in mine if strike.kind.startswith("broken-") and price}
    prices |= dict.fromkeys(close, rules.number("easing.chords.lacking"))
    narrow = slim
    if level.at_limit_per_bar <= 1:  # an eased bar keeps away from the widest chord, which would be at the limit by itself
        narrow = slim | {strike.chord for strike in mine if desk.eased(strike.onset)}
    spans = {index: within(rules) if index in narrow else level.span_left for index in used}
    return Footing(
        desk=desk, heard=heard, chords=chords, used=used, lowest=lowest, spans=spans, prices=prices, close=close, onsets=onsets
    )  # fmt: skip


def without_signs(desk: Desk, strikes: Sequence[Strike], chords: Sequence[Chord]) -> tuple[Chord, ...]:
    """The harmonies of bars that have lost strokes where one thing at a time may be at its limit, without notes that need a sign.

    The raised seventh of a minor key stays, and so does a harmony of which less than two notes would be left.
    """
    level = desk.rules.level
    if level.at_limit_per_bar > 1 or level.notes_left <= LEAST_CHORD:
        return tuple(chords)
    out = list(chords)
    for index in {s.chord for s in strikes if s.hand == "left" and desk.eased(s.onset) in (2, 3)}:
        chord = chords[index]
        key = bar_at(desk.bars, max(chord.start, desk.start)).key
        scale = {(7 * (key.fifths + place)) % 12 for place in (*range(-1, 6), *((8,) if key.mode == "minor" else ()))}
        tones = tuple(pc for pc in chord.tones if pc in scale)
        if LEAST_CHORD <= len(tones) < len(chord.tones):
            bass = next(pc for pc in (chord.bass, chord.root, *tones) if pc in tones)
            out[index] = replace(chord, tones=tones, bass=bass)
    return tuple(out)


def _ground(chord: Chord, heard: Heard) -> int:
    """The bass of a harmony whose own is not heard: the root, else the next chord note that is; the bass after all where none is."""
    return next((pc for pc in (chord.root, *chord.tones) if heard.sounds(chord, pc)), chord.bass)


def _inversions(chord: Chord, heard: Collection[int]) -> tuple[int, ...]:
    """What a chord in close position may lie on, the best first: bass, root, third, fifth, seventh, as far as they are ``heard``."""
    by_place = {(pc - chord.root) % 12: pc for pc in chord.tones}
    order = (chord.bass, chord.root, *(by_place[place] for place in (4, 3, 7, 6, 8, 10, 11, 9) if place in by_place))
    return tuple(dict.fromkeys(pc for pc in order if pc in heard))


def _plain_grounds(desk: Desk, chord: Chord, later: Sequence[Chord] = (), *, firm: bool = False) -> tuple[int, ...]:
    """What an eased bar's one key may be, the best first: bass, root, fifth, third; without an accidental if that can be.

    What belongs to the ``later`` harmonies too, over which it is held, comes first.
    ``firm``: only the root of a major or minor triad, else only the bass.
    """
    fifths = bar_at(desk.bars, max(chord.start, desk.start)).key.fifths
    scale = {(7 * (fifths + place)) % 12 for place in range(-1, 6)}
    by_place = {(pc - chord.root) % 12: pc for pc in chord.tones}
    bass = chord.bass if chord.bass in chord.tones else chord.root
    if firm:
        return (chord.root if chord.quality in ("major", "minor") else bass,)
    order = dict.fromkeys((bass, chord.root, *(by_place[place] for place in (7, 6, 8, 4, 3) if place in by_place)))
    return tuple(sorted((pc for pc in order if pc in scale), key=lambda pc: any(pc not in other.tones for other in later))) or (bass,)
