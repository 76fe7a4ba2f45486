"""A figure as one bar of equal shares, read from ``rules/accompaniment.toml`` and laid over any metre."""

from __future__ import annotations

from functools import lru_cache

from reduce.model.rules import Rules
from reduce.model.score import Meter

FIGURES = (
    "held-root", "open-fifth", "root-and-fifth", "block-chords", "chord-on-the-beat", "broken-triad", "waltz-bass", "march-bass",
    "after-beats", "repeated-chords", "slow-broken", "alberti", "wide-broken", "chord-tremolo", "drum-octave", "octave-unison", "bass-line",
    "tune-rhythm",
)  # fmt: skip

HOLD, REST = "-", "."

SPOKEN = {
    "held-root": "held bass notes",
    "open-fifth": "held open fifths",
    "root-and-fifth": "root and fifth in turn",
    "block-chords": "close-position chords",
    "chord-on-the-beat": "chords on the strong beats",
    "broken-triad": "a broken triad",
    "waltz-bass": "a waltz bass",
    "march-bass": "bass and after-beats",
    "after-beats": "after-beats in eighths",
    "repeated-chords": "repeated chords",
    "slow-broken": "a slow broken chord",
    "alberti": "a broken chord (low, high, middle, high)",
    "wide-broken": "a wide broken chord",
    "chord-tremolo": "tremolo between chord notes",
    "drum-octave": "low octaves for the drum",
    "octave-unison": "the tune doubled below",
    "bass-line": "the bass line itself",
    "tune-rhythm": "chords in the tune's rhythm",
}


def pattern(figure: str, meter: Meter, rules: Rules) -> tuple[str, ...]:
    """The shares of one bar of ``meter`` in ``figure``, or ``()`` where the figure does not fit the metre.

    Bars that are not in the table are put together from those that are: 9/8 from the halves of ``six``, 5/4 from ``three`` and ``two``.
    """
    table = {name: _split(rules.word(f"accompaniment.{figure}.{name}")) for name in ("two", "three", "four", "six")}
    if meter.compound:
        six, count = table["six"], meter.beats[0] // 3
        first, second = six[: len(six) // 2], six[len(six) // 2 :]
        return six * (count // 2) if count % 2 == 0 else (first + second * (count - 1) if six else ())
    if meter.beats == (3,) and meter.unit >= 8 and len(table["three"]) > 3:  # felt in one: half of a 6/8 bar
        return table["six"][: len(table["six"]) // 2]
    bar: tuple[str, ...] = ()
    shares = 0
    for count in (group for beats in meter.beats for group in _groups(beats)):
        group = table[("two", "two", "three", "four")[count - 1]]
        group = group[: len(group) // 2] if count == 1 else group
        if not group or (shares and len(group) / count != shares):
            return ()
        shares = len(group) // count
        bar += group
    return bar


def _groups(count: int) -> tuple[int, ...]:
    """A bar of ``count`` beats as groups of four, three and two."""
    if count <= 4:
        return (count,)
    if count % 3 == 0:
        return (3,) * (count // 3)
    if count % 2 == 0:
        return (4,) * (count // 4) + ((2,) if count % 4 else ())
    return (3, *_groups(count - 3))


@lru_cache(maxsize=256)
def _split(text: str) -> tuple[str, ...]:
    return tuple(text.split())


def strokes_a_second(shares: tuple[str, ...], meter: Meter, quarters: float) -> float:
    """Speed of the figure's fastest notes, in strokes a second at ``quarters`` a minute."""
    struck = [place for place, share in enumerate(shares) if share not in (HOLD, REST)]
    if not struck or quarters <= 0:
        return 0.0
    gaps = [after - before for before, after in zip(struck, [*struck[1:], struck[0] + len(shares)], strict=True)]
    bar_seconds = sum(meter.beats) * 4 / meter.unit * 60 / quarters
    return len(shares) / min(gaps) / bar_seconds
