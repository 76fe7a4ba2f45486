"""The accompaniment of a level: one figure a section, realised under the tune."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import field

from reduce.arrange.chord_sizes import SMALLER, cut, smaller, told, within
from reduce.arrange.complete import lacking
from reduce.arrange.desk import Desk, balance_of, taste_of
from reduce.arrange.easing import AT_HALF_PACE, HELD_ON, LEAST_CHORD, NO_SIGN, STEPS
from reduce.arrange.echoes import chords_alike, sizes_alike, strikes_alike
from reduce.arrange.figured import Seat, bass_keys, few_black, left_keys, positions, right_inner
from reduce.arrange.figures import Strike, accompany
from reduce.arrange.fold import Inner, Outline
from reduce.arrange.harmonic_rhythm import thin
from reduce.arrange.held_on import held, held_on
from reduce.arrange.lightened import idle, lightened, slower, smaller_chords
from reduce.arrange.line import Tone, bar_at
from reduce.arrange.meeting import met
from reduce.arrange.same_again import played_again
from reduce.arrange.strands import Key
from reduce.model.decision import Decision
from reduce.model.record import dataclass, replace
from reduce.model.texture import Chord

_BASS_STAFF = 57  # A3, the top line of the bass staff: from ledger line to ledger line it is three or four keys


@dataclass(frozen=True, slots=True, kw_only=True)
class Accompaniment:
    """What is played under the tune.

    ``left`` keys, ``right`` chord notes under the tune, both on the thinned harmony ``chords`` (in the draft's key); ``ways`` tells of
    eased bars (positions) what is played there, where it is not what the step says.
    """

    left: tuple[Key, ...]
    right: tuple[Inner, ...]
    chords: tuple[Chord, ...]
    decisions: tuple[Decision, ...]
    ways: Mapping[int, str] = field(default_factory=dict)


def accompaniment(desk: Desk, tune: Sequence[Tone], bass: Sequence[Tone], quarters: float, given: Sequence[Tone] = ()) -> Accompaniment:
    """The figures of the sections under the tune; ``given`` are the notes of it that the left hand has: it plays nothing else with them."""
    level, rules, resolution = desk.rules.level, desk.rules, desk.score.resolution
    inside = [c for c in desk.chords if c.end > desk.start and c.start < desk.end]
    clipped = tuple(replace(c, start=max(c.start, desk.start), end=min(c.end, desk.end)) for c in inside)
    chords = thin(
        clipped, desk.bars, level.chords_per_bar, resolution=resolution, phrases=desk.texture.phrases,
        pace=desk.pace, seconds=rules.numbers("accompaniment.chord-pace.seconds")[level.order - 1],
    )  # fmt: skip
    chords = chords_alike(chords, desk.bars, desk.echoes)
    strikes, decisions = accompany(
        chords, desk.texture.figures, desk.bars, rules,
        resolution=resolution, quarters=quarters, tune=tune, bass=bass, phrases=desk.texture.phrases,
        chosen=desk.figures, own=desk.motions, unfit=desk.unfit, only=desk.only,
    )  # fmt: skip
    if desk.small:
        strikes = smaller_chords(desk, strikes)
    slim = desk.slim
    if slim:
        fewer = smaller(desk, strikes, [desk.place(decision.onset or 0) for decision in decisions])
        strikes, decisions = cut(desk, strikes, fewer), (*decisions, *told(desk, strikes, fewer))
        desk = replace(desk, slim={**slim, **{place: SMALLER for low, high in fewer for place in range(low, high + 1)}})
    ways = dict.fromkeys(slower(desk, strikes), AT_HALF_PACE) if desk.ease else {}
    if desk.ease:
        lighter = lightened(desk, strikes)
        ways |= dict.fromkeys(idle(desk, strikes, lighter), STEPS[1])
        strikes = tuple(lighter)
    strikes = strikes_alike(strikes, chords, desk.bars, tune, desk.motions, desk.echoes)
    if level.order <= rules.whole("accompaniment.root-and-fifth.with-the-tune-up-to-level"):
        strikes = met(strikes, desk.bars, tune, resolution)
    if given:
        strikes = tuple(_waiting(strikes, given))
    upper, balance, taste = Outline(tune), balance_of(rules), taste_of(rules)

    heard, least = desk.heard, rules.number("accompaniment.from-the-orchestra.share")

    def sounds(chord: Chord, pc: int) -> bool:
        return chord.chosen or not least or heard.share(pc, chord.start, chord.end) >= least

    def struck(pc: int, start: int, end: int) -> bool:
        return not least or desk.heard_inside.share(pc, start, end) > 0

    def near(pc: int, onset: int) -> bool:
        bar = bar_at(desk.bars, onset)
        return not least or heard.share(pc, bar.start, bar.end) > 0

    def worth(chord: Chord, pc: int) -> float:
        return balance.place(chord, pc) if sounds(chord, pc) else 0.0

    seat = Seat(
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
    sung, chords = chords, _without_signs(desk, strikes, chords)
    ways |= dict.fromkeys(
        {
            desk.place(s.onset) for s in strikes
            if s.hand == "left" and desk.eased(s.onset) in (2, 3) and chords[s.chord] != sung[s.chord]
        }, NO_SIGN,
    )  # fmt: skip
    used = sorted({strike.chord for strike in strikes if strike.hand == "left"})
    eased = {strike.chord for strike in strikes if strike.hand == "left" and desk.eased(strike.onset) >= 4}
    unheard = [index for index in used if not sounds(chords[index], chords[index].bass)]
    grounds: dict[int, tuple[int, ...]] = {index: (_ground(chords[index], sounds),) for index in unheard}
    firm = {*used[:1], *used[-2:]}  # the piece begins and closes on roots, whatever lies nearer to the hand
    over = {strike.chord: strike.end for strike in strikes if strike.chord in eased}  # one key for all harmonies of a bar
    for index in used if seat.position else eased:
        later = [chord for chord in chords[index + 1 : index + 5] if chord.start < over.get(index, 0)]
        grounds[index] = _plain_grounds(desk, chords[index], later, firm=index in firm)
    close = {s.chord for s in strikes if s.hand == "left" and s.kind == "chord" and s.size > 1 and slim.get(desk.place(s.onset))}
    close -= firm
    for index in {s.chord for s in strikes if s.hand == "left" and slim.get(desk.place(s.onset))} - grounds.keys():
        grounds[index] = (chords[index].bass if chords[index].bass in chords[index].tones else chords[index].root,)  # on the staff
    onsets: dict[int, list[int]] = {}
    for strike in strikes:
        if strike.hand == "left":
            onsets.setdefault(strike.chord, []).append(strike.onset)
    for index in close:  # the seventh in its place above a third rather than far above a root
        heard_there = [pc for pc in chords[index].tones if sounds(chords[index], pc) and all(near(pc, onset) for onset in onsets[index])]
        grounds[index] = _inversions(chords[index], heard_there) or (_ground(chords[index], sounds),)
    broken = {strike.chord for strike in strikes if strike.hand == "left" and strike.kind.startswith("broken-")}
    price = rules.numbers("placement.figure-bass.lacking")[level.order - 1]
    prices = dict.fromkeys(broken, price) if price else {}
    prices |= dict.fromkeys(close, rules.number("easing.chords.lacking"))

    def lacks(index: int, key: int, roof: int) -> float:
        if index not in prices:
            return 0.0
        above = [pc for pc in chords[index].tones if pc != key % 12 and worth(chords[index], pc) > 0]
        return prices[index] * lacking(key, above, roof, within(rules) if index in close else level.span_left, taste.never)

    basses, windows = bass_keys(chords, used, upper, seat, grounds, given, lacks)
    spans = dict.fromkeys(used, level.span_left)
    if level.at_limit_per_bar <= 1:  # an eased bar keeps away from the widest chord, which would be at the limit by itself
        spans |= {strike.chord: within(rules) for strike in strikes if strike.hand == "left" and desk.eased(strike.onset)}
    for strike in strikes:
        if strike.hand == "left" and slim.get(desk.place(strike.onset)):
            spans[strike.chord] = within(rules)
    def may_strike(index: int, pc: int, low: int) -> bool:
        if level.at_limit_per_bar <= 1:  # there a key less is a thing less at its limit
            return True
        black = len(few_black((low, low + (pc - low) % 12), level.black_in_chord)) < 2
        return not black and all(near(pc, onset) for onset in onsets[index])

    found = positions(
        strikes, chords, basses, windows, upper, spans, level.notes_left, worth, taste,
        lambda keys: desk.playable(keys, "left"), desk.pace, may_strike,
    )  # fmt: skip
    left = left_keys(
        strikes, chords, found, upper, near, level.lowest, level.span_left, level.black_in_chord, resolution // 2, level.step_max
    )  # fmt: skip
    left = tuple(_trimmed(left, sizes_alike(Counter(key.onset for key in left), desk.bars, desk.echoes)))
    if level.order <= rules.whole("accompaniment.section.even-chords-up-to-level"):
        left = tuple(_trimmed(left, _even(strikes, left, desk, rules.number("accompaniment.section.even-share"))))
    right = right_inner(
        strikes, sung, left, upper, struck, level.span_right, level.notes_right, worth, taste,
        lambda keys: desk.playable(keys, "right") and len(few_black(keys, level.black_in_chord)) == len(keys), desk.pace,
    )  # fmt: skip
    inner = sizes_alike({one.onset: len(one.keys) for one in right}, desk.bars, desk.echoes)
    right = tuple(replace(one, keys=one.keys[-inner.get(one.onset, 9) :]) for one in right)
    left, right = played_again(left, right, tune, given, desk)
    left = held_on(left, sung, desk, upper, given)
    ways |= dict.fromkeys(held(left, desk), HELD_ON)
    return Accompaniment(left=left, right=right, chords=sung, decisions=decisions, ways=ways)


def _waiting(strikes: Sequence[Strike], given: Sequence[Tone]) -> Iterator[Strike]:
    """The strikes without those that would meet a note of the tune that the left hand has: in that hand, or below it in the other."""
    line = Outline(given)
    for strike in strikes:
        met = line.during(strike.onset, strike.end)
        if not met:
            yield strike
        elif met[0].onset > strike.onset:
            yield replace(strike, end=met[0].onset)


def _trimmed(keys: Sequence[Key], sizes: Mapping[int, int]) -> Iterator[Key]:
    """The keys with only the lowest ones of a strike where ``sizes`` (by onset) has a number."""
    low: dict[int, list[int]] = {}
    for key in keys:
        low.setdefault(key.onset, []).append(key.midi)
    for key in keys:
        if key.onset not in sizes or key.midi in sorted(low[key.onset])[: sizes[key.onset]]:
            yield key


def _even(strikes: Sequence[Strike], keys: Sequence[Key], desk: Desk, share: float) -> dict[int, int]:
    """How many keys a chord may have by onset: as many as a ``share`` of the chords on the same beat have, so that no bar stands out.

    The last bar closes with what it has.
    """
    sizes = Counter(key.onset for key in keys)
    rows: dict[int, list[int]] = {}
    for strike in strikes:
        if strike.hand == "left" and strike.kind in ("chord", "inner", "open-fifth") and strike.onset in sizes:
            bar = bar_at(desk.bars, strike.onset)
            if bar.end < desk.end:
                rows.setdefault(strike.onset - bar.start, []).append(strike.onset)
    out: dict[int, int] = {}
    for onsets in rows.values():
        found = sorted((sizes[onset] for onset in onsets), reverse=True)
        out |= dict.fromkeys(onsets, found[min(len(found) - 1, int(share * len(found)))])
    return out


def _ground(chord: Chord, sounds: Callable[[Chord, int], bool]) -> int:
    """The bass of a harmony whose own is not heard: the root, else the next chord note that is; the bass after all where none is."""
    return next((pc for pc in (chord.root, *chord.tones) if sounds(chord, pc)), chord.bass)


def _inversions(chord: Chord, heard: Collection[int]) -> tuple[int, ...]:
    """What a chord in close position may lie on, the best first: bass, root, third, fifth, seventh, as far as they are ``heard``."""
    by_place = {(pc - chord.root) % 12: pc for pc in chord.tones}
    order = (chord.bass, chord.root, *(by_place[place] for place in (4, 3, 7, 6, 8, 10, 11, 9) if place in by_place))
    return tuple(dict.fromkeys(pc for pc in order if pc in heard))


def _without_signs(desk: Desk, strikes: Sequence[Strike], chords: Sequence[Chord]) -> tuple[Chord, ...]:
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
