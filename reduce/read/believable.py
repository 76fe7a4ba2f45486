"""A tempo that is only a playback hint, held against the word printed above it."""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Sequence

from reduce.model.record import replace
from reduce.model.score import Bar, Tempo
from reduce.read.findings import Findings

# Beats a minute that words stand for, as metronomes are inscribed (common practice, from memory; the edges are set wide).
_WORDS = (
    (re.compile(r"\b(larg(?:o|hetto)|lent[oe]?|grave|sehr langsam)\b", re.IGNORECASE), 30, 70),
    (re.compile(r"\b(adagi\w*|langsam)\b", re.IGNORECASE), 40, 84),
    (re.compile(r"\b(andant\w*|modéré|mäßig\w*|gehend)\b", re.IGNORECASE), 56, 116),
    (re.compile(r"\b(moderato|allegretto|menuett?o?|marcia)\b", re.IGNORECASE), 76, 138),
)
_BEYOND = 1.25  # so much past the edge nobody plays it


def believable(tempos: Sequence[Tempo], bars: Sequence[Bar], findings: Findings) -> tuple[Tempo, ...]:
    """The tempos, with hints that count the wrong note set right.

    Playback hints count quarter-notes (MusicXML 4.0, attribute ``tempo`` of ``sound``).  In 3/8 and other bars of single eighths some
    programs enter the beats instead: 116 under 'Poco Allegretto' would be 232 eighths a minute.  Where the hint is far too fast for its
    word as quarters and right as beats, it is read as beats.  Printed metronome marks stand as they are.
    """
    starts = [bar.start for bar in bars]
    out: list[Tempo] = []
    word: tuple[str, int, int] | None = None
    for tempo in tempos:
        found = next(((low, high) for pattern, low, high in _WORDS if pattern.search(tempo.text)), None)
        word = (tempo.text, *found) if found else word
        bar = bars[max(0, bisect_right(starts, tempo.onset) - 1)] if bars else None
        eighths = bar is not None and bar.meter.unit == 8 and not bar.meter.compound
        if word and bar and eighths and tempo.sounding and tempo.quarters:
            said, low, high = word
            if low / _BEYOND <= tempo.quarters <= high * _BEYOND < 2 * tempo.quarters:
                findings.add(
                    "doubt",
                    "tempo",
                    f"The file plays {tempo.quarters:g} quarters a minute, which is {2 * tempo.quarters:g} beats of {bar.meter}; under "
                    f"{said!r} it is read as {tempo.quarters:g} eighths.",
                    bar=bar.number,
                )
                tempo = replace(tempo, quarters=tempo.quarters / 2, unit="eighth")
        out.append(tempo)
    return tuple(out)
