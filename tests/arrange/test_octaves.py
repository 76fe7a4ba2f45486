"""In which octave a line lies: where it is passed on in mid-scale, the scale goes on."""

from __future__ import annotations

from itertools import pairwise

from reduce.arrange.line import Tone
from reduce.arrange.octaves import Compass, placed
from reduce.model.pitch import in_key

SCALE = (67, 67, 67, 69, 71, 72, 74, 76, 77, 79, 81, 83, 84)  # G G G, handed on, A B C ... far above the level's highest key


def compass(wider: float) -> Compass:
    """A first-year right hand that may go down to C3 and up to G5."""
    return Compass(lowest=48, highest=79, easy_low=60, easy_high=79, octave=0.1, outside=0.2, seam=3.0, tear=40.0, leap=0.4, wider=wider)


def test_a_scale_that_is_passed_on_goes_on_in_one_octave() -> None:
    """G G G A B stays a scale; without the price for notes that come apart it would be G, a seventh down to A, and on."""
    line = [Tone(48 * k, 48 * (k + 1), midi, in_key(midi, 0), (f"n{k}",)) for k, midi in enumerate(SCALE)]
    heard = [[midi + shift for midi, shift in zip(SCALE, placed(line, {0, 144}, compass(price)), strict=True)] for price in (0.3, 0.0)]
    assert [b - a for a, b in pairwise(SCALE)] == [b - a for a, b in pairwise(heard[0])]
    assert -10 == heard[1][3] - heard[1][2]
