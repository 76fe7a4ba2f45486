"""Hearing a sample score: what sounds when, which chord was meant, who has the tune."""

from __future__ import annotations

import re
import sys
from bisect import bisect_right
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

FOLDER = Path(__file__).parents[2] / "samples"
sys.path.insert(0, str(FOLDER))  # the composing scripts import each other by plain name

import compose  # noqa: E402
import lines  # noqa: E402
from players import PLAYERS  # noqa: E402

TEXTS = sorted((FOLDER / "scores").glob("*.txt"))
KINDS = {
    "": (0, 4, 7), "m": (0, 3, 7), "7": (0, 4, 7, 10), "m7": (0, 3, 7, 10), "maj7": (0, 4, 7, 11),
    "o": (0, 3, 6), "o7": (0, 3, 6, 9), "ø7": (0, 3, 6, 10),
}  # fmt: skip  # common practice


@dataclass(frozen=True, slots=True, kw_only=True)
class Sound:
    """One note or chord of one voice, in ticks from the beginning; tied notes stay apart, ``tied`` says that it goes on."""

    staff: str
    voice: int
    start: int
    end: int
    heads: tuple[int, ...]  # MIDI numbers
    tied: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Chord:
    """A chord that the composer meant: pitch classes, those of the root and the bass too."""

    start: int
    name: str
    root: int
    classes: frozenset[int]
    bass: int


class Ear:
    """A score as it sounds."""

    def __init__(self, score: compose.Score) -> None:
        self.score = score
        self.voices: dict[tuple[str, int], list[Sound]] = {}
        for name, staves in score.staves.items():
            for number, bars in enumerate(staves, 1):
                if PLAYERS[name].pitched:
                    self._hear(name if len(staves) == 1 else f"{name}-{number}", bars)

    def _hear(self, staff: str, bars: tuple[lines.Bar, ...]) -> None:
        for index, bar in enumerate(bars):
            for voice, items in enumerate(bar, 1):
                at = self.start(self.score.first + index)
                for item in items:
                    if isinstance(item, lines.Note):
                        sound = Sound(
                            staff=staff, voice=voice, start=at, end=at + item.ticks,
                            heads=tuple(head.midi for head in item.pitches), tied="~" in item.marks,
                        )  # fmt: skip
                        self.voices.setdefault((staff, voice), []).append(sound)
                        at += item.ticks

    def start(self, bar: int, beat: int = 1) -> int:
        """Tick at which a beat of a bar begins."""
        before = bar - self.score.first
        upbeat = self.score.upbeat or self.score.bar_ticks
        return (upbeat + (before - 1) * self.score.bar_ticks if before else 0) + (beat - 1) * 4 * lines.QUARTER // self.score.unit

    def place(self, tick: int) -> str:
        """Bar and beat of a tick, for messages."""
        bar = max(bar for bar in range(self.score.first, self.score.last + 1) if self.start(bar) <= tick)
        return f"bar {bar}, beat {(tick - self.start(bar)) / lines.QUARTER + 1:g}"

    @cached_property
    def sounds(self) -> list[Sound]:
        """All that sounds, rests left out, timpani too: their pitch is a colour of the bass."""
        found = [s for (staff, _), voice in self.voices.items() if staff != "timpani" for s in voice if s.heads]
        return sorted(found, key=lambda sound: (sound.start, sound.staff, sound.voice))

    def at(self, tick: int) -> list[Sound]:
        """What sounds at a tick."""
        return [sound for sound in self.sounds if sound.start <= tick < sound.end]

    def neighbours(self, sound: Sound) -> tuple[Sound | None, Sound | None]:
        """The note before and after in the same voice."""
        voice = self.voices[sound.staff, sound.voice]
        place = voice.index(sound)
        return (voice[place - 1] if place else None), (voice[place + 1] if place + 1 < len(voice) else None)

    def prepared(self, sound: Sound, head: int) -> bool:
        """Did this voice sound the same pitch right before, or begin it before the beat?"""
        before, _ = self.neighbours(sound)
        return before is not None and head in before.heads

    def resolves(self, sound: Sound, head: int) -> bool:
        """Does this voice go on by step from a pitch?  A repeated pitch waits for what follows it."""
        _, after = self.neighbours(sound)
        while after is not None and head in after.heads:
            _, after = self.neighbours(after)
        return after is not None and any(abs(other - head) <= 2 for other in after.heads)

    @cached_property
    def strong_beats(self) -> list[int]:
        """First beats, and third beats of a bar of four."""
        beats = (1, 3) if self.score.beats == 4 else (1,)
        return [self.start(bar, beat) for bar in range(1, self.score.last + 1) for beat in beats]

    @cached_property
    def harmony(self) -> list[Chord]:
        """The chords that were meant; an empty bar (``-``) ends one."""
        found: list[Chord] = []
        for index, names in enumerate(self.score.harmony):
            start = self.start(self.score.first + index)
            for place, name in enumerate(names):
                if name != ".":
                    found.append(chord(name, start + place * self.score.bar_ticks // len(names)))
        return found

    def meant(self, tick: int) -> Chord | None:
        """The chord that was meant at a tick."""
        place = bisect_right([chord.start for chord in self.harmony], tick)
        return self.harmony[place - 1] if place else None

    def bass_under(self, tune: Sound) -> int:
        """The bass under a note of the tune as the ear keeps it, plucked or held; 0 for none."""
        chord = self.meant(tune.start)
        since = chord.start if chord else tune.start
        others = (sound for sound in self.sounds if sound.start <= tune.start and sound.end > since and sound.staff != tune.staff)
        return min((head for sound in others for head in sound.heads), default=0)

    def tune(self) -> list[tuple[Sound, str]]:
        """The notes of the tune in order, with the staff that has it."""
        spans = [(self.start(bar, beat), staff) for bar, beat, staff in self.score.tune]
        result = []
        for (start, staff), (end, _) in zip(spans, [*spans[1:], (self.start(self.score.last + 1), "")], strict=True):
            result += [(sound, staff) for sound in self.voices[staff, 1] if start <= sound.start < end and sound.heads]
        return result

    def tune_struck(self) -> list[Sound]:
        """The notes of the tune that are struck: not those tied over from the note before."""
        found = [(sound, self.neighbours(sound)[0]) for sound, _ in self.tune()]
        return [sound for sound, before in found if not (before and before.tied and before.heads == sound.heads)]


def chord(name: str, start: int) -> Chord:
    """``C#7/E#`` as pitch classes.

    Raises:
        ValueError: for a chord that is not in the table.
    """
    found = re.fullmatch(r"([A-G])(#|b)?(maj7|m7|m|7|ø7|o7|o|)(?:/([A-G])(#|b)?)?", name)
    if name == "-":
        return Chord(start=start, name=name, root=-1, classes=frozenset(range(12)), bass=-1)
    if not found:
        raise ValueError(f"no chord: {name}")
    step, sign, kind, under, sign_under = found.groups(default="")
    root = _pitch_class(step, sign)
    return Chord(
        start=start, name=name, root=root, classes=frozenset((root + step) % 12 for step in KINDS[kind]),
        bass=_pitch_class(under, sign_under) if under else root,
    )  # fmt: skip


def _pitch_class(step: str, sign: str) -> int:
    return (("C", "", "D", "", "E", "F", "", "G", "", "A", "", "B").index(step) + {"#": 1, "b": -1, "": 0}[sign]) % 12
