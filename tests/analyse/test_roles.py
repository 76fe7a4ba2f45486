"""Roles: every note has exactly one, and doublings, thirds and figures are told apart."""

from __future__ import annotations

from collections import Counter

from reduce.analyse import texture
from tests.analyse.hearing import rules, score

FULL = """
meter 4/4
tempo 90
Flute      | g5:4 e5 c5 d5 | e5:4. f5:8 d5:2 | g5:4 e5 c5 e5 | d5:1 |
Clarinet 1 | e5:4 c5 a4 b4 | c5:4. d5:8 b4:2 | e5:4 c5 a4 c5 | b4:1 |
Violin 1   | g4:4 e4 c4 d4 | e4:4. f4:8 d4:2 | g4:4 e4 c4 e4 | d4:1 |
Viola      | c4:8 g4 e4 g4 c4 g4 e4 g4 | d4 a4 f4 a4 b3 g4 d4 g4 | c4 g4 e4 g4 c4 g4 e4 g4 | b3 g4 d4 g4 b3:2 |
Horn in F  | g3:1 | g3:1 | g3:1 | g3:1 |
Cello      | c3:1 | d3:2 g2 | c3:1 | g2:1 |
"""


def test_each_player_does_one_thing() -> None:
    """Tune, its octave, its thirds, broken chords, a held note and the bass."""
    heard = score(FULL)
    found, _ = texture(heard, rules())
    most = {}
    for part in heard.parts:
        most[part.name] = Counter(found.roles[n.id] for n in heard.notes if n.part == part.index).most_common(1)[0][0]
    tune = {most.pop("Flute"), most.pop("Violin 1")}
    assert tune == {"melody", "melody-double"}
    assert most == {"Clarinet 1": "melody-third", "Viola": "figuration", "Horn in F": "harmony", "Cello": "bass"}


def test_every_struck_note_has_exactly_one_role() -> None:
    """Roles cover the notes that belong to a stream, no more and no fewer."""
    heard = score(FULL)
    found, _ = texture(heard, rules())
    assert set(found.roles) == set(found.stream_of) == {n.id for n in heard.notes}
