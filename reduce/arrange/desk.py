"""What every act of arranging has at hand."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Mapping, Sequence
from dataclasses import field
from functools import cached_property

from reduce.arrange.echoes import Echo, echoes
from reduce.arrange.figures_sections import Settled
from reduce.arrange.fold import Balance
from reduce.arrange.inner import INNER_ROLES, strength
from reduce.arrange.line import Tone
from reduce.arrange.own_motion import Motion
from reduce.arrange.sounding import Heard, Sound
from reduce.arrange.voicing import Taste
from reduce.hands.hand import grip
from reduce.model.draft import Hand
from reduce.model.record import dataclass, replace
from reduce.model.rules import Rules
from reduce.model.score import Bar, Score, Tempo
from reduce.model.texture import Chord, Texture

OCTAVE = 12
DEFAULT_QUARTERS = 96.0  # a minute, where the score names no tempo (judgement)


@dataclass(frozen=True, kw_only=True)
class Desk:
    """The kept bars in the draft's key: ``shift`` semitones and ``steps`` staff places from the source, ticks of the source."""

    score: Score
    texture: Texture
    rules: Rules
    bars: tuple[Bar, ...]
    shift: int
    steps: int
    sounds: tuple[Sound, ...]
    pace: Callable[[int], float]  # ticks a second at a moment
    ease: Mapping[int, int] = field(default_factory=dict)  # steps of relief by position among ``bars``
    small: bool = False  # whether all chords of the left hand have one note less
    slim: Mapping[int, int] = field(default_factory=dict)  # by position how much lighter its chords are: 1 lie closer, 2 have a note less
    figures: tuple[tuple[int, int, str], ...] = ()  # the arranger's figures: first, last (positions), figure
    after: Mapping[int, frozenset[int]] = field(default_factory=dict)  # the notes of chords that follow a stroke of the bass, by tick
    motions: tuple[Motion, ...] = ()  # what the orchestra's accompaniment does in each bar
    echoes: Mapping[int, Echo] = field(default_factory=dict)  # bars (positions) that repeat an earlier one
    unfit: Mapping[str, frozenset[int]] = field(default_factory=dict)  # bars (positions) that ask for too much at once under a figure
    settled: tuple[Settled, ...] = ()  # figures that stretches have because bars would have to leave another one
    only: str = ""  # the one figure that is tried out under all bars

    @property
    def start(self) -> int:
        return self.bars[0].start

    @property
    def end(self) -> int:
        return self.bars[-1].end

    def homes(self, tones: Sequence[Tone]) -> list[int]:
        """For each tone the semitones to the octave it is read in: 12 where only double basses play it, -12 for a piccolo, else 0."""
        by_id, octaves = self.score.note_by_id, self._octaves
        out = []
        for tone in tones:
            moves = {octaves.get(by_id[name].part, 0) for name in tone.sources}
            out.append(moves.pop() if len(moves) == 1 else 0)
        return out

    @cached_property
    def _octaves(self) -> dict[int, int]:
        """Semitones from sound to reading octave of the parts that are read an octave away.

        Brass are not among them: the octave of a horn in C is its crook's, as the fifth is of one in F.
        A part without a transposition all of whose notes could be written as they are stands as it is read (common in old scores).
        """
        known = self.rules.instruments
        out: dict[int, int] = {}
        for part in self.score.parts:
            instrument = known.get(part.instrument)
            if instrument is None or instrument.family == "brass" or abs(instrument.chromatic) != OCTAVE:
                continue
            move = -instrument.chromatic
            keys = (
                [] if part.transpositions else [note.midi for note in self.score.notes if note.part == part.index and note.kind == "struck"]
            )
            as_read = keys and instrument.lowest + move <= min(keys) and max(keys) <= instrument.highest + move
            if not as_read:
                out[part.index] = move
        return out

    @cached_property
    def chords(self) -> tuple[Chord, ...]:
        """The harmony in the draft's key (its names stay the source's: notation spells anew)."""
        move = self.shift
        if not move:
            return self.texture.chords
        return tuple(
            replace(c, root=(c.root + move) % 12, bass=(c.bass + move) % 12, tones=tuple((pc + move) % 12 for pc in c.tones))
            for c in self.texture.chords
        )

    @cached_property
    def heard(self) -> Heard:
        """The pitch classes that the orchestra sounds, in the draft's key."""
        return Heard(self.sounds)

    @cached_property
    def heard_inside(self) -> Heard:
        """The same of the voices between tune and bass alone."""
        return Heard([sound for sound in self.sounds if sound.role in INNER_ROLES])

    @cached_property
    def _loudness(self) -> tuple[list[int], list[bool]]:
        """Onsets of the source's dynamics and whether most of the marks there are forte or more."""
        votes: dict[int, list[bool]] = {}
        for mark in self.score.marks:
            if mark.kind == "dynamic":
                votes.setdefault(mark.onset, []).append("f" in mark.text and not mark.text.startswith("m") and mark.text != "fp")
        onsets = sorted(votes)
        return onsets, [2 * sum(votes[o]) > len(votes[o]) for o in onsets]

    def loud(self, onset: int) -> bool:
        """Whether the orchestra plays forte or more at a moment."""
        onsets, verdicts = self._loudness
        place = bisect_right(onsets, onset) - 1
        return place >= 0 and verdicts[place]

    @property
    def spans(self) -> dict[Hand, int]:
        """Semitones that each hand may have down at once."""
        return {"right": self.rules.level.span_right, "left": self.rules.level.span_left}

    @property
    def most(self) -> dict[Hand, int]:
        """Keys that each hand may have down at once."""
        return {"right": self.rules.level.notes_right, "left": self.rules.level.notes_left}

    def playable(self, keys: tuple[int, ...], hand: Hand) -> bool:
        """Whether a hand of the level's size takes these keys together."""
        return len(keys) < 2 or grip(keys, self.rules.level.hand_span, hand) is not None

    def eased(self, onset: int) -> int:
        """Steps of relief that the bar at ``onset`` gets."""
        return self.ease.get(self.place(onset), 0) if self.ease else 0

    def place(self, onset: int) -> int:
        """The position of the bar at ``onset``."""
        return bisect_right(self.bars, onset, key=lambda bar: bar.start) - 1

    def weight(self, onset: int) -> int:
        """Metric weight of a moment, 0..4."""
        place = bisect_right(self.bars, onset, key=lambda bar: bar.start) - 1
        return strength(onset, self.bars[max(0, place)], self.score.resolution)


def echoes_of(desk: Desk) -> dict[int, Echo]:
    """The bars (positions) that repeat an earlier kept one, except where the arranger chose figures or chords herself."""
    least, agreement = desk.rules.whole("accompaniment.parallel.bars"), desk.rules.number("accompaniment.parallel.agreement")
    found = echoes(desk.texture.parallels, desk.bars, desk.sounds, least, agreement)
    hers = {place for first, last, _ in desk.figures for place in range(first, last + 1)}
    hers |= {i for c in desk.texture.chords if c.chosen for i, bar in enumerate(desk.bars) if c.start < bar.end and bar.start < c.end}
    return {place: echo for place, echo in found.items() if place not in hers and echo.first not in hers}


def speed(tempos: Sequence[Tempo], resolution: int) -> Callable[[int], float]:
    """Ticks a second at a moment."""
    known = [(t.onset, t.quarters) for t in tempos if t.quarters]
    onsets = [onset for onset, _ in known]
    rates = [float(quarters or DEFAULT_QUARTERS) * resolution / 60 for _, quarters in known]

    def ticks_a_second(tick: int) -> float:
        index = bisect_right(onsets, tick) - 1
        return rates[index] if index >= 0 else (rates[0] if rates else DEFAULT_QUARTERS * resolution / 60)

    return ticks_a_second


def balance_of(rules: Rules) -> Balance:
    """How chord notes are weighed (``voicing.chord-notes``)."""
    number = rules.number
    return Balance(
        third=number("voicing.chord-notes.third"),
        seventh=number("voicing.chord-notes.seventh"),
        fifth=number("voicing.chord-notes.fifth"),
        foreign=number("voicing.chord-notes.foreign"),
        heard=number("voicing.chord-notes.heard"),
        covered=number("voicing.chord-notes.covered"),
        struck=number("voicing.chord-notes.struck"),
        counter=number("voicing.chord-notes.counter"),
        doubt=number("voicing.chord-notes.doubt"),
        along=number("voicing.chord-notes.along"),
        floor=number("voicing.chord-notes.floor"),
        held=number("voicing.chord-notes.held"),
        octave=number("voicing.chord-notes.octave"),
        note_left=rules.numbers("voicing.chord-notes.note-left")[rules.level.order - 1],
        note_right=rules.numbers("voicing.chord-notes.note-right")[rules.level.order - 1],
    )


def taste_of(rules: Rules) -> Taste:
    """Prices from grip to grip (``voicing.grip-to-grip``, ``voicing.low-intervals``)."""
    number = rules.number
    return Taste(
        exact=number("voicing.grip-to-grip.exact"),
        repeat=number("voicing.grip-to-grip.repeat"),
        mud=number("voicing.low-intervals.mud"),
        travel=number("voicing.grip-to-grip.travel"),
        leap=number("voicing.grip-to-grip.leap"),
        crowd=number("voicing.grip-to-grip.crowd"),
        floor=number("voicing.grip-to-grip.floor"),
        gap=number("voicing.grip-to-grip.gap"),
        away=number("voicing.after-beats.away"),
        limits=tuple(int(v) for v in rules.numbers("voicing.low-intervals.limits")),
        never=tuple(int(v) for v in rules.numbers("voicing.low-intervals.never")),
    )
