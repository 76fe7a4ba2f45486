"""The accompaniment of a level: one figure a section, realised under the tune."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import field

from reduce.arrange.chord_sizes import SMALLER
from reduce.arrange.desk import Desk, taste_of
from reduce.arrange.easing import BY_TURNS, HELD_ON, IN_THE_FIGURE, KEPT, KEPT_NO_SIGN, NO_SIGN
from reduce.arrange.echoes import chords_alike, sizes_alike
from reduce.arrange.figure_kept import by_turns, figure_kept
from reduce.arrange.figured import bass_keys, few_black, left_keys, positions, right_inner
from reduce.arrange.figures import Strike
from reduce.arrange.figures_sections import Section
from reduce.arrange.fold import Inner
from reduce.arrange.footing import Heard, footing_of, seat_of, without_signs
from reduce.arrange.harmonic_rhythm import thin
from reduce.arrange.held_on import SILENT, held, held_on
from reduce.arrange.line import Tone, bar_at
from reduce.arrange.outline import Outline
from reduce.arrange.same_again import played_again
from reduce.arrange.strands import Key
from reduce.arrange.strokes import strokes
from reduce.model.decision import Decision
from reduce.model.record import dataclass, replace
from reduce.model.texture import Chord


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
    parts: tuple[Section, ...] = ()


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
    made = strokes(desk, chords, tune, bass, quarters, given)
    strikes = made.strikes
    upper, taste, heard, seat = Outline(tune), taste_of(rules), Heard(desk), seat_of(desk)
    mild = without_signs(desk, strikes, chords)
    unsigned = {strike.onset for strike in strikes if strike.hand == "left" and mild[strike.chord] != chords[strike.chord]}
    ways = {**made.ways, **{desk.place(onset): NO_SIGN for onset in unsigned if desk.eased(onset) in (2, 3)}}
    footing = footing_of(desk, heard, seat, strikes, mild)
    basses, windows = bass_keys(mild, footing.used, upper, seat, footing.lowest, given, footing.lacks)
    found = positions(
        strikes, mild, basses, windows, upper, footing.spans, level.notes_left, heard.worth, taste,
        lambda keys: desk.playable(keys, "left"), desk.pace, footing.second,
    )  # fmt: skip
    left = left_keys(
        strikes, mild, found, upper, heard.near, level.lowest, level.span_left, level.black_in_chord, resolution // 2, level.step_max
    )  # fmt: skip
    left = tuple(_trimmed(left, sizes_alike(Counter(key.onset for key in left), desk.bars, desk.echoes)))
    if level.order <= rules.whole("accompaniment.section.even-chords-up-to-level"):
        left = tuple(_trimmed(left, _even(strikes, left, desk, rules.number("accompaniment.section.even-share"))))
    right = right_inner(
        strikes, chords, left, upper, heard.struck, level.span_right, level.notes_right, heard.worth, taste,
        lambda keys: desk.playable(keys, "right") and len(few_black(keys, level.black_in_chord)) == len(keys), desk.pace,
    )  # fmt: skip
    inner = sizes_alike({one.onset: len(one.keys) for one in right}, desk.bars, desk.echoes)
    right = tuple(replace(one, keys=one.keys[-inner.get(one.onset, 9) :]) for one in right)
    sized = replace(desk, slim={**desk.slim, **dict.fromkeys(made.smaller, SMALLER)})
    left, right = played_again(left, right, tune, given, sized)
    left = held_on(left, chords, desk, upper, given)
    ways |= dict.fromkeys(held(left, desk), HELD_ON)
    if desk.ease:
        kept = figure_kept(left, made.parts, desk, rules.number("easing.figures.kept-share"))
        ways |= {place: KEPT_NO_SIGN if ways.get(place) == NO_SIGN else KEPT for place in kept if ways.get(place) not in IN_THE_FIGURE}
        silent = {place: ways.get(place) == HELD_ON for place, step in desk.ease.items() if step == SILENT}
        turns = by_turns(left, silent, kept, given, desk, rules.whole("accompaniment.section.bars-min"))
        ways |= dict.fromkeys(turns, BY_TURNS)
    return Accompaniment(left=left, right=right, chords=chords, decisions=made.decisions, ways=ways, parts=made.parts)


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
