"""Where a piano score goes beyond its level or its hand."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from reduce.hands.figures import BarFigures, positions
from reduce.hands.hand import grip, rolled, why_not
from reduce.hands.keyboard import BLACK, reach
from reduce.hands.reading import read_bars, read_notes, read_signs
from reduce.hands.report import BarLoad, Breach, Spot
from reduce.hands.tally import Tally, placed
from reduce.hands.terms import Sheet, Terms
from reduce.hands.touch import HANDS, Touch
from reduce.model.draft import Hand


def breaches(
    sheet: Sheet,
    lines: dict[Hand, tuple[Touch, ...]],
    terms: Terms,
    bars: Sequence[BarFigures],
    load: Sequence[BarLoad],
    shared: Sequence[Spot],
    span_given: bool,
) -> tuple[Breach, ...]:
    """Every breach of the level, in order.

    ``shared`` are the places where both hands want one key.  Hard are: too wide, too many keys, out of range, key signature, note
    value (a short run written out is an ornament where the level has all of them), one key for both hands, voices that run into each
    other; and a chord out of reach where the hand was given by name (``span_given``).  Too many keys only because one is held from
    before is no hard breach where the level has the pedal at will: the pedal holds it (common practice).
    """
    tally = Tally(sheet)
    for hand in HANDS:
        plain = [t for t in lines[hand] if not t.grace]
        _chords(tally, sheet, plain, hand, terms, span_given)
        _moves(tally, plain, hand, terms)
        _steps(tally, sheet, plain, hand, terms)
    for spot in shared:
        tally.add(spot.bar, spot.onset, "both", "clash", spot.sentence, 1, 0, "keys", True, spot.notes)
    read_notes(tally, sheet, terms)
    if sheet.draft.level:  # a draft of our own promises that a voice sings one note after another; a sheet that was read does not
        _overlapping(tally, sheet)
    read_bars(tally, sheet, lines, terms, bars, load)
    read_signs(tally, sheet, terms)
    return tally.closed()


def _chords(tally: Tally, sheet: Sheet, row: Sequence[Touch], hand: Hand, terms: Terms, span_given: bool) -> None:
    level = terms.level
    widest, most = (level.span_right, level.notes_right) if hand == "right" else (level.span_left, level.notes_left)
    voices = level.voices_right if hand == "right" else level.voices_left
    pedal = level.pedal == "free"
    for touch in row:
        down = touch.down
        kept = ", unless the pedal holds what was struck before" if pedal and down != touch.keys else ""
        ids = tuple(n.id for n in touch.notes)
        at = (touch.bar, touch.onset, hand)
        if len(down) > most:
            told = f"{len(down)} keys down in one hand, the level has {most}{kept}"
            tally.add(*at, "crowd", told, len(down), most, "keys", not kept or len(touch.keys) > most, ids)
        if len(down) > 1:
            wide = down[-1] - down[0]
            if wide > widest:
                held = "" if down == touch.keys else ", held keys included"
                names = f"{sheet.name(down[0], touch.bar)}–{sheet.name(down[-1], touch.bar)}"
                lenient = touch.rolled and down == touch.keys and wide <= level.rolled_max
                tally.add(
                    *at, "span", f"{names} is {wide} semitones wide{held}, the level has {widest}", wide, widest, "semitones",
                    not lenient, ids,
                )  # fmt: skip
            if grip(down, terms.span, hand, terms.octave) is None:
                struck = grip(touch.keys, terms.span, hand, terms.octave) is None
                if not (struck and touch.rolled and rolled(touch.keys, terms.span, hand, terms.octave) is not None):
                    why = why_not(down, terms.span, hand, terms.octave)
                    tally.add(*at, "reach", why, reach(down, terms.octave), terms.span, "millimetres", struck and span_given, ids)
            black = sum(BLACK[k] for k in touch.keys) if len(touch.keys) > 1 else 0
            if black > level.black_in_chord:
                tally.add(
                    *at, "black-keys", f"{black} black keys in a chord, the level has {level.black_in_chord}", black, level.black_in_chord,
                    "keys", False, ids,
                )  # fmt: skip
        if touch.held and voices < 2:
            told = "One hand holds a key while it plays others, the level has one voice a hand"
            tally.add(*at, "voices", told, 2, voices, "voices", False, ids)


def _moves(tally: Tally, row: Sequence[Touch], hand: Hand, terms: Terms) -> None:
    most = terms.level.moves_per_8_bars
    moves = positions(row, terms.octave, terms.span)
    i = 0
    while i < len(moves):
        window = [m for m in moves[i:] if m.bar < moves[i].bar + 8]
        if len(window) > most:
            tally.add(
                moves[i].bar, moves[i].onset, hand, "moves",
                f"{len(window)} moves of the hand within eight bars, the level has {most}", len(window), most, "moves in 8 bars",
            )  # fmt: skip
            i += len(window)
        else:
            i += 1


def _steps(tally: Tally, sheet: Sheet, row: Sequence[Touch], hand: Hand, terms: Terms) -> None:
    most = terms.level.step_max
    for a, b in pairwise(row):
        if not a.joined or len(a.keys) > 1 or len(b.keys) > 1:
            continue
        step = abs(b.keys[0] - a.keys[0])
        if step > most:
            names = f"{sheet.name(a.keys[0], a.bar)} to {sheet.name(b.keys[0], b.bar)}"
            tally.add(
                b.bar, b.onset, hand, "step", f"{names} is a step of {step} semitones without a rest, the level has {most}", step, most,
                "semitones", False, tuple(n.id for n in b.notes),
            )  # fmt: skip


def _overlapping(tally: Tally, sheet: Sheet) -> None:
    """Notes of one voice that run into the next, and notes beyond the last bar line."""
    ends: dict[tuple[str, int], tuple[int, int, int]] = {}  # onset, end, bar
    first = sheet.draft.bars[0].index if sheet.draft.bars else 0
    for bar, note in placed(sheet.draft.bars, sheet.draft.notes):
        if note.grace or note.duration <= 0:
            continue
        place = (note.hand, note.strand)
        onset, end = ends.get(place, (-1, -1, 0))[:2]
        at = (bar.index - first, note.onset, note.hand)
        if (note.onset != onset and note.onset < end) or (note.onset == onset and note.end != end):
            over = (end - note.onset if note.onset != onset else abs(end - note.end)) / sheet.draft.resolution
            tally.add(*at, "bars", "A voice begins a note before the one before has ended", over, 0, "quarters", True, (note.id,))
        if note.end > sheet.draft.end:
            over = (note.end - sheet.draft.end) / sheet.draft.resolution
            tally.add(*at, "bars", "A note goes on after the last bar line", over, 0, "quarters", True, (note.id,))
        ends[place] = (note.onset, max(end, note.end), bar.index)
