"""Opens the rule book: level, families, instruments, the arranger's folder and the pupil's profile."""

from __future__ import annotations

import dataclasses
import hashlib
from pathlib import Path

from reduce.model.errors import UsageError
from reduce.model.level import Level
from reduce.model.rules import Instrument, Rules, Value
from reduce.rulebook.family import default_rules, overlay_rules
from reduce.rulebook.faults import Faults, closest, listed
from reduce.rulebook.files import family_files, home, level_files
from reduce.rulebook.instruments import instruments
from reduce.rulebook.level import Shelf, as_record
from reduce.rulebook.profile import laid_over
from reduce.rulebook.records import LevelPage, Rule


def load(level: str, *, overlay: Path | None = None, profile: Path | None = None, span_mm: float | None = None) -> Rules:
    """Everything the stages need to know for one run.

    ``level`` is the name of a file in ``rules/levels`` (or in the overlay's ``levels``), ``overlay`` the arranger's rules
    folder, ``profile`` a pupil's file, ``span_mm`` the reach of the hand in millimetres, which wins over both.

    Raises `UsageError` where level, folder or file do not exist or the span is none, `RuleError` with every fault of every
    file otherwise.
    """
    faults = Faults()
    shelf = _shelf(level, overlay, faults)
    page = _page(shelf, level)
    pupil = ""
    if profile is not None and page is not None:
        page, pupil = laid_over(page, _existing(profile), faults)
    book = _rules(overlay, faults)
    players = instruments(home(), overlay, faults)
    record = as_record(page, pupil, faults) if page is not None and not faults else None
    faults.settle()
    assert record is not None
    if span_mm is not None:
        record = dataclasses.replace(record, hand_span=_span(span_mm))
    values: dict[str, Value] = {setting.name: setting.value for rule in book.values() for setting in rule.settings}
    return Rules(level=record, values=values, instruments=players, fingerprint=_fingerprint(record, values, players))


def _fingerprint(level: Level, values: dict[str, Value], players: dict[str, Instrument]) -> str:
    """Sixteen hexadecimal digits that change with every rule value, fitted data included."""
    told = [repr(level), *(f"{name}={values[name]!r}" for name in sorted(values)), *(repr(players[key]) for key in sorted(players))]
    print_of = hashlib.sha256("\n".join(told).encode())
    for path in sorted(home().glob("*.json")):
        print_of.update(path.read_bytes())
    return print_of.hexdigest()[:16]


def levels(overlay: Path | None = None) -> tuple[LevelPage, ...]:
    """Every level with its settings, the easiest first.  Raises as `load`."""
    faults = Faults()
    shelf = _shelf(None, overlay, faults)
    pages = [page for name in shelf.names if (page := shelf.page(name))]
    faults.settle()
    return tuple(sorted(pages, key=lambda page: (page.order, page.name)))


def level_page(level: str, *, overlay: Path | None = None, profile: Path | None = None) -> LevelPage:
    """One level with its settings, the overlay and the profile laid over it.  Raises as `load`."""
    faults = Faults()
    page = _page(_shelf(level, overlay, faults), level)
    if profile is not None and page is not None:
        page, _ = laid_over(page, _existing(profile), faults)
    faults.settle()
    assert page is not None
    return page


def rules(overlay: Path | None = None) -> tuple[Rule, ...]:
    """Every rule with its settings, by family and in the order of the files.  Raises as `load`."""
    faults = Faults()
    _shelf(None, overlay, faults)
    book = _rules(overlay, faults)
    faults.settle()
    return tuple(book.values())


def _shelf(level: str | None, overlay: Path | None, faults: Faults) -> Shelf:
    if overlay is not None:
        if not overlay.is_dir():
            raise UsageError(f"There is no rules folder {overlay}: name the folder that holds your rule files.")
        if not family_files(overlay) and not level_files(overlay) and not (overlay / "instruments.toml").exists():
            raise UsageError(f"The rules folder {overlay} holds no rule file: put FAMILY.toml or levels/NAME.toml into it.")
    shelf = Shelf(home(), overlay, faults)
    if level is not None and level not in shelf.names:
        names = _by_difficulty(shelf.names)
        raise UsageError(f"There is no level {level!r}{closest(level, names)}; the levels are {listed(names)}.")
    return shelf


def _by_difficulty(names: tuple[str, ...]) -> list[str]:
    """The level names, the easiest first; read only when a message needs it."""
    faults = Faults()
    shelf = Shelf(home(), None, faults)
    order = {name: page.order if (page := shelf.page(name)) else 0 for name in shelf.default}
    return sorted(names, key=lambda name: (order.get(name, len(order) + 1), name))


def _page(shelf: Shelf, level: str) -> LevelPage | None:
    """The wanted level; the arranger's other levels are read too, so that their faults are told at once."""
    page = shelf.page(level)
    for name in shelf.overlay:
        shelf.page(name)
    return page


def _rules(overlay: Path | None, faults: Faults) -> dict[str, Rule]:
    book = default_rules(home(), faults)
    return overlay_rules(overlay, book, faults) if overlay else book


def _existing(path: Path) -> Path:
    if not path.is_file():
        raise UsageError(f"There is no profile {path}: name the pupil's TOML file.")
    return path


def _span(span_mm: float) -> float:
    if not 80 <= span_mm <= 300:
        raise UsageError(f"A span of {span_mm:g} mm is no hand: give 80 to 300 millimetres (a fifth is 94, an octave 165).")
    return float(span_mm)
