"""The 70 totals printed in Parncutt et al. (1997), Music Perception 14(4), for seven fragments of Czerny Op. 821.

Right hand; ten fingerings a fragment.  Fragment B goes round (its last note leads to its first).
"""

import pytest

from reduce.hands.ergonomics import PARNCUTT, RULES, score

A = (76, 79, 77, 79, 76, 77, 74, 76)
B = (76, 73, 74, 78)
C = (64, 61, 64, 69, 64)
D = (61, 65, 63, 66, 65, 68, 66)
E = (81, 92, 93, 88, 89, 85, 86, 80)
F = (55, 58, 62, 58, 67, 62)
G = (78, 79, 78, 76, 78, 76, 74)
FRAGMENTS = {"A": A, "B": B, "C": C, "D": D, "E": E, "F": F, "G": G}

PRINTED = """
A 6: 24342313
A 7: 13231213
A 8: 14342313 35453423
A 9: 13231323 13231423 13242313
A 10: 12142313 13232313 24342323
B 7: 3124 3214 4235
B 11: 4215
B 14: 1235 2124 3125 3215
B 15: 3235 4125
C 9: 21241 21251
C 10: 31241 31251 32351 42351
C 11: 31351 42151
C 12: 21351 32151
D 12: 1323132 1324132
D 13: 2412132
D 14: 1212132 1213242 1323142
D 15: 1323242 2413242 2435132
D 16: 1213232
E 24: 14523152
E 28: 14523142
E 31: 14512152
E 32: 14513152 14515342 14515352 14524152
E 33: 13412152 13523152 14515452
F 17: 124251
F 19: 124151
F 20: 123151 124141
F 22: 123141 124131
F 23: 135141 135251
F 24: 125251 135131
G 2: 3432321
G 3: 2321321
G 5: 3431321
G 6: 2432321 4542321
G 7: 2132321
G 8: 2321421 2321431 3132321 3432421
"""
ROWS = [
    (line.split(":")[0].split()[0], int(line.split(":")[0].split()[1]), fingers)
    for line in PRINTED.strip().splitlines()
    for fingers in line.split(":")[1].split()
]


def digits(text: str) -> tuple[int, ...]:
    return tuple(int(c) for c in text)


def test_there_are_seventy() -> None:
    assert len(ROWS) == 70


@pytest.mark.parametrize(("fragment", "printed", "fingers"), ROWS)
def test_printed_total(fragment: str, printed: int, fingers: str) -> None:
    """Law: table and rules give the total that is printed."""
    points = score(FRAGMENTS[fragment], digits(fingers), PARNCUTT, cyclic=fragment == "B")
    assert sum(points.values()) == printed


@pytest.mark.parametrize(
    ("fragment", "fingers", "row"),
    [
        ("A", "24342313", (0, 1, 0, 1, 1, 2, 0, 1, 0, 0, 0, 0)),
        ("B", "3214", (0, 3, 2, 0, 0, 1, 0, 0, 1, 0, 0, 0)),
        ("C", "32351", (0, 2, 6, 1, 0, 1, 0, 0, 0, 0, 0, 0)),
    ],
)
def test_printed_points_of_each_rule(fragment: str, fingers: str, row: tuple[int, ...]) -> None:
    """Source: the paper's tables of points by rule (one row of each of A, B, C)."""
    points = score(FRAGMENTS[fragment], digits(fingers), PARNCUTT, cyclic=fragment == "B")
    assert tuple(points[rule] for rule in RULES) == row
