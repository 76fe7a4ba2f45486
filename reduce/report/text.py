"""Plain text that reads well: wrapped sentences and tables."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

GAP = "  "


def wrapped(text: str, width: int, first: str = "", rest: str = "") -> list[str]:
    """Lines of at most ``width`` characters; ``first`` and ``rest`` begin the first and the other lines."""
    return textwrap.wrap(text, max(width, 30), initial_indent=first, subsequent_indent=rest, break_on_hyphens=False) or [first.rstrip()]


def columns(rows: Sequence[Sequence[str]], width: int, right: tuple[int, ...] = ()) -> list[str]:
    """A table whose first row is its head; the last column wraps, columns in ``right`` are flush right."""
    last = len(rows[0]) - 1
    widths = [max(len(row[i]) for row in rows) for i in range(last)]
    indent = sum(widths) + len(GAP) * last
    lines = []
    for row in rows:
        cells = [row[i].rjust(widths[i]) if i in right else row[i].ljust(widths[i]) for i in range(last)]
        text = textwrap.wrap(row[last], max(width - indent, 20)) or [""]
        lines.append((GAP.join([*cells, text[0]])).rstrip())
        lines += [" " * indent + more for more in text[1:]]
    return lines
