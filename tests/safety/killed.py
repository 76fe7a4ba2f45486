"""Writes into a draft folder over and over, killed each time at another moment; tells what stands afterwards.

    python -m tests.safety.killed FOLDER [two-steps]

For each moment at which writing touches the disk, a child process is killed (SIGKILL) right there.  Prints one JSON line a kill: what the
folder holds, what lies beside it, and the same after the next run has tidied up.
"""

from __future__ import annotations

import json
import os
import signal
import sys
from pathlib import Path

from reduce.report import folder, stand_in

FIRST = {"draft.musicxml": b"<one/>", "report.json": b"{}", "decisions.jsonl": b"{}\n"}
SECOND = {"draft.musicxml": b"<two/>", "report.json": b"{2}", "review.html": b"<html/>"}
MINE = b'[[choice]]\nbars = "1"\n'
EVENTS = ("open", "os.", "shutil.", "tempfile.", "ctypes.dlsym")


def write(target: Path, files: dict[str, bytes], moment: int) -> bool:
    """Writes in a child that is killed at its ``moment``-th touch of the disk; whether it came to its end before."""
    child = os.fork()
    if child == 0:
        touched = 0

        def touch(event: str, _: object) -> None:
            nonlocal touched
            if event.startswith(EVENTS) and event != "os.kill":
                touched += 1
                if touched == moment:
                    os.kill(os.getpid(), signal.SIGKILL)

        sys.addaudithook(touch)
        folder.write_folder(target, files)
        os._exit(0)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 0


def held(target: Path) -> dict[str, str] | None:
    if not target.exists():
        return None
    return {path.name: path.read_text() for path in sorted(target.iterdir()) if path.name != folder.MANIFEST}


def main() -> None:
    parent = Path(sys.argv[1])
    if sys.argv[2:] == ["two-steps"]:
        folder._exchanged = lambda *_: False  # type: ignore[assignment]
    target = parent / "draft"
    moment, ended = 1, False
    while not ended:
        stand_in.tidy(target)
        folder.write_folder(target, FIRST)
        (target / "choices.toml").write_bytes(MINE)
        ended = write(target, SECOND, moment)
        row = {"moment": moment, "ended": ended, "held": held(target)}
        stand_in.tidy(target)
        folder.check_folder(target)
        row |= {"tidied": held(target), "beside": sorted(path.name for path in parent.iterdir())}
        print(json.dumps(row))
        moment += 1


if __name__ == "__main__":
    main()
