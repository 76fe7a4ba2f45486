"""What each accompaniment does."""

from __future__ import annotations

from reduce.analyse.figures import figures
from reduce.analyse.harmony import harmony
from reduce.model.texture import Role
from tests.analyse.hearing import rules, score


def found(text: str, bass: tuple[str, ...] = (), tune: tuple[str, ...] = ("Tune",)) -> list[tuple[str, float, int, int]]:
    """(kind, pulse in quarters, first bar, last bar) of the parts that are neither tune nor given as bass otherwise."""
    heard = score(text)
    names = {part.index: part.name for part in heard.parts}
    roles: dict[str, Role] = {}
    for note in heard.notes:
        name = names[note.part]
        roles[note.id] = "melody" if name in tune else "bass" if name in bass else "harmony"
    stream_of = {note.id: note.part for note in heard.notes}
    length = heard.bars[-1].length
    return [
        (each.kind, each.pulse / heard.resolution, each.start // length, each.end // length - 1)
        for each in figures(heard, stream_of, roles, harmony(heard, rules())[0], rules())
    ]


def test_held() -> None:
    """Long notes through the bar line."""
    assert found("Viola | g4:1~ | g4:1 | a4:1 |") == [("held", 4.0, 0, 2)]


def test_repeated() -> None:
    """The same chord struck in even values."""
    assert found("Viola | <c4 e4>:8 <c4 e4> <c4 e4> <c4 e4> <c4 e4> <c4 e4> <c4 e4> <c4 e4> |") == [("repeated", 0.5, 0, 0)]


def test_measured_tremolo() -> None:
    """Repeated sixteenths, written out or through the stem."""
    written = "Viola | " + "c4:16 " + "c4 " * 15 + "|"
    assert found(written) == [("measured-tremolo", 0.25, 0, 0)]
    assert found("Viola | c4:2 (tremolo-2) e4:2 (tremolo-2) |")[0][0] == "measured-tremolo"


def test_tremolo() -> None:
    """Three strokes through the stem: unmeasured."""
    assert found("Viola | c4:1 (tremolo-3) | e4:1 (tremolo-3) |")[0][0] == "tremolo"


def test_broken_chord() -> None:
    """C-G-E-G within the octave."""
    bar = "c4:8 g4 e4 g4 c4 g4 e4 g4"
    assert found(f"Tune | e5:1 | e5:1 |\n Viola | {bar} | {bar} |") == [("broken-chord", 0.5, 0, 1)]


def test_arpeggio() -> None:
    """A chord climbing over more than an octave."""
    bar = "c3:8 g3 c4 e4 g4 e4 c4 g3"
    assert found(f"Tune | e5:1 | e5:1 |\n Harp | {bar} | {bar} |") == [("arpeggio", 0.5, 0, 1)]


def test_off_beats() -> None:
    """Chords after every beat."""
    bar = "r:8 <e4 g4> r <e4 g4> r <e4 g4> r <e4 g4>"
    assert found(f"Tune | c5:1 | c5:1 |\n Viola | {bar} | {bar} |") == [("off-beats", 1.0, 0, 1)]


def test_waltz_bass() -> None:
    """Bass on one, chords on two and three, by two parts."""
    text = """
    meter 3/4
    Tune  | e5:2.           | d5:2.           | e5:2.           |
    Viola | r:4 <e4 g4> <e4 g4> | r:4 <f4 g4> <f4 g4> | r:4 <e4 g4> <e4 g4> |
    Cello | c3:4 r r        | b2:4 r r        | c3:4 r r        |
    """
    assert found(text, bass=("Cello",)) == [("waltz-bass", 1.0, 0, 2), ("waltz-bass", 3.0, 0, 2)]


def test_march_bass() -> None:
    """Bass on the beats, chords after them."""
    text = """
    meter 2/4
    Tune  | e5:2                | d5:2                |
    Viola | r:8 <e4 g4> r <e4 g4> | r:8 <f4 g4> r <f4 g4> |
    Cello | c3:8 r g2 r         | b2:8 r g2 r         |
    """
    assert {kind for kind, *_ in found(text, bass=("Cello",))} == {"march-bass"}


def test_walking_bass() -> None:
    """Even steps in the bass, one a beat."""
    text = "Tune | e5:1 | a5:1 |\n Cello | c3:4 d3 e3 d3 | f3:4 e3 d3 c3 |"
    assert found(text, bass=("Cello",)) == [("walking-bass", 1.0, 0, 1)]


def test_scale_run() -> None:
    """Fast steps in one direction."""
    text = "Tune | e5:1 |\n Viola | c4:16 d4 e4 f4 g4 a4 b4 c5 d5 c5 b4 a4 g4 f4 e4 d4 |"
    assert found(text) == [("scale-run", 0.25, 0, 0)]


def test_unison() -> None:
    """Everybody on one line."""
    text = """
    Violin 1 | g5:8 g5 g5 eb5:2 r:8 | f5:8 f5 f5 d5:2 r:8 |
    Viola    | g4:8 g4 g4 eb4:2 r:8 | f4:8 f4 f4 d4:2 r:8 |
    Cello    | g3:8 g3 g3 eb3:2 r:8 | f3:8 f3 f3 d3:2 r:8 |
    """
    assert {kind for kind, *_ in found(text)} == {"unison"}


def test_fanfare_and_drum() -> None:
    """Brass calls in short and long values; the drum by its family."""
    text = """
    Tune    | c5:1               | c5:1               |
    Trumpet | c5:8. c5:16 c5:4 g4 c5 | c5:8. c5:16 c5:4 e5 g4 |
    Timpani | c3:4 r g2 r        | c3:4 r g2 r        |
    """
    assert {kind for kind, *_ in found(text)} == {"fanfare", "drum"}


def test_one_figure_a_section() -> None:
    """A bar that departs does not change the figure; silence of all is a rest."""
    bar = "c4:8 g4 e4 g4 c4 g4 e4 g4"
    text = f"""
    Tune  | e5:1  | e5:1  | e5:1    | e5:1  | r:1 | e5:1  |
    Viola | {bar} | {bar} | c4:2 e4 | {bar} | r:1 | {bar} |
    """
    assert found(text) == [("broken-chord", 0.5, 0, 3), ("rest", 0.0, 4, 4), ("broken-chord", 0.5, 5, 5)]
