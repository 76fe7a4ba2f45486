"""What the key makes the ear expect of the chords."""

from __future__ import annotations

from collections.abc import Sequence

from reduce.analyse.templates import Template
from reduce.model.rules import Rules

MAJOR = frozenset((0, 2, 4, 5, 7, 9, 11))
MINOR = frozenset((0, 2, 3, 5, 7, 8, 11))  # harmonic; the natural seventh counts half


def key_fit(tonic: int, minor: bool, templates: Sequence[Template], rules: Rules) -> tuple[float, ...]:
    """What each chord id gains or loses in a key, in tone-beats: its tones in the scale, its function, applied dominants."""

    def sense(name: str) -> float:
        return rules.number("harmony.key-sense." + name)

    outside, applied = sense("outside"), sense("applied")
    function = {0: sense("tonic"), 7: sense("dominant"), 5: sense("subdominant"), 2: sense("subdominant"), 11: sense("leading")}
    scale = MINOR if minor else MAJOR
    fits: list[float] = []
    for root in range(12):
        degree = (root - tonic) % 12
        for template in templates:
            strange = 0.0
            for tone in template.tones:
                step = (degree + tone) % 12
                if step not in scale:
                    strange += 0.5 if minor and step == 10 else 1.0
            fit = -outside * strange
            if not strange or (minor and degree == 7 and template.tones[1] == 3):
                fit += function.get(degree, 0.0)
            elif (template.tones[:2] == (0, 4) and (degree + 5) % 12 in scale and degree != 0) or (
                template.tones[:3] == (0, 3, 6) and (degree + 1) % 12 in scale
            ):
                fit = min(0.0, fit + applied * min(1.0, strange))
            fits.append(fit)
    return tuple(fits)
