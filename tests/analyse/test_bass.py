"""The bass: the lowest sounding line, whoever plays it."""

from __future__ import annotations

from reduce.analyse import texture
from reduce.analyse.bass import lowest
from reduce.model.texture import Texture
from tests.analyse.hearing import rules, score

OCTAVES = """
meter 4/4
Violin 1    | g5:4 e5 c5 d5 | e5:4. f5:8 d5:2 | g5:4 e5 c5 e5 | d5:1 |
Timpani     | r:1 | g2:1 | r:1 | g2:1 |
Cello       | c3:2 e3 | g3:1 | c3:2 e3 | g2:1 |
Double Bass | c2:2 e2 | g2:1 | c2:2 e2 | g1:1 |
"""


def names(found: Texture) -> list[str]:
    return [found.streams[lead.stream].name for lead in found.bass]


def test_cello_and_double_bass_in_octaves_are_one_line() -> None:
    """The cello's notes are taken, the double bass is named as doubling (common practice: the written bass is the cello's)."""
    heard = score(OCTAVES)
    found, decisions = texture(heard, rules())
    assert names(found) == ["Cello"]
    assert [found.streams[s].name for s in found.bass[0].doubled_by] == ["Double Bass"]
    assert [heard.note_by_id[n].midi for n in found.bass[0].notes] == [48, 52, 55, 48, 52, 43]
    assert "doubled by Double Bass" in next(d.sentence for d in decisions if d.kind == "bass")


def test_drums_are_no_bass() -> None:
    """Timpani are evidence of the beat only: their role is rhythm."""
    heard = score(OCTAVES)
    found, _ = texture(heard, rules())
    drum = [found.roles[n.id] for n in heard.notes if heard.parts[n.part].name == "Timpani"]
    assert drum == ["rhythm", "rhythm"]


def test_the_bassoon_takes_over_where_the_strings_rest() -> None:
    """The true lowest line goes on in the bassoon."""
    found, _ = texture(
        score("""
meter 4/4
Oboe    | g5:4 e5 c5 d5 | e5:4. f5:8 d5:2 | g5:4 e5 c5 e5 | d5:4 e5 d5 c5 |
Bassoon | r:1 | r:1 | c3:1 | g3:2 c3 |
Cello   | c3:1 | g2:1 | r:1 | r:1 |
"""),
        rules(),
    )
    assert names(found) == ["Cello", "Bassoon"]


def test_every_note_of_the_line_is_lowest_when_struck() -> None:
    """Against the definition: at its onset nothing sounds below it."""
    heard = score(OCTAVES)
    notes = [n for n in heard.notes if heard.parts[n.part].name != "Timpani"]
    for note, end in lowest(notes):
        assert all(other.midi >= note.midi for other in notes if other.onset <= note.onset < other.end)
        assert note.onset < end <= note.end
