"""Where the rule files lie, and how one is opened."""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import tomllib
from functools import cache
from pathlib import Path
from typing import Any

import reduce
from reduce.rulebook.faults import Faults

LEVELS = "levels"
INSTRUMENTS = "instruments"


@cache
def home() -> Path:
    """The folder of the default rules: inside the installed package, or beside it in a checkout."""
    package = Path(reduce.__file__).resolve().parent
    inside = package / "rules"
    return inside if inside.is_dir() else package.parent / "rules"


def shown(path: Path) -> str:
    """How a fault names a file: default files by their place in the rule book, others as the caller wrote them."""
    try:
        return str(Path("rules") / path.relative_to(home()))
    except ValueError:
        return str(path)


def opened(path: Path, faults: Faults) -> dict[str, Any]:
    """The tables of a TOML file; a file that cannot be read is a fault and comes back empty."""
    try:
        content = path.read_bytes()
        return _remembered(path.stem, content) if path.is_relative_to(home()) else tomllib.loads(content.decode())
    except FileNotFoundError:
        faults.add(shown(path), "", "there is no such file")
    except OSError as error:
        faults.add(shown(path), "", f"cannot be read ({error.strerror or error})")
    except UnicodeDecodeError:
        faults.add(shown(path), "", "is not UTF-8 text; save it as UTF-8")
    except tomllib.TOMLDecodeError as error:
        faults.add(shown(path), "", f"is not TOML: {error}")
    return {}


def _remembered(name: str, content: bytes) -> dict[str, Any]:
    """The tables of a default file, as the first run that read it left them in the user's cache folder: reading TOML takes longer than
    all else that is done with the rules.

    What is left is called after the content that it was read from, so that it is never out of date.
    """
    called = f"{name}-{hashlib.sha256(content).hexdigest()[:24]}.json"
    found: dict[str, Any]
    with contextlib.suppress(OSError, RuntimeError, ValueError):  # no folder, no file, or one that was cut off
        found = json.loads((_left() / called).read_bytes())
        return found
    found = tomllib.loads(content.decode())
    with contextlib.suppress(OSError, RuntimeError, TypeError):
        text = json.dumps(found)
        _left().mkdir(parents=True, exist_ok=True)
        fresh = _left() / f"{called}.{os.getpid()}"
        fresh.write_text(text)
        fresh.replace(_left() / called)
    return found


def _left() -> Path:
    """The folder for what may be thrown away at any time.  Raises RuntimeError where the user has no home."""
    return Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "orchestral-reduction-assistant"


def family_files(folder: Path) -> tuple[Path, ...]:
    """The rule families of a folder, by name."""
    return tuple(sorted(path for path in folder.glob("*.toml") if path.stem != INSTRUMENTS))


def level_files(folder: Path) -> dict[str, Path]:
    """The level files of a rules folder by level name."""
    return {path.stem: path for path in sorted((folder / LEVELS).glob("*.toml"))}
