"""The tune: who has it, in which order, and how that is explained."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from reduce.analyse import texture
from reduce.analyse.breaths import Breaths, breaths
from reduce.analyse.ear import log_odds, shipped, trained
from reduce.analyse.evidence import measure
from reduce.analyse.lines import grid, outline
from reduce.analyse.melody import paused
from reduce.analyse.path import Costs, best_path
from reduce.analyse.streams import desks_of, streams
from reduce.model.texture import Texture
from tests.analyse.hearing import rules, score

HANDED_OVER = """
meter 4/4
tempo 90
Oboe     | g5:4 e5 c5 d5 | e5:4. f5:8 d5:2 | g5:4 e5 c5 e5 | d5:1 | r:1 | r:1 | r:1 | r:1 |
Clarinet | r:1 | r:1 | r:1 | r:1 | g4:4 e4 c4 d4 | e4:4. f4:8 d4:2 | g4:4 e4 c4 e4 | c4:1 |
Viola    | <e4 g4>:1 | <d4 f4>:1 | <e4 g4>:1 | <d4 b3>:1 | e3:1 | f3:1 | e3:1 | e3:1 |
Cello    | c3:1 | g2:1 | c3:1 | g2:1 | c3:1 | g2:1 | c3:1 | c3:1 |
"""


def carriers(found: Texture) -> list[str]:
    names: list[str] = []
    for lead in found.tune:
        name = found.streams[lead.stream].name
        if not names or names[-1] != name:
            names.append(name)
    return names


def test_the_tune_passes_from_oboe_to_clarinet() -> None:
    """A theme that goes on in another register and another player is followed there, and the change is a big decision."""
    found, decisions = texture(score(HANDED_OVER), rules())
    assert carriers(found) == ["Oboe", "Clarinet"]
    told = [d for d in decisions if d.kind == "melody"]
    assert [d.weight for d in told] == ["big", "big"]
    assert "Oboe" in told[0].sentence and told[0].sentence.startswith("Bars 1–4:")


def test_a_returning_theme_names_the_bar_it_comes_from() -> None:
    """The clarinet's answer four bars later brings back the theme of bar 1."""
    _, decisions = texture(score(HANDED_OVER), rules())
    clarinet = next(d for d in decisions if d.kind == "melody" and "Clarinet" in d.sentence and d.bars[0] == 4)
    assert "the theme of bar 1" in clarinet.sentence


def test_leads_never_overlap_and_keep_their_notes_in_order() -> None:
    """Each lead ends before the next begins; its notes lie inside it, one at a time."""
    heard = score(HANDED_OVER)
    found, _ = texture(heard, rules())
    assert all(a.end <= b.start for a, b in pairwise(found.tune))
    for lead in found.tune:
        onsets = [heard.note_by_id[name].onset for name in lead.notes]
        assert onsets == sorted(set(onsets))
        assert lead.start <= onsets[0] and onsets[-1] < lead.end


def test_every_sentence_is_short_and_certain_between_nothing_and_one() -> None:
    """About 25 words a sentence; certainty is a chance."""
    _, decisions = texture(score(HANDED_OVER), rules())
    assert decisions
    assert all(len(d.sentence.split()) <= 32 for d in decisions)
    assert not [d.sentence for d in decisions if "the other " in d.sentence]  # the line that lost is named
    assert all(0 <= d.certainty <= 1 for d in decisions)


def test_the_first_reason_speaks_for_the_line() -> None:
    """What is wrong with the rival comes second, and never twice in the same sense."""
    found, _ = texture(score(HANDED_OVER), rules())
    assert all(not lead.evidence[0][0].startswith("the other") for lead in found.tune if lead.evidence)
    for lead in found.tune:
        said = {words for words, _ in lead.evidence}
        assert not {"it lies highest", "the other lies lowest"} <= said


def test_a_reason_is_true_by_itself() -> None:
    """Where two lines move alike, neither 'moves while the others hold'; a line under the rival does not 'lie highest'."""
    alone, _ = texture(score(HANDED_OVER), rules())
    assert {"it lies highest", "it moves while the others hold"} <= {words for words, _ in alone.tune[0].evidence}
    above = "c6:4 c6 c6 c6 | c6 c6 c6 c6 | c6 c6 c6 c6 | c6:1 |"
    found, _ = texture(score(HANDED_OVER.replace("<e4 g4>:1 | <d4 f4>:1 | <e4 g4>:1 | <d4 b3>:1 |", above)), rules())
    assert found.streams[found.tune[0].stream].name == "Oboe"
    assert not {"it lies highest", "it moves while the others hold"} & {words for words, _ in found.tune[0].evidence}


DRUMMED = """
meter 4/4
tempo 90
Cello    | c3:4 e3 g3 c4 | g3:4. f3:8 e3:2 | r:1 | r:1 | d3:4 f3 a3 d4 | c4:4 b3 c4:2 |
Timpani  | c3:4 r c3 r | g2:4 r c3 r | g2:4 g2 c3 g2 | c3:4 r r:2 | r:1 | g2:4 g2 c3:2 |
"""


def test_a_drum_leads_only_where_it_is_heard_by_itself() -> None:
    """Timpani that go with the bass have no tune; where they beat alone (bars 3 and 4) they have, as the annotators of openly annotated
    orchestral movements mark such strokes (OpenScore "Hauptstimme" annotations, CC BY-SA)."""
    heard = score(DRUMMED)
    found, told = texture(heard, rules())
    drums = [lead for lead in found.tune if found.streams[lead.stream].name == "Timpani"]
    assert [note.bar for lead in drums for name in lead.notes for note in [heard.note_by_id[name]]] == [2, 2, 2, 2, 3]
    with_others = [note.id for note in heard.notes if note.part == 1 and note.bar not in (2, 3)]
    assert {found.roles[name] for name in with_others} == {"rhythm"}
    assert [lead.stream for lead in found.bass if lead.stream == drums[0].stream] == []
    assert any(decision.sentence == "Bars 3–4: the tune is in Timpani, because it is all that is heard." for decision in told)


def test_silence_has_no_tune() -> None:
    """A score of rests gives a texture without leads, roles or decisions."""
    found, decisions = texture(score("meter 4/4\nFlute | r:1 | r:1 |"), rules())
    assert (found.tune, found.bass, dict(found.roles), decisions) == ((), (), {}, ())


def breathing(beats: int, streams: int, anywhere: bool = True) -> Breaths:
    table = np.full((beats, streams), anywhere)
    return air(table, table)


def air(begins: np.ndarray, ends: np.ndarray, torn: np.ndarray | None = None) -> Breaths:
    """The breaths of lines of which no one doubles another in another octave, unless told."""
    beats, streams = begins.shape
    return Breaths(begins=begins, ends=ends, torn=np.zeros((beats, streams, streams), dtype=bool) if torn is None else torn)


def test_a_path_stays_where_leaving_costs_more() -> None:
    """One beat of a better rival does not break the line; a long stretch does."""
    worth = np.array([[2.0, 0], [2, 0], [0, 1], [2, 0], [2, 0]])
    apart = np.zeros((5, 2, 2), dtype=bool)
    costs = Costs(change=1, doubling=0.1, silence=1)
    assert best_path(worth, apart, 0, costs, breathing(5, 2)).tolist() == [0, 0, 0, 0, 0]
    long = np.array([[2.0, 0], [0, 3], [0, 3], [0, 3]])
    assert best_path(long, np.zeros((4, 2, 2), dtype=bool), 0, costs, breathing(4, 2)).tolist() == [0, 1, 1, 1]


def test_a_path_changes_inside_a_phrase_only_for_much() -> None:
    """Where nobody breathes a change costs several times as much; it waits for the breath, or does not happen."""
    worth = np.array([[5.0, 0], [1, 2], [1, 2], [1, 2], [1, 2]])
    apart = np.zeros((5, 2, 2), dtype=bool)
    costs = Costs(change=1, doubling=0.1, silence=1, inside=5)
    assert best_path(worth, apart, 0, costs, breathing(5, 2, False)).tolist() == [0, 0, 0, 0, 0]
    entry, close = np.zeros((5, 2), dtype=bool), np.zeros((5, 2), dtype=bool)
    entry[3, 1] = True
    assert best_path(worth, apart, 0, costs, air(entry, close)).tolist() == [0, 0, 0, 1, 1]
    close[2, 0] = True
    assert best_path(worth, apart, 0, costs, air(entry, close)).tolist() == [0, 0, 1, 1, 1]


def test_a_path_stays_in_its_octave_inside_a_phrase() -> None:
    """A player of the same line takes it over for little, one who has it in another octave for the price of an octave."""
    worth = np.array([[2.0, 1], [2, 1], [1, 2], [1, 2]])
    linked, never = np.ones((4, 2, 2), dtype=bool), np.zeros((4, 2), dtype=bool)
    costs = Costs(change=5, doubling=0.3, silence=1, octave=3)
    assert best_path(worth, linked, 0, costs, air(never, never)).tolist() == [0, 0, 1, 1]
    assert best_path(worth, linked, 0, costs, air(never, never, linked)).tolist() == [0, 0, 0, 0]
    cheap = Costs(change=0.1, doubling=0.1, silence=1, octave=3)
    assert best_path(worth, ~linked, 0, cheap, air(~never, never, linked)).tolist() == [0, 0, 0, 0]


def test_the_tune_is_torn_where_one_goes_on_in_another_octave() -> None:
    """The flute joins the second bar of the oboe's phrase an octave higher, in part; in the third bar it goes on alone."""
    found = aired("meter 4/4\ntempo 90\nFlute | r:1 | a6:4 g6 r f6 | e6 f6 g6 a6 |\nOboe | g5:4 e5 f5 g5 | a5 g5 e5 f5 | r:1 |")
    assert [beat for beat in range(12) if found.torn[beat, 1, 0]] == [3, 4, 5, 6, 7]
    assert not found.torn[:, [0, 1], [0, 1]].any()


def aired(text: str) -> Breaths:
    """The breaths of a tiny score."""
    heard = score(text)
    players, stream_of = streams(heard)
    lines, beats = outline(heard, players, stream_of), grid(heard)
    return breaths(measure(lines, beats, desks_of(heard, players, stream_of), [s.part for s in players]), beats, rules())


def test_a_line_that_rests_for_a_moment_still_counts() -> None:
    """In the oboe's rest of a beat it speaks against the viola, which goes on, and not against the horn, which only answers; in a rest
    of a bar it does not count."""
    text = """
meter 4/4
tempo 90
Oboe  | g5:4 e5 r c5 | d5 e5 f5:2 | r:1 | g5:4 e5 c5 d5 |
Horn  | r:2 d4:4 r | r:1 | r:1 | r:1 |
Viola | g3:4 f3 e3 d3 | g3 f3 e3 d3 | g3 f3 e3 d3 | g3:1 |
"""
    heard = score(text)
    players, stream_of = streams(heard)
    lines, beats = outline(heard, players, stream_of), grid(heard)
    evidence = measure(lines, beats, desks_of(heard, players, stream_of), [s.part for s in players])
    odds = np.where(evidence.active, 1.5, -9.0)
    found = paused(evidence, odds, 2, 0.5)
    assert {(int(beat), int(stream)): round(float(found[beat, stream]), 3) for beat, stream in np.argwhere(found > 0)} == {(2, 2): 2.718}
    assert not paused(evidence, odds, 0, 0.5).any()


def test_a_line_breathes_at_a_rest_and_after_a_long_note() -> None:
    """A quarter rest, a half note after quarters, and the end are breaths; a repeated half note is none."""
    found = aired("meter 4/4\ntempo 90\nOboe | g5:4 e5 r c5 | d5 e5 f5:2 | e5:2 d5:2 | r:1 |")
    assert np.flatnonzero(found.begins[:, 0]).tolist() == [0, 3, 8]
    assert np.flatnonzero(found.ends[:, 0]).tolist() == [0, 2, 3, 7, 8, 11, 12, 13, 14, 15]


def test_a_path_says_nobody_where_all_are_worthless() -> None:
    """Beats of negative worth are given to nobody (-1) once the saving exceeds the cost."""
    worth = np.array([[2.0], [-3], [-3], [2]])
    assert best_path(worth, np.zeros((4, 1, 1), dtype=bool), 0, Costs(change=1, doubling=0, silence=1), breathing(4, 1)).tolist() == [
        0,
        -1,
        -1,
        0,
    ]


def test_the_best_path_is_the_best_of_all_paths() -> None:
    """Against trying every path: 3 beats, 2 streams and nobody, random worths, breaths and octaves."""
    from itertools import product

    random = np.random.default_rng(5)
    costs = Costs(change=0.7, doubling=0.1, silence=0.4, inside=2.5, octave=0.9)
    for _ in range(50):
        worth = random.normal(size=(3, 2))
        linked = np.zeros((3, 2, 2), dtype=bool)
        linked[random.integers(3)] = random.random() < 0.5
        breathes = air(random.random((3, 2)) < 0.5, random.random((3, 2)) < 0.5, random.random((3, 2, 2)) < 0.3)

        def value(path: tuple[int, ...], worth: np.ndarray = worth, linked: np.ndarray = linked, air: Breaths = breathes) -> float:
            total = sum(worth[t, s] if s >= 0 else 0.2 for t, s in enumerate(path))
            for t, (a, b) in enumerate(pairwise(path), 1):
                if a == b:
                    continue
                breath = (b >= 0 and air.begins[t, b]) or (a >= 0 and air.ends[t, a])
                price = (costs.silence if -1 in (a, b) else costs.change) * (1 if breath else costs.inside)
                if -1 not in (a, b) and (linked[t, a, b] or linked[t - 1, a, b]):
                    price = costs.doubling
                if -1 not in (a, b) and air.torn[t, a, b]:
                    price = max(price, costs.octave)
                total -= price
            return float(total)

        best = max(value(p) for p in product((-1, 0, 1), repeat=3))
        found = value(tuple(int(s) for s in best_path(worth, linked, 0.2, costs, breathes)))
        assert round(found, 9) == round(best, 9)


def test_an_ear_weighs_what_the_layer_before_heard() -> None:
    """By hand: 2 and 9 (held at 4) through weights 1, -1 / 0.5, 0.5 give -1.5 (not heard) and 3.25; twice that, less 1, is 5.5."""
    ear = trained(
        {
            "features": ["a", "b"],
            "low": [0, 0],
            "high": [4, 4],
            "layers": [
                {"weights": [[1, 0.5], [-1, 0.5]], "offsets": [0.5, 0.25]},
                {"weights": [[5], [2]], "offsets": [-1]},
            ],
        }
    )
    assert log_odds(ear, [np.array([2.0]), np.array([9.0])]).tolist() == [5.5]


def test_the_shipped_ear_fits_its_measurements() -> None:
    """Both hearings: a bound for each measurement, layers that follow on one another, one answer at the end."""
    for hearing in ("first", "second"):
        ear = trained(shipped("melody-ear")[hearing])
        count = len(ear.features)
        assert len(set(ear.features)) == count == len(ear.low) == len(ear.high)
        assert (ear.low <= ear.high).all()
        for weights, offsets in ear.layers:
            assert weights.shape == (count, len(offsets))
            count = len(offsets)
        assert count == 1


def test_a_repeated_note_between_the_notes_of_a_theme_is_no_tune() -> None:
    """Law: a horn that repeats one note on the downbeats does not take the tune from the line that moves between them."""
    theme, bass = (["e5", "f#5", "g5", "a5", "a#5", "b5", "b4", "e5"], ["c3", "a2", "e3", "c3", "f#2", "g2", "b2", "e3"])
    plucked = ["e4", "f#4", "g4", "a4", "a#4", "b4", "b3", "e4"]
    silent = "r:2. | " * 8
    flute, cello = ("".join(f"{note}:2. | " for note in line) for line in (theme, bass))
    violin, low = ("".join(f"r:4 {note} r | " for note in line) for line in (plucked, bass))
    heard = score(
        f"""
        meter 3/4
        tempo 140
        Flute  | {flute}{silent}
        Horn   | {silent}{"e4:4. r:8 r:4 | " * 8}
        Violin | {silent}{violin}
        Cello  | {cello}{low}
        """
    )
    found, _ = texture(heard, rules())
    horn = [heard.note_by_id[name].bar for lead in found.tune if found.streams[lead.stream].name == "Horn" for name in lead.notes]
    assert [bar for bar in horn if bar > 8] == []
