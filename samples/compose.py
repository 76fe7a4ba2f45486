"""Write the sample scores: ``python samples/compose.py`` turns every ``scores/*.txt`` into ``*.musicxml`` beside this file.

A score text has a head and sections::

    title    Ferry Landing Waltz
    key      1 major                  sharps (flats negative) and mode, as it sounds
    time     3/4
    upbeat   q                        length of the first bar; left out where there is none
    players  flute clarinet-b-flat ...
    tempo    1 "Allegretto" q=126; 23.3 "poco rit."      bar, or bar.beat (bar 0 is the upbeat)
    letters  9 A; 17 B
    repeats  1-8 7-8 9-10             repeated bars, first ending, second ending
    tune     0 violin; 8.3 clarinet   who has the tune from which bar or beat on; for the checks only

    == 1-8 ==
    violin   p "dolce" d4:q | ...     one line a player, in the notation of lines.py; more lines are set in
    harmony  . | G | Am | D7 ...      what the harmony should be, equal parts of a bar; for the checks only

A player who is not named in a section rests.  A player with two staves has two lines, ``harp-1`` and ``harp-2``.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import lines
import writer
from players import PLAYERS

HERE = Path(__file__).resolve().parent


@dataclass(frozen=True, kw_only=True)
class Tempo:
    """Words and metronome at a beat; ``unit`` is a value of lines.py, empty where only words stand."""

    bar: int
    beat: int  # from 1
    words: str
    unit: str
    a_minute: int

    @property
    def quarters(self) -> float:
        """Quarters a minute."""
        return self.a_minute * lines.ticks(self.unit) / lines.QUARTER


@dataclass(frozen=True, kw_only=True)
class Score:
    """A whole piece; ``staves`` hold the bars of each player's staves, the upbeat first."""

    title: str
    subtitle: str
    composer: str
    rights: str
    fifths: int
    mode: str
    beats: int
    unit: int
    upbeat: int  # ticks, 0 = none
    players: tuple[str, ...]
    staves: dict[str, tuple[tuple[lines.Bar, ...], ...]]
    harmony: tuple[tuple[str, ...], ...]
    tempos: tuple[Tempo, ...]
    letters: dict[int, str]
    repeats: tuple[tuple[range, range, range], ...]
    tune: tuple[tuple[int, int, str], ...]  # bar, beat, the staff that has it from there on

    @property
    def bar_ticks(self) -> int:
        return self.beats * 4 * lines.QUARTER // self.unit

    @property
    def first(self) -> int:
        """Number of the first bar: 0 for an upbeat."""
        return 0 if self.upbeat else 1

    @property
    def last(self) -> int:
        """Number of the last bar."""
        return self.first + len(self.harmony) - 1


def read(text: str) -> Score:
    """A score from its text.

    Raises:
        ValueError: with the player and the section, where a line cannot be read or has too many bars.
    """
    head, *sections = re.split(r"^== *(.*?) *==$", re.sub(r"^#.*\n", "", text, flags=re.M), flags=re.M)
    facts = dict(_entries(head))
    beats, unit = map(int, facts["time"].split("/"))
    bar_ticks = beats * 4 * lines.QUARTER // unit
    upbeat = lines.ticks(facts["upbeat"]) if "upbeat" in facts else 0
    names = tuple(facts["players"].split())
    staves: dict[str, list[lines.Bar]] = {staff: [] for name in names for staff in _staves(name)}
    harmony: list[tuple[str, ...]] = []
    for place, body in zip(sections[::2], sections[1::2], strict=True):
        section = _bars(place)
        first = upbeat if section.start == 0 else None
        rest = f"{'r:' + facts['upbeat'] + ' |' if first else ''} R{len(section) - bool(first)}"
        written = dict(_entries(body))
        harmony += [tuple(bar.split()) for bar in written.pop("harmony", " | ".join("." * len(section))).split("|")]
        if strangers := written.keys() - staves.keys():
            raise ValueError(f"bars {place}: not among the players: {', '.join(sorted(strangers))}")
        for staff, bars in staves.items():
            try:
                new = lines.read(written.get(staff, rest), bar_ticks, first)
            except ValueError as fault:
                raise ValueError(f"bars {place}, {staff}: {fault}") from None
            if len(new) != len(section):
                raise ValueError(f"bars {place}, {staff}: {len(new)} bars instead of {len(section)}")
            bars += new
    fifths, mode = facts["key"].split()
    return Score(
        title=facts["title"], subtitle=facts.get("subtitle", ""), composer=facts["composer"], rights=facts["rights"],
        fifths=int(fifths), mode=mode, beats=beats, unit=unit, upbeat=upbeat, players=names,
        staves={name: tuple(tuple(staves[staff]) for staff in _staves(name)) for name in names},
        harmony=tuple(harmony),
        tempos=tuple(map(_tempo, _list(facts.get("tempo", "")))),
        letters={int(bar): letter for bar, letter in (entry.split() for entry in _list(facts.get("letters", "")))},
        repeats=tuple((_bars(a), _bars(b), _bars(c)) for a, b, c in (entry.split() for entry in _list(facts.get("repeats", "")))),
        tune=tuple(map(_tune, _list(facts.get("tune", "")))),
    )  # fmt: skip


def _entries(block: str) -> Iterator[tuple[str, str]]:
    """Names at the margin with what follows them, set-in lines joined."""
    for name, text in re.findall(r"^(\S+)((?:.*\n?)(?:[ \t]+.*\n?|\n)*)", block, flags=re.M):
        yield name, " ".join(text.split())


def _list(text: str) -> list[str]:
    return [entry.strip() for entry in text.split(";") if entry.strip()]


def _bars(text: str) -> range:
    first, _, last = text.partition("-")
    return range(int(first), int(last or first) + 1)


def _staves(name: str) -> tuple[str, ...]:
    count = len(PLAYERS[name].clefs)
    return (name,) if count == 1 else tuple(f"{name}-{n}" for n in range(1, count + 1))


def _tempo(entry: str) -> Tempo:
    found = re.fullmatch(r'(\d+)(?:\.(\d+))?\s+"([^"]*)"(?:\s+([hqe]\.?)=(\d+))?', entry)
    if not found:
        raise ValueError(f"no tempo: {entry}")
    bar, beat, words, unit, number = found.groups(default="")
    return Tempo(bar=int(bar), beat=int(beat or 1), words=words, unit=unit, a_minute=int(number or 0))


def _tune(entry: str) -> tuple[int, int, str]:
    place, staff = entry.split()
    bar, _, beat = place.partition(".")
    return int(bar), int(beat or 1), staff


def load(path: Path) -> Score:
    """The score of one text file."""
    return read(path.read_text(encoding="utf-8"))


def main() -> None:
    """Write every score text of this folder as MusicXML."""
    for source in sorted((HERE / "scores").glob("*.txt")):
        target = HERE / f"{source.stem}.musicxml"
        target.write_bytes(writer.document(load(source)))
        sys.stdout.write(f"{target.name}\n")


if __name__ == "__main__":
    main()
