"""The exceptions, for what stops a run.

    ReduceError
    ├── UsageError       the call does not make sense: unknown level, bars out of range       exit 2
    ├── RuleError        a rule, level, profile or choices file is wrong (all faults at once) exit 2
    └── InputError       the score cannot be read                                             exit 3

Each carries one sentence that says what, where and what to do.
"""

from __future__ import annotations

from pathlib import Path


class ReduceError(Exception):
    """Base of all; ``status`` is the exit status of the command line."""

    status = 1


class UsageError(ReduceError):
    status = 2


class RuleError(ReduceError):
    status = 2

    def __init__(self, faults: tuple[str, ...]) -> None:
        super().__init__("\n".join(faults))
        self.faults = faults


class InputError(ReduceError):
    status = 3


def own_fault(error: Exception) -> str:
    """A mistake of the program, as one sentence that says where it happened."""
    last = error.__traceback__
    while last and last.tb_next:
        last = last.tb_next
    where = f" at {Path(last.tb_frame.f_code.co_filename).name}:{last.tb_lineno}" if last else ""
    told = f"{type(error).__name__}: {error}".splitlines()[0].rstrip(": ")
    return f"This is a mistake of the program, not yours ({told}{where}): please report it with the score that caused it."
