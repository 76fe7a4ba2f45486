"""Cadences: where the harmony closes."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from operator import attrgetter
from typing import Literal

from reduce.model.record import dataclass
from reduce.model.texture import Chord, LocalKey

CadenceKind = Literal["authentic", "half", "plagal", "deceptive"]
_at, _end = attrgetter("at"), attrgetter("end")


@dataclass(frozen=True, slots=True)
class Cadence:
    """A close whose last chord begins at ``at`` (ticks) and lasts until ``end``; ``strength`` 0..1."""

    at: int
    end: int
    kind: CadenceKind
    strength: float


def cadences(chords: tuple[Chord, ...], keys: tuple[LocalKey, ...], strong: Sequence[int]) -> tuple[Cadence, ...]:
    """Every progression that could close a phrase, with how strongly it does.

    ``strong`` holds the ticks of the strong beats, in order.  Authentic: dominant or leading-note chord to tonic; half: any chord to a
    dominant that stays; plagal: fourth degree to tonic; deceptive: dominant to the sixth degree.  Root positions and an arrival on a
    strong beat close more strongly.  Source: the usual definitions of harmony books (common practice).
    """
    beats = frozenset(strong)
    starts = [key.start for key in keys]
    found: list[Cadence] = []
    for index in range(1, len(chords)):
        last, before = chords[index], chords[index - 1]
        if before.end != last.start or not keys:
            continue
        key = keys[max(0, bisect_right(starts, last.start) - 1)]
        kind, strength = _close(before, last, key)
        if kind is None:
            continue
        if last.start not in beats:
            strength -= 0.25
        if last.end - last.start < before.end - before.start:
            strength -= 0.15
        strength *= 0.5 + 0.5 * min(last.certainty, before.certainty)
        if strength > 0:
            found.append(Cadence(last.start, last.end, kind, round(strength, 3)))
    return tuple(found)


def _close(before: Chord, last: Chord, key: LocalKey) -> tuple[CadenceKind | None, float]:
    degree, from_degree = (last.root - key.tonic) % 12, (before.root - key.tonic) % 12
    third = "major" if key.mode == "major" else "minor"
    dominant = (from_degree == 7 and before.quality in ("major", "dominant-seventh")) or (
        from_degree == 11 and before.quality in ("diminished", "half-diminished", "diminished-seventh")
    )
    firm = last.bass == last.root
    if degree == 0 and last.quality in (third, "major"):
        if dominant:
            strength = 0.5 + 0.25 * (firm and before.bass == before.root) + 0.1 * firm + 0.15 * (before.quality == "dominant-seventh")
            return "authentic", strength if from_degree == 7 else strength - 0.2
        if from_degree == 5 and firm and before.bass == before.root:
            return "plagal", 0.4
        return None, 0.0
    if degree == 7 and last.quality in ("major", "dominant-seventh") and firm and not dominant:
        return "half", 0.45 if last.quality == "major" else 0.25
    if dominant and degree in ((9,) if key.mode == "major" else (8,)) and firm and last.quality in ("minor", "major"):
        return "deceptive", 0.4
    return None, 0.0


def close_under(found: Sequence[Cadence], last: int, joint: int, slack: int) -> Cadence | None:
    """The close on which a phrase ends whose last note is struck at ``last`` and whose successor at ``joint``.

    ``found`` in order.  Its last chord begins no later than that note (``slack`` ticks allowed) and lasts until the joint, but for them.
    """
    near = found[bisect_left(found, joint - slack, key=_end) : bisect_left(found, min(last + slack + 1, joint), key=_at)]
    return max(near, key=lambda cadence: (cadence.strength, cadence.at), default=None)


def cadence_at(found: Sequence[Cadence], end: int, slack: int) -> CadenceKind | Literal[""]:
    """How a phrase that ends at ``end`` closes: the close whose last chord still sounds ``slack`` ticks before."""
    last = found[bisect_left(found, end - slack, key=_end) : bisect_left(found, end, key=_at)]
    return last[-1].kind if last else ""
