"""The chords that are known, and which of them a handful of pitch classes can mean."""

from __future__ import annotations

from functools import lru_cache

from reduce.model.record import dataclass
from reduce.model.rules import Rules

_TEMPLATES = "harmony.chord-templates."


@dataclass(frozen=True, slots=True)
class Template:
    """A kind of chord: name, tones in semitones above the root (root first), price in tone-beats over a plain triad."""

    quality: str
    tones: tuple[int, ...]
    cost: float


def load_templates(rules: Rules) -> tuple[Template, ...]:
    """The templates of ``rules/harmony.toml`` in the order of the file."""
    return tuple(
        Template(
            name.removeprefix(_TEMPLATES),
            tuple(int(tone) for tone in rules.numbers(name)),
            rules.number("harmony.chord-cost." + name.removeprefix(_TEMPLATES)),
        )
        for name in rules.values
        if name.startswith(_TEMPLATES)
    )


@lru_cache(maxsize=8)
def chord_masks(shapes: tuple[tuple[int, ...], ...]) -> tuple[tuple[int, int, int], ...]:
    """For every chord id (``root * len(shapes) + shape``) its 12-bit set, root and third as a set, and how many tones have to sound."""
    rows = []
    for root in range(12):
        for shape in shapes:
            mask = 0
            for tone in shape:
                mask |= 1 << (root + tone) % 12
            rows.append((mask, 1 << root | 1 << (root + shape[1]) % 12, 3 if len(shape) == 4 else 2))
    return tuple(rows)


@lru_cache(maxsize=1 << 14)
def candidates(mask: int, shapes: tuple[tuple[int, ...], ...]) -> tuple[int, ...]:
    """Ids of the chords that could be meant by the pitch classes of ``mask``: two tones of it sound (or the only one).

    A chord of four tones must have three of them unless fewer sound.  Where no chord has two of the tones (a bare semitone), any
    chord with one of them as root or third may be meant.
    """
    sounding = mask.bit_count()
    last_resort = [(index, chord, least) for index, (chord, low, least) in enumerate(chord_masks(shapes)) if mask & low]
    found = [index for index, chord, least in last_resort if (chord & mask).bit_count() >= (least if least < sounding else sounding)]
    return tuple(found or [index for index, _, _ in last_resort])
