"""What stands in a rule file: settings, rules and level pages."""

from __future__ import annotations

from reduce.model.record import dataclass
from reduce.model.rules import Value

Scalar = int | float | str


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """One value with what a reader needs to judge it.

    ``name`` is the dotted name ('voicing.third-before-fifth.fifth-weight', or 'span-left' in a level); ``value`` is as
    written in the file.  ``range`` holds the smallest and the largest value, ``allowed`` the words to choose from.
    ``file`` is where the value in force stands.
    """

    name: str
    value: Value
    unit: str = ""
    meaning: str = ""
    source: str = ""
    range: tuple[Scalar, Scalar] | None = None
    allowed: tuple[Scalar, ...] = ()
    note: str = ""
    file: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """One table of a family file.  ``act`` is the dotted path of the function that applies it."""

    id: str
    family: str
    title: str
    why: str
    source: str
    example: str
    act: str
    settings: tuple[Setting, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelPage:
    """A level file with everything that it extends and every overlay laid over it."""

    name: str
    title: str
    about: str
    order: int
    settings: tuple[Setting, ...]
