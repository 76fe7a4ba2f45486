"""Numbers as files write them, within sense."""

from __future__ import annotations

import re
from fractions import Fraction
from functools import lru_cache

_NUMBER = re.compile(r"[+-]?\d{1,12}(?:\.\d{1,12})?", re.ASCII)


@lru_cache(maxsize=1 << 12)
def exact(text: str | None) -> Fraction | None:
    """A plain decimal number, or None; no exponents, which a hostile file could make endless."""
    text = (text or "").strip()
    return Fraction(text) if _NUMBER.fullmatch(text) else None


def whole(text: str | None, default: int) -> int:
    """The nearest whole number, or ``default`` where the text is none."""
    found = exact(text)
    return default if found is None else round(found)


def decimal(text: str | None) -> float | None:
    """A number below a million, or None."""
    found = exact(text)
    return float(found) if found is not None and abs(found) < 1_000_000 else None


def staff_number(text: str | None) -> int:
    """The number of a staff, 1 where none is given."""
    return min(max(whole(text, 1), 1), 16)
