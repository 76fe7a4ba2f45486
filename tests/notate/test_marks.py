"""Signs over the notes, repeats and jumps, head of the file."""

from __future__ import annotations

from dataclasses import replace

import pytest
from lxml import etree

from reduce.model.draft import Draft, DraftMark
from reduce.model.score import Tempo
from reduce.notate import musicxml
from reduce.notate.layout import system_breaks
from reduce.notate.style import Style
from tests.notate.scores import draft, level, written

FOUR = "meter 4/4\nright | c5:4 d5 e5 f5 | g5:1 |\nleft | c3:1 | c3:1 |"
BEAT = 96


def mark(kind: str, onset: int, end: int | None = None, text: str = "", hand: str = "both", notes: tuple[str, ...] = ()) -> DraftMark:
    return DraftMark(kind=kind, onset=onset, end=onset if end is None else end, text=text, hand=hand, notes=notes)  # type: ignore[arg-type]


def around(root: etree._Element, path: str) -> tuple[str | None, str | None]:
    """The notes that stand before and after a sign in the stream (their steps)."""
    found = root.find(f".//{path}")
    while found.tag not in ("direction", "sound"):
        found = found.getparent()
    steps = [(item.findtext("pitch/step") if item.tag == "note" else None) for item in found.itersiblings(preceding=True)]
    after = [(item.findtext("pitch/step") if item.tag == "note" else None) for item in found.itersiblings()]
    return next(iter([step for step in steps if step]), None), next(iter([step for step in after if step]), None)


def test_dynamics_stand_once_between_the_staves() -> None:
    """A dynamic is written in the stream of the upper staff, below it."""
    root = written(FOUR, (mark("dynamic", 2 * BEAT, text="mf"),))
    (direction,) = [found for found in root.iter("direction") if found.find(".//dynamics") is not None]
    assert ("below", "1") == (direction.get("placement"), direction.findtext("staff"))
    assert ("D", "E") == around(root, "dynamics")


def test_a_hairpin_ends_in_its_bar() -> None:
    """The end of a hairpin at a bar line belongs to the bar that it fills; overlapping ones have numbers of their own."""
    root = written(FOUR, (mark("hairpin", 0, 4 * BEAT, "crescendo"), mark("hairpin", 2 * BEAT, 6 * BEAT, "diminuendo")))
    assert ["crescendo", "diminuendo", "stop"] == [wedge.get("type") for wedge in root.findall("part/measure[1]//wedge")]
    assert ["1", "2", "1", "2"] == [wedge.get("number") for wedge in root.iter("wedge")]


def test_a_sign_inside_a_note_has_an_offset() -> None:
    """A dynamic where nothing begins is placed by its offset."""
    root = written("meter 4/4\nright | c5:1 |\nleft | c3:1 |", (mark("dynamic", 2 * BEAT, text="p"),))
    assert 2 * int(root.findtext(".//divisions")) == int(root.findtext(".//direction/offset"))


def test_slurs_run_from_note_to_note() -> None:
    """A slur begins on its first note and ends on the last piece of its last, tied note."""
    root = written("meter 4/4\nright | c5:4 d5 e5 f5~ | f5:1 |\nleft | c3:1 | c3:1 |", (mark("slur", 0, 0, notes=("n1", "n4")),))
    assert [("n1", "start"), ("n4-tie2", "stop")] == [
        (note.get("id"), slur.get("type")) for note in root.iter("note") for slur in note.iter("slur")
    ]


def test_tempo_is_words_and_metronome() -> None:
    """Words, beat unit with its dots and the number make one sign; the playing speed in quarters goes with it."""
    made = replace(draft(FOUR), tempos=(Tempo(onset=0, quarters=90.0, text="Gently", unit="quarter", dots=1),))
    root = etree.fromstring(musicxml(made, level()))
    assert ("Gently", "quarter", "60") == tuple(root.findtext(f".//{path}") for path in ("words", "metronome/beat-unit", "per-minute"))
    assert 1 == len(root.findall(".//beat-unit-dot")) and "90" == root.find(".//sound").get("tempo")


def test_a_speed_for_playing_only_is_not_printed() -> None:
    """Where the source gave the number only as a hint for playback, so does the draft."""
    made = replace(draft(FOUR), tempos=(Tempo(onset=0, quarters=90.0, sounding=True),))
    root = etree.fromstring(musicxml(made, level()))
    assert root.find(".//metronome") is None and "90" == root.find("part/measure/sound").get("tempo")


def test_signs_on_notes() -> None:
    """Articulation, ornament, tremolo strokes, fermata, roll, fingering: each once, on its chord or note."""
    root = written(
        "meter 4/4\nright | <c5 e5>:4 (staccato accent) d5 (trill-mark) e5 (tremolo-3) f5 (fermata 3) |\nleft | <c3 e3 g3>:1 (roll) |"
    )
    for path, count in {"staccato": 1, "accent": 1, "trill-mark": 1, "fermata": 1, "arpeggiate": 3, "fingering": 1}.items():
        assert count == len(list(root.iter(path))), path
    assert "3" == root.findtext(".//tremolo")


def test_a_fermata_over_tied_notes_stands_over_the_last() -> None:
    """A held note over the bar line has its fermata once, at its end, on the staff that is meant (Gould, Behind Bars, from memory)."""
    made = draft("meter 4/4\nright | c5:1~ | c5:1 |\nleft | c3:1~ | c3:1 |")
    for hand, staves in (("right", ["1"]), ("both", ["1", "2"])):
        root = etree.fromstring(musicxml(replace(made, marks=(mark("fermata", 0, hand=hand),)), level()))
        signs = [note for note in root.iter("note") if note.find("notations/fermata") is not None]
        assert staves == [note.findtext("staff") for note in signs]
        assert [["stop"]] * len(staves) == [[tie.get("type") for tie in note.iter("tie")] for note in signs]


def test_graces_lead_to_their_note() -> None:
    """Grace notes stand before the note of their onset, take no time, and two or more share beams."""
    root = written("meter 4/4\nright | b4:16g c5:16g d5:1 |\nleft | c3:1 |".replace(":16g", ":g"))
    notes = [note for note in root.iter("note") if note.findtext("staff") == "1"]
    assert ["B", "C", "D"] == [note.findtext("pitch/step") for note in notes]
    assert [None, None, "1"] == [note.findtext("duration") and "1" for note in notes]
    assert ["begin", "end", None] == [note.findtext("beam") for note in notes]


def repeated(**changes: object) -> etree._Element:
    made = draft("meter 4/4\nright | c5:1 | d5:1 | e5:1 | f5:1 |\nleft | c3:1 | c3:1 | c3:1 | c3:1 |")
    bars = list(made.bars)
    for name, values in changes.items():
        for index, value in dict(values).items():  # type: ignore[call-overload]
            bars[index] = replace(bars[index], **{name: value})
    return etree.fromstring(musicxml(replace(made, bars=tuple(bars)), level()))


def test_repeats_and_endings() -> None:
    """First and second ending, with their brackets and repeat signs."""
    root = repeated(
        repeat_start={0: True}, repeat_end={2: 2}, endings={2: (1,), 3: (2,)}, ending_start={2: True, 3: True},
        ending_stop={2: "stop", 3: "discontinue"},
    )  # fmt: skip
    assert ["forward", "backward"] == [repeat.get("direction") for repeat in root.iter("repeat")]
    assert [("1", "start"), ("1", "stop"), ("2", "start"), ("2", "discontinue")] == [
        (ending.get("number"), ending.get("type")) for ending in root.iter("ending")
    ]


def test_jumps() -> None:
    """D.S. al coda: signs at the beginning of bars, words at their end, all of them playable."""
    root = repeated(jumps={0: ("segno",), 1: ("to-coda",), 2: ("dal-segno",), 3: ("coda",)})
    sounds = {name: value for sound in root.iter("sound") for name, value in sound.items()}
    assert {"segno": "segno", "tocoda": "coda", "dalsegno": "segno", "coda": "coda"} == sounds
    assert ["To Coda", "D.S."] == [words.text for words in root.iter("words")]


def test_a_jump_to_nowhere_is_only_printed() -> None:
    """D.S. in an excerpt without its sign keeps its words and is not played."""
    root = repeated(jumps={2: ("dal-segno",)})
    assert ["D.S."] == [words.text for words in root.iter("words")] and [] == list(root.iter("sound"))


def test_the_last_bar_is_closed() -> None:
    """A piece ends with the thin and thick line, also where the source's excerpt did not."""
    assert "light-heavy" == repeated(barline={3: ""}).findtext("part/measure[4]/barline/bar-style")


def test_people_and_texts_are_escaped() -> None:
    """Title, people, rights and source stand in the head; signs of markup in them are only text."""
    made: Draft = replace(draft(FOUR), title="Tea & <Scones>", composer='A "B" C', rights="free", source="a\x00b")
    root = etree.fromstring(musicxml(made, level()))
    assert "Tea & <Scones>" == root.findtext("work/work-title")
    assert 'A "B" C' == root.findtext("identification/creator[@type='composer']")
    assert "ab" == root.findtext("identification/source")


@pytest.mark.parametrize(
    ("bars", "size", "expected"),
    [(8, 4, [4]), (9, 4, [4, 7]), (10, 4, [4, 8]), (4, 4, []), (13, 4, [4, 8, 11]), (9, 0, [])],
)
def test_no_line_with_a_single_bar(bars: int, size: int, expected: list[int]) -> None:
    """Bars a line as the level asks; the last line borrows a bar rather than stand with one."""
    text = f"meter 4/4\nright | {'c5:1 | ' * bars}\nleft | {'c3:1 | ' * bars}"
    assert expected == sorted(system_breaks(draft(text).bars, Style(bars_a_line=size)))


def test_a_slur_stays_outside_two_voices() -> None:
    """Over a hand with two voices the tune's slur is above, the bass's below; in one voice the engraver chooses."""
    two = "meter 4/4\nright | c5:4 d5 e5 f5 |\nright, voice 2 | g4:1 |\nleft | c3:2 d3 |\nleft, voice 2 | g3:1 |"
    root = written(two, (mark("slur", 0, 0, notes=("n1", "n4")), mark("slur", 0, 0, notes=("n6", "n7"))))
    assert ["above", "below"] == [slur.get("placement") for slur in root.iter("slur") if slur.get("type") == "start"]
    one = written(FOUR, (mark("slur", 0, 0, notes=("n1", "n4")),))
    assert [None] == [slur.get("placement") for slur in one.iter("slur") if slur.get("type") == "start"]
