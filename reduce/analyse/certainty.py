"""How sure a chord is."""

from __future__ import annotations

from collections.abc import Sequence
from math import exp

from reduce.analyse.search import Segment
from reduce.analyse.slices import Slice
from reduce.analyse.templates import Template
from reduce.model.record import dataclass
from reduce.model.rules import Rules


@dataclass(frozen=True, slots=True)
class Odds:
    """The settings of ``harmony.chord-certainty``, in log-odds (meanings there)."""

    base: float
    complete: float
    beat: float
    margin: float
    root_in_bass: float
    seventh: float
    off_beat: float

    @classmethod
    def of(cls, rules: Rules) -> Odds:
        def odds(name: str) -> float:
            return rules.number("harmony.chord-certainty." + name)

        return cls(odds("base"), odds("complete"), odds("beat"), odds("margin"), odds("root-in-bass"), odds("seventh"), odds("off-beat"))


def certainty(segment: Segment, pieces: Sequence[Slice], root: int, template: Template, odds: Odds) -> float:
    """The chance, 0..1, that a musician hears the same root.

    ``pieces`` are the segment's slices.  Longer chords, complete ones, those in root position and those far ahead of the best chord on
    another root are surer; seventh chords and those off the beat less sure.
    """
    beats = sum(piece.beats for piece in pieces)
    mask = 0
    for piece in pieces:
        mask |= piece.mask
    ahead = min(3.0, segment.margin / max(1.0, beats)) if segment.rival >= 0 else 2.5
    score = odds.base + odds.beat * min(4.0, beats) + odds.margin * ahead
    if all(mask >> (root + tone) % 12 & 1 for tone in template.tones[:3]):
        score += odds.complete
    if pieces[0].bass == root:
        score += odds.root_in_bass
    if len(template.tones) > 3:
        score += odds.seventh
    if pieces[0].strength == 3:
        score += odds.off_beat
    return 1 / (1 + exp(-score))
