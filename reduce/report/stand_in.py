"""What stands in for a draft folder or a file while it is written, beside it and hidden; and whose turn it is to write."""

from __future__ import annotations

import contextlib
import glob
import hashlib
import os
import platform
import re
import shutil
import time
from collections.abc import Iterator
from pathlib import Path

ASIDE = ".old"
"""How a stand-in ends that holds the earlier draft."""

_STAND_IN = re.compile(r"\..*\.[0-9a-f]{8}\.(?P<machine>[0-9a-f]{8})-(?P<process>\d+)-", re.DOTALL)
_LONGEST_WAIT = 10.0  # seconds
_STEP = 0.01


def tidy(target: Path) -> None:
    """Clears away what killed runs left beside ``target`` and in it; a draft that one of them had put aside goes back to its place."""
    target = Path(os.path.realpath(target))
    with contextlib.suppress(OSError):
        for left in sorted(target.parent.glob(glob.escape(_beside(target)) + "*")):
            if _left_over(left) and left.name.endswith(ASIDE) and not target.exists():
                left.rename(target)
            elif _left_over(left):
                shutil.rmtree(left, ignore_errors=True)
        for left in target.glob(".*"):
            if _left_over(left) and not left.is_dir():
                left.unlink(missing_ok=True)


def stand_in(target: Path) -> str:
    """How the name of a stand-in for ``target`` begins: it tells machine and process, so that what a killed run left is known."""
    return f"{_beside(target)}{_machine()}-{os.getpid()}-"


def _beside(target: Path) -> str:
    return f".{target.name[:60]}.{_digest(target.name)}."


def _machine() -> str:
    return _digest(platform.node())


def _left_over(path: Path) -> bool:
    """Whether ``path`` is a stand-in whose process is no more (on this machine; what others left is theirs to clear away)."""
    owner = _STAND_IN.match(path.name)
    if owner is None or owner["machine"] != _machine():
        return False
    try:
        os.kill(int(owner["process"]), 0)
    except (ProcessLookupError, OverflowError):
        return True
    except OSError:
        pass
    return False


@contextlib.contextmanager
def turn(folder: Path) -> Iterator[None]:
    """Waits until no other run writes ``folder`` or a file in it (where the system can tell, and at most ten seconds)."""
    handle = None
    with contextlib.suppress(ImportError, OSError):
        from fcntl import LOCK_EX, LOCK_NB, flock

        handle = os.open(folder.parent, os.O_RDONLY)
        for _ in range(int(_LONGEST_WAIT / _STEP)):
            try:
                flock(handle, LOCK_EX | LOCK_NB)
                break
            except BlockingIOError:
                time.sleep(_STEP)
    try:
        yield
    finally:
        if handle is not None:
            os.close(handle)


def _digest(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()[:8]
