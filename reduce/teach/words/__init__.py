"""The words of the pack, one catalogue a language: ``NAME.toml`` beside this file.

A sentence is asked for by its dotted name and filled with `str.format`; what counts has ``one`` and ``many``.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from functools import lru_cache
from importlib import resources
from typing import Any

from reduce.model.errors import UsageError
from reduce.model.record import dataclass


@dataclass(frozen=True, slots=True)
class Words:
    """The catalogue of one language; ``language`` as in ISO 639-1."""

    language: str
    texts: Mapping[str, str]

    def say(self, name: str, /, **facts: object) -> str:
        """The sentence of a dotted name, filled.  Raises KeyError where the catalogue has none: a mistake of ours."""
        return self.texts[name].format(**facts)

    def count(self, name: str, number: int, /, **facts: object) -> str:
        """The same where the words agree with a number, which fills ``{n}``."""
        return self.say(f"{name}.{'one' if number == 1 else 'many'}", n=number, **facts)

    def has(self, name: str) -> bool:
        return name in self.texts

    def get(self, name: str, otherwise: str) -> str:
        """A word where the catalogue has it, else ``otherwise``."""
        return self.texts.get(name, otherwise)

    def number(self, value: float, places: int) -> str:
        """A number with so many decimal places, as the language writes it."""
        return f"{value:.{places}f}".replace(".", self.texts["number.point"])

    def several(self, names: list[str]) -> str:
        """'A, B and C'."""
        if len(names) < 2:
            return "".join(names)
        return f"{', '.join(names[:-1])} {self.texts['list.and']} {names[-1]}"


def languages() -> tuple[str, ...]:
    """Every language that has a catalogue."""
    return tuple(sorted(file.name.removesuffix(".toml") for file in resources.files(__name__).iterdir() if file.name.endswith(".toml")))


@lru_cache(maxsize=4)
def words(language: str) -> Words:
    """The catalogue of a language.  Raises `UsageError` where there is none."""
    if language not in languages():
        raise UsageError(f"There are no words in {language!r} yet; the languages are {', '.join(languages())}.")
    text = resources.files(__name__).joinpath(f"{language}.toml").read_text(encoding="utf-8")
    return Words(language, dict(_flat(tomllib.loads(text))))


def _flat(table: Mapping[str, Any], prefix: str = "") -> Iterator[tuple[str, str]]:
    for key, value in table.items():
        name = f"{prefix}{key}"
        if isinstance(value, dict):
            yield from _flat(value, f"{name}.")
        else:
            yield name, str(value).strip()
