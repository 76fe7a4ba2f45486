"""Dynamics and hairpins as key velocities."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence

from reduce.model.draft import DraftMark, DraftNote

# Sixteen steps between neighbours, mf at 80: the levels that notation programs commonly play (common practice, no single source).
VELOCITY = {
    "pppp": 10, "ppp": 16, "pp": 33, "p": 49, "mp": 64, "mf": 80, "f": 96, "ff": 112, "fff": 120, "ffff": 127,
}  # fmt: skip
STROKES = {"sf": 20, "sfz": 20, "sffz": 28, "fz": 20, "rfz": 16, "rf": 16, "sfp": 24, "fp": 24, "sfpp": 24}
AFTER = {"sfp": "p", "fp": "p", "sfpp": "pp"}
START = 72  # before the first mark
STEP = 16
ACCENT = {"accent": 12, "strong-accent": 20, "tenuto": 3}
INNER = -8  # harmony notes sound under the tune


class Loudness:
    """Velocity at any tick of one hand: steps at dynamic marks, straight lines along hairpins."""

    def __init__(self, marks: Sequence[DraftMark], hand: str) -> None:
        steps: list[tuple[int, int]] = [(0, START)]
        self.strokes: dict[int, int] = {}
        mine = [mark for mark in marks if mark.hand in ("both", hand)]
        for mark in sorted((mark for mark in mine if mark.kind == "dynamic"), key=lambda mark: mark.onset):
            if mark.text in STROKES:
                self.strokes[mark.onset] = STROKES[mark.text]
            level = VELOCITY.get(AFTER.get(mark.text, mark.text))
            if level is not None:
                steps.append((mark.onset, level))
        self.ramps: list[tuple[int, int, int, int]] = []
        for mark in sorted((mark for mark in mine if mark.kind == "hairpin" and mark.end > mark.onset), key=lambda mark: mark.onset):
            before = self._level(steps, mark.onset)
            louder = not mark.text.startswith(("dim", "decresc"))
            follows = next((level for onset, level in steps if mark.onset < onset <= mark.end + (mark.end - mark.onset) // 2), None)
            after = before + (STEP if louder else -STEP)
            if follows is not None and (follows > before) == louder and follows != before:
                after = follows
            after = max(10, min(127, after))
            self.ramps.append((mark.onset, mark.end, before, after))
            if not any(mark.onset < onset <= mark.end for onset, _ in steps):
                steps.append((mark.end, after))
                steps.sort(key=lambda step: step[0])
        self.onsets = [onset for onset, _ in steps]
        self.levels = [level for _, level in steps]

    @staticmethod
    def _level(steps: Sequence[tuple[int, int]], tick: int) -> int:
        return next(level for onset, level in reversed(steps) if onset <= tick)

    def at(self, tick: int) -> int:
        """Velocity of a plain note struck at ``tick``, 1..127."""
        for start, end, before, after in self.ramps:
            if start <= tick < end:
                return before + (after - before) * (tick - start) // (end - start)
        return self.levels[bisect_right(self.onsets, tick) - 1]

    def of(self, note: DraftNote) -> int:
        """Velocity of ``note`` with its accents and its place in the texture."""
        value = self.at(note.onset) + self.strokes.get(note.onset, 0)
        value += max((ACCENT.get(name, 0) for name in note.articulations), default=0)
        if note.role in ("harmony", "figuration", "rhythm"):
            value += INNER
        return max(1, min(127, value))
