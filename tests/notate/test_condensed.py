"""The condensed score: what is there, at sounding pitch, on few staves."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from lxml import etree

from reduce import analyse, rulebook
from reduce.model.score import Score
from reduce.model.texture import Lead, Stream, Texture
from reduce.notate import condensed, musicxml, together
from reduce.notate.doublings import joined
from reduce.read import load
from tests import tiny
from tests.notate.scores import draft, level

RULES = rulebook.load("advanced")
SAMPLE = Path(__file__).parents[2] / "samples" / "ferry-landing-waltz.musicxml"


def analysed(text: str, tmp_path: Path) -> tuple[Score, Texture]:
    path = tmp_path / "tiny.musicxml"
    path.write_bytes(tiny.musicxml(text))
    score = load(path, RULES.instruments)
    return score, analyse.texture(score, RULES)[0]


def by_hand(text: str, roles: dict[str, str], tmp_path: Path, doubled: tuple[str, ...] = ()) -> tuple[Score, Texture]:
    """A score with its roles told by part name, so that only the writing is tested."""
    score, _ = analysed(text, tmp_path)
    index = {part.name: part.index for part in score.parts}
    streams = tuple(Stream(id=part.index, part=part.index, staff=1, voice="1", name=part.name) for part in score.parts)
    names = {part.index: part.name for part in score.parts}
    tune = [name for name, role in roles.items() if role == "melody"]
    leads = tuple(
        Lead(
            start=0, end=score.end, stream=index[name], notes=tuple(n.id for n in score.notes if n.part == index[name]),
            doubled_by=tuple(index[other] for other in doubled),
        )
        for name in tune
    )  # fmt: skip
    texture = Texture(
        streams=streams,
        stream_of={note.id: note.part for note in score.notes},
        roles={note.id: roles[names[note.part]] for note in score.notes},  # type: ignore[misc]
        tune=leads,
    )
    return score, texture


def staff(root: etree._Element, name: str) -> etree._Element:
    """The part of this name."""
    (part,) = [found for found in root.iter("score-part") if found.findtext("part-name") == name]
    return root.find(f"part[@id='{part.get('id')}']")


def steps(part: etree._Element) -> list[str]:
    return [f"{note.findtext('pitch/step')}{note.findtext('pitch/octave')}" for note in part.iter("note") if note.find("pitch") is not None]


FOUR = """
meter 4/4
Oboe     | e5:4 f5 g5:2 |
Flute    | e6:4 f6 g6:2 |
Viola    | c4:2 d4 |
Clarinet | g4:2 f4 |
Cello    | c3:1 |
"""
ROLES = {"Oboe": "melody", "Flute": "melody-double", "Viola": "harmony", "Clarinet": "harmony", "Cello": "bass"}


def test_tune_harmony_bass(tmp_path: Path) -> None:
    """Without inner movement three staves; the octave doubling of the tune is named and not printed; equal rhythms share a stem."""
    root = etree.fromstring(condensed(*by_hand(FOUR, ROLES, tmp_path, doubled=("Flute",))))
    assert ["Melody", "Inner", "Bass"] == [name.text for name in root.iter("part-name")]
    assert ["E5", "F5", "G5"] == steps(staff(root, "Melody"))
    assert 2 == len(list(staff(root, "Inner").iter("chord")))
    assert "Ob., Fl. 8va" in [words.text for words in staff(root, "Melody").iter("words")]
    assert "Vla., Cl." in [words.text for words in staff(root, "Inner").iter("words")]


def test_notes_keep_the_ids_of_the_source(tmp_path: Path) -> None:
    """Each printed note is a note of the source by its id, and sounds as it does there."""
    score, texture = by_hand(FOUR, ROLES, tmp_path)
    root = etree.fromstring(condensed(score, texture))
    for note in root.iter("note"):
        if note.get("id") and "-tie" not in note.get("id"):
            source = score.note_by_id[note.get("id")]
            assert (source.pitch.step, str(source.pitch.octave)) == (note.findtext("pitch/step"), note.findtext("pitch/octave"))


def test_unisons_are_printed_once(tmp_path: Path) -> None:
    """Two players on one key are one note; where one repeats it and one holds it, the rhythm stays."""
    text = "meter 4/4\nOboe | e5:1 |\nHorn | g4:1 |\nViola | g4:4 g4 g4 g4 |\nCello | c3:1 |"
    roles = {"Oboe": "melody", "Horn": "harmony", "Viola": "harmony", "Cello": "bass"}
    assert ["G4"] * 4 == steps(staff(etree.fromstring(condensed(*by_hand(text, roles, tmp_path))), "Inner"))


def test_many_rhythms_two_voices(tmp_path: Path) -> None:
    """Three rhythms on a staff: the closest two are joined with ties, so that two voices remain and nothing is lost."""
    text = """
meter 4/4
Oboe     | e5:1 |
Clarinet | b4:2 a4 |
Horn     | g4:1 |
Viola    | d4:4 e4 d4 e4 |
Cello    | c3:1 |
"""
    roles = {"Oboe": "melody", "Clarinet": "harmony", "Horn": "harmony", "Viola": "harmony", "Cello": "bass"}
    part = staff(etree.fromstring(condensed(*by_hand(text, roles, tmp_path))), "Inner")
    assert {"1", "2"} == {voice.text for voice in part.iter("voice")}
    assert {"B4", "A4", "G4", "D4", "E4"} == set(steps(part))


@pytest.mark.parametrize(
    ("names", "expected"),
    [
        (["Fl. 1", "Fl. 2", "Ob. 1"], "Fl. 1/2, Ob. 1"),
        (["Violin I", "Violin II"], "Violin I/II"),
        (["Vc", "Cb"], "Vc, Cb"),
        (["Vla", "Vla"], "Vla"),
    ],
)
def test_players_of_one_instrument_stand_together(names: list[str], expected: str) -> None:
    """Names as a conductor would pencil them in."""
    assert expected == joined(names)


def test_the_sample(tmp_path: Path) -> None:
    """Every bar of the source with its number, each voice full, all tune and bass notes there."""
    score = load(SAMPLE, RULES.instruments)
    texture, _ = analyse.texture(score, RULES)
    root = etree.fromstring(condensed(score, texture))
    printed = {note.get("id") for note in root.iter("note")}
    wanted = {note.id for note in score.notes if texture.roles.get(note.id) in ("melody", "bass") and note.kind == "struck"}
    sounding = {(score.note_by_id[i].onset, score.note_by_id[i].midi) for i in printed if i in score.note_by_id}
    assert wanted and {(score.note_by_id[i].onset, score.note_by_id[i].midi) for i in wanted} <= sounding
    divisions = int(root.findtext(".//divisions"))
    for part in root.findall("part"):
        assert [bar.number for bar in score.bars] == [measure.get("number") for measure in part.findall("measure")]
        for bar, measure in zip(score.bars, part.findall("measure"), strict=True):
            for voice in {found.text for found in measure.iter("voice")}:
                length = sum(
                    int(note.findtext("duration"))
                    for note in measure.findall("note")
                    if note.findtext("voice") == voice and note.find("chord") is None and note.find("grace") is None
                )
                assert Fraction(bar.length, score.resolution) == Fraction(length, divisions)


def test_ticks_that_do_not_divide_a_beat(tmp_path: Path) -> None:
    """A source whose ticks are quarters, in 6/8, comes out in full bars all the same."""
    score, texture = by_hand("meter 6/8\nOboe | e5:2 r:4 |\nCello | c3:2. |", {"Oboe": "melody", "Cello": "bass"}, tmp_path)
    factor = score.resolution
    coarse = replace(
        score,
        resolution=1,
        bars=tuple(replace(bar, start=bar.start // factor, length=bar.length // factor) for bar in score.bars),
        notes=tuple(replace(note, onset=note.onset // factor, duration=note.duration // factor) for note in score.notes),
    )
    texture = replace(texture, tune=tuple(replace(lead, end=lead.end // factor) for lead in texture.tune))
    written = etree.fromstring(condensed(coarse, texture))
    assert ["quarter", "eighth", "eighth", "eighth", "half"] == [kind.text for kind in written.iter("type")]


def test_many_players_are_named_by_family(tmp_path: Path) -> None:
    """More than five instruments on a staff: three and more of a family become its name."""
    names = ("Flute", "Oboe", "Clarinet", "Bassoon", "Horn in F", "Violin 2", "Viola")
    text = "meter 4/4\nViolin 1 | c6:1 |\n" + "".join(
        f"{name} | {p}:1 |\n" for name, p in zip(names, ["e5", "c5", "g4", "e4", "c4", "g3", "e3"], strict=True)
    )
    roles = dict.fromkeys(names, "harmony") | {"Violin 1": "melody", "Cello": "bass"}
    root = etree.fromstring(condensed(*by_hand(text + "Cello | c3:1 |", roles, tmp_path)))
    assert ["Ww., Hn., Vln., Vla."] == [words.text for words in staff(root, "Inner").iter("words")]


def test_an_excerpt_of_the_source(tmp_path: Path) -> None:
    """Bars 2 and 3 of the source: their printed numbers, notes held over the edge cut there, names told anew."""
    text = "meter 4/4\nOboe | e5:1 | f5:1 | g5:1 | a5:1 |\nCello | c3:1 | d3:1~ | d3:1~ | d3:1 |"
    score, texture = by_hand(text, {"Oboe": "melody", "Cello": "bass"}, tmp_path)
    root = etree.fromstring(condensed(score, texture, bars=(1, 2)))
    assert ["2", "3"] == [measure.get("number") for measure in root.findall("part[1]/measure")]
    assert ["F5", "G5"] == steps(staff(root, "Melody"))
    assert ["start", "stop"] == [tie.get("type") for tie in staff(root, "Bass").iter("tie")]
    assert "Ob." in [words.text for words in root.iter("words")]


def test_source_and_draft_as_one_score(tmp_path: Path) -> None:
    """Condensed score above, draft below, bar under bar; the same number of bars is asked for."""
    score, texture = by_hand(FOUR, ROLES, tmp_path)
    below = musicxml(draft("meter 4/4\nright | e5:4 f5 g5:2 |\nleft | c3:1 |"), level())
    root = etree.fromstring(together(condensed(score, texture), below))
    assert ["Melody", "Inner", "Bass", "Piano"] == [name.text for name in root.iter("part-name")]
    assert [part.get("id") for part in root.findall("part")] == [part.get("id") for part in root.iter("score-part")]
    with pytest.raises(ValueError, match="bars"):
        together(condensed(score, texture), musicxml(draft("meter 4/4\nright | e5:1 | f5:1 |\nleft | c3:1 | c3:1 |"), level()))
