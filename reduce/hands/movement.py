"""One moving hand: the time a move needs against the time the music leaves."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

from reduce.hands.fingers import Fingered, crosses
from reduce.hands.hand import grip, rolled, why_not
from reduce.hands.keyboard import BLACK, centres
from reduce.hands.report import Spot, SpotKind
from reduce.hands.terms import STRAIN, Sheet, Terms, spot
from reduce.hands.touch import Touch
from reduce.model.draft import Hand


def time_for(distance: float, octave_seconds: float, start_share: float, octave: float = 165.0) -> float:
    """Seconds that a hand needs to travel ``distance`` mm, where an octave takes ``octave_seconds``."""
    return octave_seconds * (start_share + (1 - start_share) * distance / octave)


def travel(a: Sequence[int], b: Sequence[int], span: float, octave: float = 165.0) -> float:
    """Millimetres that a hand must move, at least, from where it takes keys ``a`` to where it takes ``b``; 0 if both lie under it."""
    at = centres(octave)
    low_a, high_a, low_b, high_b = at[a[0]], at[a[-1]], at[b[0]], at[b[-1]]
    width = max(round(10 * span), high_a - low_a, high_b - low_b)
    return max(0, high_b - width - low_a, high_a - width - low_b) / 10


def stretches(sheet: Sheet, row: Sequence[Touch], hand: Hand, terms: Terms) -> Iterator[Spot]:
    """Chords that do not lie under the hand, struck or with what it holds."""
    for touch in row:
        if len(touch.down) < 2 or grip(touch.down, terms.span, hand, terms.octave) is not None:
            continue
        struck = grip(touch.keys, terms.span, hand, terms.octave) is None
        if struck and touch.rolled and rolled(touch.keys, terms.span, hand, terms.octave) is not None:
            continue
        keys = touch.keys if struck else touch.down
        at = centres(terms.octave)
        size = (at[keys[-1]] - at[keys[0]]) / 10
        why = why_not(keys, terms.span, hand, terms.octave)
        outer = sheet.name(keys[-1] if hand == "left" else keys[0], touch.bar)
        yield spot(
            sheet, touch, hand, "stretch",
            why[0].upper() + why[1:] if struck else f"{why[0].upper()}{why[1:]}, while keys are held",
            size=size,
            easier=f"Roll it from the bottom, or leave out {outer}" if struck else "Let the held key go and let the pedal keep it",
            caution=STRAIN if size > terms.span else "",
        )  # fmt: skip


def leaps(sheet: Sheet, row: Sequence[Touch], hand: Hand, terms: Terms) -> Iterator[Spot]:
    """Moves of the hand that come too soon, from one touch to the next or across three."""
    seconds = terms.level.octave_seconds
    for i in range(len(row) - 1):
        a, b = row[i], row[i + 1]
        far = travel(a.keys, b.keys, terms.span, terms.octave)
        time = b.at - a.at
        if far >= terms.least:
            need = time_for(far, seconds, terms.start_share, terms.octave)
            if need > time * terms.grace:
                leap = far >= terms.octave / 2
                names = f"{sheet.name(a.keys[-1 if b.keys[0] > a.keys[0] else 0], a.bar)} to " + sheet.name(
                    b.keys[-1 if b.keys[0] > a.keys[0] else 0], b.bar
                )
                yield spot(
                    sheet, b, hand, "leap" if leap else "shift",
                    f"{names}: the hand travels {far:.0f} mm in {time:.2f} s, this level asks for {need:.2f} s",
                    size=far, available=time, needed=need,
                    easier="Bring the far note an octave nearer" if leap else "Shorten the note before, and move during the rest",
                )  # fmt: skip
            continue
        if i + 2 < len(row) and len(a.keys) == len(b.keys) == len(row[i + 2].keys) == 1:
            c = row[i + 2]
            if (b.keys[0] - a.keys[0]) * (c.keys[0] - b.keys[0]) <= 0 or travel(b.keys, c.keys, terms.span, terms.octave):
                continue
            far = travel(a.keys, c.keys, terms.span, terms.octave)
            need, time = time_for(far, seconds, terms.start_share, terms.octave), c.at - a.at
            if far >= terms.least and need > time * terms.grace:
                yield spot(
                    sheet, c, hand, "wide-arpeggio",
                    f"The broken chord {sheet.name(a.keys[0], a.bar)}–{sheet.name(c.keys[0], c.bar)} opens {far:.0f} mm wider than the "
                    f"hand in {time:.2f} s, this level asks for {need:.2f} s",
                    size=far, available=time, needed=need,
                    easier="Keep the broken chord inside the hand: bring its outer note an octave nearer",
                )  # fmt: skip


def repeats(sheet: Sheet, row: Sequence[Touch], hand: Hand, terms: Terms) -> Iterator[Spot]:
    """The same key or chord struck again, or octave after octave, quicker than the level's hand repeats."""
    one = 1 / terms.level.notes_per_second_one
    at = centres(terms.octave)
    wide = min(0.93 * terms.octave, 0.97 * terms.span)

    def sort(touch: Touch) -> str:
        width = (at[touch.keys[-1]] - at[touch.keys[0]]) / 10
        return "octaves" if width >= wide and len(touch.keys) > 1 else "chord" if len(touch.keys) > 1 else "note"

    start = 0
    for i in range(1, len(row) + 1):
        kind = sort(row[start])
        if i < len(row) and row[i].at - row[i - 1].at < 1.0:
            same = row[i].keys == row[start].keys
            if same or (kind == "octaves" and sort(row[i]) == kind):
                continue
        run = row[start:i]
        start = i
        if len(run) < terms.strokes:
            continue
        time = (run[-1].at - run[0].at) / (len(run) - 1)
        same = all(t.keys == run[0].keys for t in run)
        share = {"octaves": terms.octave_share, "chord": terms.chord_share, "note": terms.note_share}[kind]
        need = one * share
        long = kind != "note" and run[-1].at - run[0].at > terms.stamina and time < 1.5 * need
        if time >= need and not long:
            continue
        width = (at[run[0].keys[-1]] - at[run[0].keys[0]]) / 10
        kind_of: SpotKind = "octaves" if kind == "octaves" else "repeated-chord" if kind == "chord" else "repeated-note"
        what = {"octaves": "octaves in a row", "chord": "strokes of one chord", "note": "strokes of one note"}[kind]
        yield spot(
            sheet, run[0], hand, kind_of,
            f"{len(run)} {what}, one every {time:.2f} s; this level asks for {need:.2f} s" if time < need
            else f"{len(run)} {what} go on for {run[-1].at - run[0].at:.0f} s",
            size=width, available=time, needed=need,
            easier="Play every other one" if same else "Leave out the inner octave and play single notes",
            caution=f"Quick repetition can strain the hand. {STRAIN}" if kind != "note" else "",
        )  # fmt: skip
    for touch in row:
        strokes = max((n.tremolo for n in touch.notes), default=0)
        if strokes and touch.notes:
            time = 60 / (sheet.clock.quarters(touch.onset) * 2**strokes)
            need = one * (terms.note_share if len(touch.keys) == 1 else 1.0)
            if time < need:
                yield spot(
                    sheet, touch, hand, "repeated-note",  # one kind, whatever is held: a roll is practised as one thing
                    f"Tremolo, one stroke every {time:.2f} s; this level asks for {need:.2f} s",
                    size=0.0, available=time, needed=need, easier="Play it at half the speed, or hold the note",
                )  # fmt: skip


def turns(sheet: Sheet, row: Sequence[Fingered], hand: Hand, terms: Terms) -> Iterator[Spot]:
    """Thumbs that pass on to a black key from a white one, at speed."""
    for a, b in pairwise(row):
        time = b.touch.at - a.touch.at
        if time >= terms.slow or b.starts or not crosses(a, b, hand):
            continue
        thumb, other = (a, b) if a.fingers[0] == 1 else (b, a)
        if BLACK[thumb.touch.keys[0]] and not BLACK[other.touch.keys[0]]:
            yield spot(
                sheet, b.touch, hand, "black-thumb",
                f"The thumb has to pass on to {sheet.name(thumb.touch.keys[0], b.touch.bar)}, a black key, in {time:.2f} s",
                size=travel(a.touch.keys, b.touch.keys, 0.0, terms.octave), available=time, needed=terms.slow,
                easier="Practise the turn slowly on its own, or give the first note to the other hand",
            )  # fmt: skip
