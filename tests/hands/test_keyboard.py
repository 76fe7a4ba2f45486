"""Key positions and reach in millimetres."""

from reduce.hands.keyboard import NARROW_OCTAVES, centre, gaps, is_black, reach


def test_octave_is_165_millimetres_from_any_key() -> None:
    """Law: an octave is as wide from every key (standard keyboard: 6.5 in, 165 mm; instrument makers' figure)."""
    assert {reach((k, k + 12)) for k in range(21, 97)} == {165.0}


def test_white_key_intervals() -> None:
    """Law: on white keys every step is a seventh of an octave: fifth 94, sixth 118, seventh 141, ninth 189, tenth 212 mm."""
    assert [round(reach((60, k))) for k in (67, 69, 71, 74, 76)] == [94, 118, 141, 189, 212]


def test_keys_lie_in_order() -> None:
    """Law: a higher key lies further right, by 8 mm at least (black to neighbouring white)."""
    steps = [centre(k + 1) - centre(k) for k in range(21, 108)]
    assert min(steps) >= 7.9 and max(steps) < 24


def test_key_steps_agree_with_published_distances() -> None:
    """Source: key steps of fingering research after Jacobs (2001), octave 164 mm: C♯ 9.5, D 14, E 9.5, F 23.5, F♯ 8, A♯ 15.5, B 8."""
    measured = {k: round(centre(60 + k, 164.5) - centre(59 + k, 164.5), 1) for k in (1, 2, 3, 4, 5, 6, 7, 10, 11)}
    assert measured == {1: 9.5, 2: 14.0, 3: 14.0, 4: 9.5, 5: 23.5, 6: 8.0, 7: 15.5, 10: 15.5, 11: 8.0}


def test_narrow_keyboards_shrink_everything_alike() -> None:
    assert [round(reach((60, 72), octave), 1) for octave in NARROW_OCTAVES] == [152.4, 139.7]


def test_colours_and_gaps() -> None:
    assert [k for k in range(60, 72) if is_black(k)] == [61, 63, 66, 68, 70]
    assert [round(g) for g in gaps((60, 64, 67))] == [47, 47]
    assert reach(()) == 0.0 and reach((60,)) == 0.0
