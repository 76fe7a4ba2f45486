"""The bass line's ground: what goes on sounding when the basses rest."""

from __future__ import annotations

from dataclasses import replace

from reduce.arrange.ground import held_by_another
from reduce.arrange.line import Tone
from tests.arrange import lines

PIECE = lines.score("""
meter 3/4
key C major
Cello | e2:4 (staccato) r r | e2:4 r r |
Horn  | e3:2.               | e3:2.    |
""")
CELLO, HORN = (lines.line(PIECE, part) for part in range(2))
REST = [replace(horn, onset=cello.end) for cello, horn in zip(CELLO, HORN, strict=True)]


def held(*still: Tone) -> list[tuple[str, int, tuple[str, ...]]]:
    """Name, length and signs of the bass, then of what is left for its gaps."""
    bass, rest = held_by_another(CELLO, still, lambda tone: PIECE.note_by_id[tone.sources[0]].onset)
    return [(str(tone.pitch), tone.duration // PIECE.resolution, tone.articulations) for tone in (*bass, *rest)]


def test_what_another_player_holds_on_is_one_long_note() -> None:
    """Law: a bass note that a player who struck it too holds on, in whatever octave, is held and not struck again; it is not short then."""
    assert held(REST[0]) == [("E2", 3, ()), ("E2", 1, ())]
    assert held(*REST) == [("E2", 3, ()), ("E2", 3, ())]


def test_another_note_is_a_stroke_of_its_own() -> None:
    """Law: what was not struck with the bass note, or is another note, stays for the gap."""
    other = replace(REST[0], midi=REST[0].midi + 3, pitch=REST[0].pitch.moved(2, 3))
    late = replace(REST[0], sources=CELLO[1].sources)
    assert held(other) == [("E2", 1, ("staccato",)), ("E2", 1, ()), (str(other.pitch), 2, ())]
    assert held(late) == [("E2", 1, ("staccato",)), ("E2", 1, ()), ("E3", 2, ())]
