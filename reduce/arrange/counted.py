"""How often, in words."""

from __future__ import annotations


def times(count: int) -> str:
    """'once', 'twice', '3 times'."""
    return {1: "once", 2: "twice"}.get(count, f"{count} times")
