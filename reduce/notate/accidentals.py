"""Accidentals as printed: by key signature and the memory of the bar, with courtesies."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from reduce.model.pitch import STEPS
from reduce.notate.style import Style
from reduce.notate.written import Written

SIGNS = {0: "natural", 1: "sharp", -1: "flat", 2: "double-sharp", -2: "flat-flat", 3: "triple-sharp", -3: "triple-flat"}
SHARPS = "FCGDAEB"


def signature(fifths: int) -> dict[str, int]:
    """Alteration of each step under a key signature."""
    found = dict.fromkeys(STEPS, 0)
    for k in range(abs(fifths)):
        step = SHARPS[k % 7] if fifths > 0 else SHARPS[6 - k % 7]
        found[step] += 1 if fifths > 0 else -1
    return found


class Memory:
    """What the reader has in mind, staff by staff, while accidentals are set bar after bar."""

    def __init__(self, staves: int, style: Style) -> None:
        self.style = style
        self.key = 0
        self.last_bar: list[dict[str, int]] = [{} for _ in range(staves)]  # step -> alteration met in the bar before

    def bar(self, signs: Iterable[tuple[int, Written]], fifths: int) -> None:
        """Set the accidentals of one bar.  ``signs``: (home staff, sign) of all voices, ordered by time."""
        key = signature(fifths)
        staves = len(self.last_bar)
        held: list[dict[tuple[str, int], int]] = [{} for _ in range(staves)]  # (step, octave) -> alteration in force
        seen: list[dict[str, int]] = [{} for _ in range(staves)]  # step -> last alteration in any octave
        reminded: set[tuple[int, str, int]] = set()
        for home, sign in signs:
            for note in (*sign.graces, *sign.notes):
                if note.onset < sign.start and not note.grace:
                    continue  # tied: neither prints nor counts
                pitch = note.pitch
                staff = (note.staff or home) - 1
                place = (pitch.step, pitch.octave)
                normal = key[pitch.step]
                shown = held[staff].get(place, normal) != pitch.alter
                courtesy = False
                if not shown and self.style.courtesy and place not in held[staff]:
                    courtesy = self._courtesy(staff, pitch.step, pitch.octave, pitch.alter, seen, reminded)
                if shown or courtesy:
                    sign.accidentals[note.id] = (SIGNS.get(pitch.alter, "natural"), courtesy)
                    held[staff][place] = pitch.alter
                if shown or pitch.alter != normal:
                    seen[staff][pitch.step] = pitch.alter
        self.last_bar = [{step: alter for step, alter in found.items() if alter != key[step]} for found in seen]
        self.key = fifths

    def _courtesy(
        self, staff: int, step: str, octave: int, alter: int, seen: Sequence[dict[str, int]], reminded: set[tuple[int, str, int]]
    ) -> bool:
        """A reminder where the eye would still expect another sign: other octave, bar before, other staff."""
        once = (staff, step, octave)
        if once in reminded:
            return False
        here = seen[staff].get(step)
        other = next((found[step] for k, found in enumerate(seen) if k != staff and step in found), None)
        before = self.last_bar[staff].get(step)
        wanted = (here is not None and here != alter) or (here is None and before is not None and before != alter)
        if not wanted and self.style.courtesy_other_staff:
            wanted = other is not None and other != alter
        if wanted:
            reminded.add(once)
        return wanted
