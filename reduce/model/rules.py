"""Rule values as the stages see them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field

from reduce.model.level import Level
from reduce.model.record import dataclass

Value = int | float | str | bool | tuple[int | float | str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Instrument:
    """One row of ``rules/instruments.toml``: how it is named, how it sounds, where it plays (MIDI, sounding)."""

    key: str
    name: str
    short: str
    family: str
    names: tuple[str, ...]  # lower-case words that mean this instrument in a part name
    sounds: tuple[str, ...]  # MusicXML instrument-sound prefixes
    diatonic: int  # written to sounding, octaves included; used only where the file does not say
    chromatic: int
    lowest: int
    highest: int


@dataclass(frozen=True, kw_only=True)
class Rules:
    """The level, the instruments, and every other setting by its dotted name ('voicing.third-first.weight').

    Hot loops take what they need into locals first.
    """

    level: Level
    values: Mapping[str, Value] = field(default_factory=dict)
    instruments: Mapping[str, Instrument] = field(default_factory=dict)
    fingerprint: str = ""  # hash over all rule values, for the report

    def number(self, name: str) -> float:
        value = self.values[name]
        assert isinstance(value, (int, float)), name
        return float(value)

    def whole(self, name: str) -> int:
        value = self.values[name]
        assert isinstance(value, int), name
        return value

    def word(self, name: str) -> str:
        value = self.values[name]
        assert isinstance(value, str), name
        return value

    def flag(self, name: str) -> bool:
        value = self.values[name]
        assert isinstance(value, bool), name
        return value

    def numbers(self, name: str) -> tuple[float, ...]:
        value = self.values[name]
        assert isinstance(value, tuple), name
        return tuple(float(v) for v in value)

    def words(self, name: str) -> tuple[str, ...]:
        value = self.values[name]
        assert isinstance(value, tuple), name
        return tuple(str(v) for v in value)
