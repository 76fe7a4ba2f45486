"""Gathers what is wrong in rule files, so that one answer tells it all."""

from __future__ import annotations

from collections.abc import Iterable

from reduce.model.errors import RuleError


class Faults:
    """A list of faults; each is one sentence that names file and key, and what would be right."""

    def __init__(self) -> None:
        self._found: list[str] = []

    def __bool__(self) -> bool:
        return bool(self._found)

    def add(self, file: str, key: str, sentence: str) -> None:
        where = f"{file}, {key}" if key else file
        self._found.append(f"{where}: {sentence}.")

    def unknown(self, file: str, key: str, name: str, known: Iterable[str], what: str) -> None:
        """``name`` is not among the ``known`` names of its kind (``what``): say the closest, and all of them."""
        names = list(known)
        self.add(file, key, f"there is no {what} {name!r}{closest(name, names)}; known are {listed(names)}")

    def settle(self) -> None:
        """Raises `RuleError` with every fault found, or does nothing."""
        if self._found:
            raise RuleError(tuple(self._found))


def closest(name: str, known: Iterable[str]) -> str:
    """A hint like " (did you mean 'fifth-weight'?)", or '' where nothing comes near."""
    import difflib

    near = difflib.get_close_matches(name, list(known), 1, 0.6)
    return f" (did you mean {near[0]!r}?)" if near else ""


def listed(names: Iterable[object]) -> str:
    """Names as running text."""
    return ", ".join(str(name) for name in names) or "none"
