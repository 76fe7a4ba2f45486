"""Signs over time: dynamics, hairpins, slurs, words, tempo, pedal, chord symbols.  Elements: W3C MusicXML 4.0."""

from __future__ import annotations

from pathlib import Path

import pytest

from reduce.model.score import Score
from tests.read.markup import back, codes, document, n, one, r, read, start, transpose, words


def marks(score: Score, kind: str) -> list[tuple[str, float, float]]:
    """(text, onset, end) of the marks of a kind, in quarter-notes."""
    return [(m.text, m.onset / score.resolution, m.end / score.resolution) for m in score.marks if m.kind == kind]


def direction(inside: str, more: str = "") -> str:
    return f"<direction><direction-type>{inside}</direction-type>{more}</direction>"


def test_dynamics_and_hairpins(tmp_path: Path) -> None:
    """Dynamics stand at a moment, hairpins from their beginning to their stop, over the bar line; offsets move them."""
    opened, closed = direction('<wedge type="crescendo"/>', "<offset>1</offset>"), direction('<wedge type="stop"/>')
    other = direction("<dynamics><other-dynamics>più f</other-dynamics></dynamics>")
    score = one(tmp_path, start() + direction("<dynamics><mf/></dynamics>") + opened + n("c4 4"), n("d4 2") + closed + other + n("e4 2"))
    assert marks(score, "dynamic") == [("mf", 0.0, 0.0), ("più f", 6.0, 6.0)]
    assert marks(score, "hairpin") == [("crescendo", 1.0, 6.0)]


def test_hairpin_without_end(tmp_path: Path) -> None:
    """A hairpin that never ends is left out and told."""
    score = one(tmp_path, start() + direction('<wedge type="diminuendo"/>') + n("c4 4"))
    assert (marks(score, "hairpin"), codes(score)) == ([], ["hairpin"])


def test_slurs_nest_and_cross_bars(tmp_path: Path) -> None:
    """Slurs are told apart by number; each knows its first and last note, ties counted as one note."""

    def slur(*signs: str) -> str:
        return "<notations>" + "".join(f'<slur type="{s.split()[0]}" number="{s.split()[1]}"/>' for s in signs) + "</notations>"

    score = one(
        tmp_path,
        start() + n("c4 1", slur("start 1", "start 2")) + n("d4 1", slur("stop 2")) + n("e4 2", '<tie type="start"/>'),
        n("e4 4", '<tie type="stop"/>' + slur("stop 1")),
    )
    pitch = {note.id: str(note.pitch) for note in score.notes}
    assert [(pitch[m.notes[0]], pitch[m.notes[1]], m.onset, m.end) for m in sorted(score.marks, key=lambda m: -m.end)] == [
        ("C4", "E4", 0, 384),
        ("C4", "D4", 0, 96),
    ]


def test_slur_that_changes_voice(tmp_path: Path) -> None:
    """A slur may end in a voice that the file writes before the one where it begins."""
    begin, end = (f'<notations><slur type="{kind}" number="1"/></notations>' for kind in ("start", "stop"))
    score = one(tmp_path, start() + r("2") + n("g5 2", end) + back("4") + n("c4 2", begin, voice="2") + r("2", voice="2"))
    assert marks(score, "slur") == [("", 0.0, 4.0)]


@pytest.mark.parametrize(
    ("inside", "quarters", "unit", "dots"),
    [
        ("<metronome><beat-unit>quarter</beat-unit><per-minute>96</per-minute></metronome>", 96.0, "quarter", 0),
        ("<metronome><beat-unit>quarter</beat-unit><beat-unit-dot/><per-minute>c. 40</per-minute></metronome>", 60.0, "quarter", 1),
        ("<metronome><beat-unit>half</beat-unit><per-minute>54</per-minute></metronome>", 108.0, "half", 0),
    ],
)
def test_metronome(tmp_path: Path, inside: str, quarters: float, unit: str, dots: int) -> None:
    """A metronome mark counts in its own value; ``quarters`` is what that means in quarter-notes."""
    tempo = one(tmp_path, start() + direction("<words>Andante</words>") + direction(inside) + n("c4 4")).tempos[0]
    assert (quarters, unit, dots, "Andante", False) == (tempo.quarters, tempo.unit, tempo.dots, tempo.text, tempo.sounding)


def test_brackets_around_a_metronome_mark(tmp_path: Path) -> None:
    """Brackets that a file writes as words on both sides of the mark are not words."""
    mark = "<metronome><beat-unit>quarter</beat-unit><per-minute>76</per-minute></metronome>"
    inside = f"<words>Allegretto [</words></direction-type><direction-type>{mark}</direction-type><direction-type><words>]</words>"
    tempo = one(tmp_path, start() + direction(inside) + n("c4 4")).tempos[0]
    assert (76.0, "Allegretto") == (tempo.quarters, tempo.text)


def test_tempo_words_and_hints(tmp_path: Path) -> None:
    """Words that set a tempo take the playback hint; words that bend it are marks only; a hint alone is known as such."""
    score = one(
        tmp_path,
        start() + words("Allegro con brio", '<sound tempo="108"/>') + n("c4 4"),
        words("poco rit.") + n("c4 4"),
        '<sound tempo="80"/>' + n("c4 4"),
    )
    assert [(t.onset, t.quarters, t.text, t.sounding) for t in score.tempos] == [
        (0, 108.0, "Allegro con brio", True),
        (384, 80.0, "", True),
    ]
    assert marks(score, "tempo-text") == [("Allegro con brio", 0.0, 0.0), ("poco rit.", 4.0, 4.0)]


def test_same_tempo_in_every_part(tmp_path: Path) -> None:
    """Programs write the tempo into each part; it counts once."""
    bar = start() + words("Presto") + n("c4 4")
    assert len(read(tmp_path, document(("Flute", [bar]), ("Oboe", [bar]))).tempos) == 1


def test_words_to_players(tmp_path: Path) -> None:
    """Playing directions are text, whatever their face."""
    score = one(tmp_path, start() + words("pizz.") + words("a 2") + words("div.") + words("dolce") + n("c4 4"))
    assert [text for text, _, _ in marks(score, "text")] == ["pizz.", "a 2", "div.", "dolce"]
    assert score.tempos == ()


def test_word_with_dashes(tmp_path: Path) -> None:
    """ "cresc. - - -" lasts as long as its dashes."""
    opened = direction('<words>cresc.</words></direction-type><direction-type><dashes type="start"/>')
    score = one(tmp_path, start() + opened + n("c4 4"), direction('<dashes type="stop"/>') + n("c4 4"))
    assert marks(score, "text") == [("cresc.", 0.0, 4.0)]


def test_pedal_letters_breath_fermata(tmp_path: Path) -> None:
    """Pedal from press to release, a change being both; rehearsal letter; breath after its note; fermata over silence."""
    pedals = [direction(f'<pedal type="{kind}"/>') for kind in ("start", "change", "stop")]
    breath = "<notations><articulations><breath-mark/></articulations></notations>"
    hold = "<notations><fermata/></notations>"
    score = one(
        tmp_path,
        start() + pedals[0] + direction("<rehearsal>B</rehearsal>") + n("c4 2", breath) + pedals[1] + n("d4 2"),
        pedals[2] + r("4", hold),
    )
    assert marks(score, "pedal") == [("", 0.0, 2.0), ("", 2.0, 4.0)]
    assert marks(score, "rehearsal") == [("B", 0.0, 0.0)]
    assert marks(score, "breath") == [("breath-mark", 2.0, 2.0)]
    assert marks(score, "fermata") == [("", 4.0, 8.0)]


def test_chord_symbol_sounds_like_its_part(tmp_path: Path) -> None:
    """A chord symbol in a transposed part is transposed with it (answer of the format's maintainer, W3C music notation group)."""
    symbol = "<harmony><root><root-step>D</root-step></root><kind>minor-seventh</kind><bass><bass-step>F</bass-step></bass></harmony>"
    score = one(tmp_path, start(more=transpose(-1, -2)) + symbol + n("d4 4"), name="Clarinet in B flat")
    assert marks(score, "chord-symbol") == [("Cm7/E♭", 0.0, 0.0)]


def test_words_sung(tmp_path: Path) -> None:
    """Syllables with their note; a hyphen where the word goes on."""
    sung = "<lyric><syllabic>{}</syllabic><text>{}</text></lyric>"
    score = one(tmp_path, start() + n("c4 2", sung.format("begin", "Glo")) + n("d4 2", sung.format("end", "ria")), name="Soprano")
    assert [text for text, _, _ in marks(score, "lyric")] == ["Glo-", "ria"]


def test_titles_and_people(tmp_path: Path) -> None:
    """Title, movement, people, rights, source, and the file's own fields."""
    head = (
        "<work><work-title>Weather  Suite</work-title></work><movement-number>2</movement-number><movement-title>Fog</movement-title>"
        '<identification><creator type="composer">A. Nemo</creator><creator type="arranger">B. Nemo</creator><rights>free</rights>'
        '<source>a manuscript</source><miscellaneous><miscellaneous-field name="level">advanced</miscellaneous-field></miscellaneous>'
        "</identification>"
    )
    score = read(tmp_path, document(("Violin", [start() + n("c4 4")]), head=head))
    assert (
        score.title, score.subtitle, score.composer, score.arranger, score.rights, score.source, score.fields,
    ) == ("Weather Suite", "2 Fog", "A. Nemo", "B. Nemo", "free", "a manuscript", (("level", "advanced"),))  # fmt: skip


def test_figured_bass_is_told(tmp_path: Path) -> None:
    """What is not understood is in the report, with its part."""
    score = one(
        tmp_path, start() + "<figured-bass><figure><figure-number>6</figure-number></figure></figured-bass>" + n("c3 4"), name="Continuo"
    )
    assert [(p.code, p.part) for p in score.problems] == [("figured-bass", "Continuo")]
