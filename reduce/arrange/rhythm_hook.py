"""The signature rhythm: the one pattern that everybody knows the piece by."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from reduce.arrange.line import Tone
from reduce.arrange.rhythm_cells import bar_rhythms
from reduce.arrange.rhythm_values import spoken
from reduce.model.record import dataclass
from reduce.model.rules import Rules
from reduce.model.score import Bar
from reduce.model.texture import Phrase


@dataclass(frozen=True, slots=True)
class Hook:
    """The theme's rhythm: ``lengths`` in ticks (rests negative), the indices of the bars that have it, and its name in words."""

    lengths: tuple[int, ...] = ()
    bars: tuple[int, ...] = ()
    words: str = ""


def opening_end(tones: Sequence[Tone], bars: Sequence[Bar], phrases: Sequence[Phrase], rules: Rules) -> int:
    """The tick at which the first phrases of the tune end, by which a piece is known; without phrases its first eight bars."""
    first = tones[0].onset if tones else 0
    heard = [phrase for phrase in phrases if phrase.end > first][: rules.whole("rhythm.signature.phrases")]
    opening = [bar for bar in bars if bar.end > first][:8]
    return heard[-1].end if heard else (opening[-1].end if opening else 0)


def signature(tones: Sequence[Tone], bars: Sequence[Bar], phrases: Sequence[Phrase], resolution: int, rules: Rules) -> Hook:
    """The bar rhythm of the first phrases that returns most and says most; an empty hook where nothing returns.

    A rhythm says more the more different values it has; one of equal values, or of one note, is nobody's signature.
    Source: common practice (the hook is what a listener claps).
    """
    least = rules.whole("rhythm.signature.occurrences-min")
    limit = opening_end(tones, bars, phrases, rules)
    rhythms = bar_rhythms(tones, bars, resolution)
    often = Counter(rhythm for _, rhythm in rhythms)
    best: tuple[float, int, tuple[int, ...]] | None = None
    for order, (bar, rhythm) in enumerate(rhythms):
        if bar.start >= limit:
            break
        struck = sum(1 for length in rhythm if length > 0)
        if often[rhythm] < least or struck < 2 or len(set(rhythm)) < 2:
            continue
        weight = often[rhythm] ** 0.5 * (len(set(rhythm)) + 0.5 * min(struck, 4))
        if best is None or (weight, -order) > (best[0], -best[1]):
            best = (weight, order, rhythm)
    if best is None:
        return Hook()
    places = tuple(bar.index for bar, rhythm in rhythms if rhythm == best[2])
    words = spoken(best[2], resolution)
    return Hook(best[2], places, "" if words.startswith("the run") else words)
