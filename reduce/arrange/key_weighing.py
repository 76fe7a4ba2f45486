"""What a key costs a pupil: accidentals, positions, ledger lines, black keys, distance."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import TYPE_CHECKING

from reduce.arrange.key_spelling import signature_written, turn_between
from reduce.arrange.line import Tone
from reduce.model.record import dataclass
from reduce.model.rules import Rules
from reduce.model.score import Bar
from reduce.model.texture import Texture

if TYPE_CHECKING:
    from reduce.arrange.key import Interval

_BLACK = frozenset((1, 3, 6, 8, 10))
_FIVE_FINGERS = 4  # staff steps between thumb and little finger


@dataclass(frozen=True, slots=True)
class Case:
    """The piece as far as the choice of key needs it, counted once.

    ``signatures`` bars by sharps; ``places`` tune notes by (signature of their bar, place on the line of fifths); ``pitches`` tune notes by
    (MIDI, staff position); ``thumbs`` lowest keys of the tune's five-finger positions; ``chords`` chord pitch classes with how often.
    """

    home: int
    mode: str
    known: frozenset[str]
    signatures: Counter[int]
    places: Counter[tuple[int, int]]
    pitches: Counter[tuple[int, int]]
    thumbs: Counter[int]
    chords: Counter[tuple[int, ...]]


@dataclass(frozen=True, slots=True)
class Weighed:
    """One key with its counts: the row of the table that the log shows."""

    name: str
    semitones: int
    fifths: int
    home: int
    largest: int  # largest signature in the kept bars, sharps positive
    beyond: float  # share of bars beyond the level
    accidentals: int  # in the tune, as written
    positions: int
    black_thumbs: int
    ledger: int  # ledger lines, all tune notes together
    outside: int  # tune notes out of the level's range
    black_chords: float
    unknown: bool
    cost: float

    def row(self) -> str:
        """The counts in words."""
        return (
            f"largest signature {abs(self.largest)}, {self.accidentals} accidentals in the tune, "
            f"thumb on a black key in {self.black_thumbs} of {self.positions} positions, "
            f"{self.ledger} ledger lines, moved {self.semitones:+d} semitones; price {self.cost:.1f}"
        )

    def gain(self, other: Weighed) -> str:
        """What this key brings against another one, in words; accidentals only against a signature that the level reads."""
        counts = (
            ("accidentals in the tune", other.accidentals if not other.beyond else self.accidentals, self.accidentals),
            ("ledger lines", other.ledger, self.ledger),
            ("positions with the thumb on a black key", other.black_thumbs, self.black_thumbs),
        )
        told = [f"{what} {before} before, {now} now" for what, before, now in counts if before != now]
        return "; ".join(told[:2]) or "the tune lies as well as before"


def gather(texture: Texture, rules: Rules, tune: Sequence[Tone], bars: Sequence[Bar], home: int, mode: str) -> Case:
    """Count the kept bars once for all keys."""
    signatures: Counter[int] = Counter(bar.key.fifths for bar in bars)
    places: Counter[tuple[int, int]] = Counter()
    pitches: Counter[tuple[int, int]] = Counter()
    thumbs: Counter[int] = Counter()
    inside = [tone for tone in tune if bars[0].start <= tone.onset < bars[-1].end]
    place = 0
    low: Tone | None = None
    high: Tone | None = None
    for tone in inside:
        while bars[place].end <= tone.onset:
            place += 1
        places[(bars[place].key.fifths, tone.pitch.fifths)] += 1
        pitches[(tone.midi, tone.pitch.diatonic)] += 1
        lower = tone if low is None or tone.midi < low.midi else low
        upper = tone if high is None or tone.midi > high.midi else high
        if low is not None and upper.pitch.diatonic - lower.pitch.diatonic > _FIVE_FINGERS:
            thumbs[low.midi] += 1
            lower = upper = tone
        low, high = lower, upper
    if low is not None:
        thumbs[low.midi] += 1
    chords: Counter[tuple[int, ...]] = Counter(
        chord.tones for chord in texture.chords if chord.end > bars[0].start and chord.start < bars[-1].end
    )
    return Case(home, mode, frozenset(rules.level.keys), signatures, places, pitches, thumbs, chords)


def weigh(case: Case, interval: Interval, rules: Rules, key: str) -> Weighed:
    """The counts and the price of one key; the tune is taken in its best octave."""
    level, moved = rules.level, interval.semitones
    most = level.signature_max
    bars = sum(case.signatures.values()) or 1
    home = case.home + interval.fifths
    written = {sharps: signature_written(sharps + interval.fifths, most) for sharps in case.signatures}
    beyond = sum(count for sharps, count in case.signatures.items() if written[sharps] is None) / bars
    largest = max((_nearest(sharps + interval.fifths) for sharps in case.signatures), key=lambda own: (abs(own), own), default=0)
    fallback = home if abs(home) <= most else 0
    accidentals = 0
    for (sharps, fifth), count in case.places.items():
        printed = written[sharps]
        signature = fallback if printed is None else printed
        name = fifth + interval.fifths + 12 * turn_between(sharps + interval.fifths, signature)
        accidentals += count if not -1 <= name - signature <= 5 else 0
    notes = sum(case.pitches.values()) or 1
    ledger, outside = min(_lines(case, interval, octave, rules) for octave in (-3, -2, -1, 0, 1, 2, 3))[1:]
    positions = sum(case.thumbs.values())
    black_thumbs = sum(count for midi, count in case.thumbs.items() if (midi + moved) % 12 in _BLACK)
    struck = sum(case.chords.values()) or 1
    black_chords = sum(
        count for tones, count in case.chords.items() if sum((tone + moved) % 12 in _BLACK for tone in tones[:3]) > level.black_in_chord
    )
    unknown = bool(case.known) and _plain(key) not in {_plain(known) for known in case.known}
    price = rules.number
    cost = (
        price("key.weigh.signature") * abs(home)
        + price("key.weigh.beyond") * beyond
        + price("key.weigh.unknown-key") * unknown
        + price("key.weigh.accidentals") * accidentals / notes
        + price("key.weigh.black-thumbs") * black_thumbs / (positions or 1)
        + price("key.weigh.black-chords") * black_chords / struck
        + price("key.weigh.ledger") * ledger / notes
        + price("key.weigh.out-of-range") * outside / notes
        + price("key.weigh.distance") * abs(moved)
        + (price("key.weigh.leaving") if moved or interval.fifths else 0.0)
    )
    return Weighed(
        key, moved, interval.fifths, home, largest, beyond, accidentals, positions, black_thumbs, ledger, outside, black_chords / struck,
        unknown, cost,
    )  # fmt: skip


def _nearest(fifths: int) -> int:
    """A signature as it would be printed: the enharmonic one with fewer signs beyond seven."""
    return fifths if abs(fifths) <= 7 else fifths - 12 if fifths > 0 else fifths + 12


def _plain(name: str) -> str:
    return name.replace("♯", "#").replace("♭", "b").replace(" flat", "b").replace(" sharp", "#").lower()


def _lines(case: Case, interval: Interval, octave: int, rules: Rules) -> tuple[float, int, int]:
    """A price to compare octaves, ledger lines on the treble staff and notes out of range, the tune moved by ``octave`` octaves too."""
    lines = outside = 0
    for (midi, place), count in case.pitches.items():
        key = midi + interval.semitones + 12 * octave
        staff = place + interval.steps + 7 * octave
        outside += count * (not rules.level.lowest <= key <= rules.level.highest)
        # the lowest line is E4 (staff position 30), the highest F5 (38)
        lines += count * max(0, (30 - staff) // 2, (staff - 38) // 2)
    return (lines + 8.0 * outside + 0.01 * abs(octave), lines, outside)
