"""The figures of the sections as reasons: what the left hand plays, what for, and what was refused."""

from __future__ import annotations

from collections.abc import Sequence

from reduce.arrange.figures_pattern import SPOKEN
from reduce.arrange.figures_sections import TOO_MUCH, Section
from reduce.arrange.tune_rhythm import FIGURE, KIND
from reduce.model.decision import Decision
from reduce.model.rules import Rules
from reduce.model.score import Bar

SOURCE_WORDS = {
    "held": "held notes",
    "repeated": "repeated notes",
    "tremolo": "tremolo",
    "measured-tremolo": "measured tremolo",
    "broken-chord": "broken chords",
    "arpeggio": "arpeggios",
    "off-beats": "off-beats",
    "waltz-bass": "waltz bass",
    "march-bass": "march bass",
    "walking-bass": "walking bass",
    "scale-run": "scale runs",
    "unison": "unison",
    "fanfare": "fanfares",
    "drum": "drum strokes",
    "together": "common rhythm",
}


def told(parts: Sequence[Section], bars: Sequence[Bar], rules: Rules, quarters: float) -> tuple[Decision, ...]:
    """One decision a section; ``quarters`` a minute is the draft's tempo."""
    out = []
    longest = sorted(parts, key=lambda part: part.first - part.last)[:2]
    for order, part in enumerate(parts, 1):
        first, last = bars[part.first], bars[part.last]
        where = f"Bar {first.number}" if part.first == part.last else f"Bars {first.number}–{last.number}"
        source = "" if part.source == "other" else SOURCE_WORDS.get(part.source, part.source.replace("-", " "))
        wanted = rules.values.get(f"accompaniment.instead-of.{part.source}", ())
        better = [SPOKEN[name] for name in wanted if name in SPOKEN] if isinstance(wanted, tuple) else []
        better = better[: better.index(SPOKEN[part.figure])] if SPOKEN[part.figure] in better else better
        refused = [item for item in part.refused if ("notes a second" in item.why or TOO_MUCH in item.why) and item.what in better]
        played = SPOKEN[part.figure]
        together = part.figure == FIGURE and not part.hers
        if part.hers:
            reason = ", as the arranger chose"
        elif not source:
            reason = ", because the orchestra has no single figure here"
        elif together:
            reason = ", as the whole orchestra moves with it: both hands alike are the easiest together"
        elif part.figure == part.source:
            reason = f", as in the orchestra's {source}"
        elif refused:
            reason = f" for the orchestra's {source}: {refused[0].what} is refused, because {refused[0].why}"
        else:
            reason = f" for the orchestra's {source}: the nearest figure that this level has"
        out.append(
            Decision(
                id=f"figure-{order}",
                kind="figure",
                bars=(first.index, last.index),
                sentence=f"{where}, left hand: {played}{reason}.",
                onset=first.start,
                hand="left",
                weight="big" if part in longest else "medium",
                rule=f"accompaniment.{FIGURE}" if together else "accompaniment.instead-of",
                setting=f"accompaniment.{FIGURE}.bars"
                if together
                else f"accompaniment.instead-of.{'other' if part.source in ('', KIND) else part.source}",
                measured=quarters,
                unit="quarters a minute",
                rejected=part.refused[:3],
                by="arranger" if part.hers else "tool",
            )
        )
    return tuple(out)
