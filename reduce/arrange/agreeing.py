"""Drafts that are played together agree on strong beats: what accompanies there belongs to the harmony of the orchestra.

By itself an easy draft may play one chord where the orchestra passes through two; under other drafts that is a clash.
"""

from __future__ import annotations

from collections.abc import Sequence

from reduce.arrange.desk import Desk
from reduce.arrange.explain import Ledger, bars_named
from reduce.hands.hand import grip
from reduce.model.decision import Decision, Rejected
from reduce.model.draft import DraftNote
from reduce.model.pitch import in_key
from reduce.model.record import replace
from reduce.model.score import Bar

RULE = "together"
HALF_BAR = 3  # metric weight from which a beat is strong


def agreeing(notes: tuple[DraftNote, ...], desk: Desk, ledger: Ledger) -> tuple[tuple[DraftNote, ...], frozenset[str]]:
    """The notes with each accompanying one that is foreign to a strong beat on the nearest key that belongs there; ids of those moved.

    A note that is only held into the beat ends before it where no key belongs to both.  The tune stays as it is.
    """
    found = list(notes)
    moved: set[str] = set()
    resolution = desk.score.resolution
    for bar in desk.bars:
        step = bar.meter.beat_ticks(resolution)
        for tick in range(bar.start, bar.end, step):
            if desk.weight(tick) < HALF_BAR:
                continue
            allowed = _harmony(desk, tick)
            now = tick - desk.start
            for place, note in enumerate(found):
                foreign = note.role != "melody" and not note.grace and note.onset <= now < note.end and note.midi % 12 not in allowed
                if not allowed or not foreign:
                    continue
                wanted = allowed if note.onset == now else allowed & _harmony(desk, note.onset + desk.start)
                better = _moved(note, wanted, found, desk)
                if better is None and note.onset < now:
                    better = replace(note, duration=now - note.onset)
                if better is not None:
                    if better.midi != note.midi:
                        better = replace(better, sources=(), decision=_told(ledger, note, better, bar, tick, desk))
                        moved.add(note.id)
                    found[place] = better
    return tuple(found), frozenset(moved)


def _harmony(desk: Desk, tick: int) -> set[int]:
    """Pitch classes that belong to a moment: its chord, and whatever the orchestra plays."""
    chord = next((chord for chord in desk.chords if chord.start <= tick < chord.end), None)
    return {sound.midi % 12 for sound in desk.sounds if sound.onset <= tick < sound.end} | set(chord.tones if chord is not None else ())


def _moved(note: DraftNote, wanted: set[int], notes: Sequence[DraftNote], desk: Desk) -> DraftNote | None:
    """The note on the nearest key that is wanted and that the hand can hold with its others; the bass stays below, the rest above it."""
    level = desk.rules.level
    together = [n for n in notes if n.id != note.id and not n.grace and n.onset < note.end and n.end > note.onset]
    mine = [n.midi for n in together if n.hand == note.hand]
    fifths = next((bar.key.fifths for bar in desk.bars if bar.start <= note.onset + desk.start < bar.end), 0)
    lowest = all(note.midi < key for key in mine)
    keys = [key for key in range(note.midi - 7, note.midi + 8) if key % 12 in wanted and level.lowest <= key <= level.highest]
    for key in sorted(keys, key=lambda key: (bool(in_key(key, fifths).alter), abs(key - note.midi), key)):
        row = (*mine, key)
        free = all(n.midi != key for n in together) and (not lowest or all(key < other for other in mine))
        across = all(n.midi > key for n in together if n.hand != note.hand) if note.hand == "left" else True
        if free and across and max(row) - min(row) <= desk.spans[note.hand] and grip(row, level.hand_span, note.hand) is not None:
            return replace(note, midi=key, pitch=in_key(key, fifths))
    return None


def _told(ledger: Ledger, note: DraftNote, better: DraftNote, bar: Bar, tick: int, desk: Desk) -> str:
    beat = (tick - bar.start) // bar.meter.beat_ticks(desk.score.resolution) + 1
    return ledger.add(
        Decision(
            id="",
            kind="chord",
            bars=(bar.index, bar.index),
            onset=tick,
            hand=note.hand,
            sentence=f"{bars_named(bar, bar)}, {note.hand} hand: {better.pitch} instead of {note.pitch}, because drafts that are played "
            f"together agree on strong beats and beat {beat} has another chord.",
            rule=RULE,
            rejected=(Rejected(str(note.pitch), "it would clash with the other drafts of the class"),),
        )
    )
