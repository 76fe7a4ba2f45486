"""What is made lighter, and that one thing at a time is at its limit where the level says so."""

from __future__ import annotations

from pathlib import Path

import pytest

from reduce import pipeline
from reduce.arrange.figured import few_black
from reduce.hands.check import check
from tests import tiny

BUSY = """
meter 4/4
key C major
tempo 112
Violin 1 | e5:8 d5 c5:4 e5:8 f5 g5:4 | f#5:8 g5 f#5:4 g5:2 | e5:8 d5 c5:4 e5:8 f5 g5:4 | f5:4 d5 c5:2 |
Violin 2 | c4:8 e4 g4 e4 c4 e4 g4 e4 | d4:8 f#4 a4 f#4 b3 d4 g4 d4 | c4:8 e4 g4 e4 c4 e4 g4 e4 | b3 d4 f4 d4 c4 e4 g4 e4 |
Cello    | c3:4 g2 c3 g2 | d3:4 a2 g2 d3 | c3:4 g2 c3 g2 | g2:4 b2 c3:2 |
"""


def _drafted(folder: Path, level: str) -> pipeline.Result:
    path = folder / "busy.musicxml"
    path.write_bytes(tiny.musicxml(BUSY))
    return pipeline.draft(path, level=level, key="auto", length="full")


@pytest.mark.parametrize("level", ["first-year", "late-beginner"])
def test_no_bar_has_two_things_at_the_limit(tmp_path: Path, level: str) -> None:
    """Law: at the two easiest levels no bar has two dimensions at the limit (combined budget of the levels table)."""
    made = _drafted(tmp_path, level)
    found = check(made.draft, made.rules.level, made.rules)
    assert [(bar.number, bar.at_limit) for bar in found.load if bar.over_budget] == []


@pytest.mark.parametrize("level", ["first-year", "late-beginner", "intermediate"])
def test_one_tempo_is_told(tmp_path: Path, level: str) -> None:
    """Law: the reasons name one tempo, the one on the sheet."""
    made = _drafted(tmp_path, level)
    told = [d for d in made.decisions if d.kind == "tempo"]
    assert len(told) == 1
    assert f"{made.draft.tempos[0].quarters:g}" in told[0].sentence


QUICK = """
meter 3/8
key A minor
tempo 150
Oboe  | a4:16 b4 c5:8 d5 | e5:8 d5:16 c5 b4:8 | a4:16 b4 c5:8 e5 | a4:4. |
Cello | a2:4. | e3:4. | a2:4. | a2:4. |
"""


def test_eighth_pairs_outlive_a_quick_tempo(tmp_path: Path) -> None:
    """Law: a beginner's piece is slowed until its eighth pairs can be played, before the tune loses them."""
    path = tmp_path / "quick.musicxml"
    path.write_bytes(tiny.musicxml(QUICK))
    made = pipeline.draft(path, level="first-year", key="auto", length="full")
    assert max(tempo.quarters or 0 for tempo in made.draft.tempos) <= made.rules.level.tempo_max
    tune = sorted((note.onset, note.duration) for note in made.draft.notes if note.role == "melody")
    half = made.draft.resolution // 2
    assert [half, half] == [length for _, length in tune[:2]]


FAR = """
meter 4/4
key C major
tempo 112
Oboe  | c5:4 g#5 d#5 b5 | f#4:4 c#5 a#4 g5 | c5:4 ab5 eb5 b4 | f#5:4 bb4 g5 db5 | c6:4 eb5 f#5 ab4 | c5:1 |
Cello | c3:4 g#2 d#3 b2 | f#3:4 c#3 a#2 g3 | c3:4 ab2 eb3 b2 | f#3:4 bb2 g3 db3 | c3:4 eb3 f#3 ab2 | c3:1 |
"""


def test_what_cannot_be_eased_is_told(tmp_path: Path) -> None:
    """Law: where bars stay above the budget of an easy level, the log names every one of them with what is at its limit."""
    path = tmp_path / "far.musicxml"
    path.write_bytes(tiny.musicxml(FAR))
    (tmp_path / "rules").mkdir()
    (tmp_path / "rules" / "rhythm.toml").write_text("[broad.settings.share]\nvalue = 1\n", encoding="utf-8")  # doubled it could be eased
    made = pipeline.draft(path, level="first-year", key="keep", length="full", rules_dir=tmp_path / "rules")
    found = check(made.draft, made.rules.level, made.rules)
    over = [bar.bar for bar in found.load if bar.over_budget]
    told = [d for d in made.decisions if "stay at the limit together" in d.sentence]
    assert [bar for bar in over if not any(d.bars[0] <= bar <= d.bars[1] for d in told)] == []
    assert over
    assert told


def test_a_lighter_bar_says_what_it_would_have_been(tmp_path: Path) -> None:
    """Law: the number told is beyond the limit told, for it was measured before the bar was made lighter."""
    made = _drafted(tmp_path, "late-beginner")
    told = [d for d in made.decisions if d.rule == "easing.bar" and d.measured is not None and d.limit is not None and d.kind != "rhythm"]
    assert told
    assert [d.sentence for d in told if d.measured < d.limit] == []


TRIPLETS = """
meter 2/4
key C major
tempo 76
Violin 1 | e5:4 g5       | f5:4 d5       | e5:8t f5 g5 g5:8t f5 e5 | f5:4 d5       | d5:4 b4       | c5:2          |
Viola    | c4:8 g4 e4 g4 | b3 g4 d4 g4   | c4 g4 e4 g4             | b3 g4 d4 g4   | c4:8 g4 e4 g4 | c4 g4 e4 g4   |
Cello    | c3:2          | g2            | c3                      | g2            | c3            | c3            |
"""


def test_a_broken_chord_keeps_its_figure_at_half_its_pace(tmp_path: Path) -> None:
    """Law: where triplets stand over it, a broken chord goes on in the figure's order, half as quick, and the log says so."""
    path = tmp_path / "triplets.musicxml"
    path.write_bytes(tiny.musicxml(TRIPLETS))
    made = pipeline.draft(path, level="intermediate", length="full")
    quarter = made.draft.resolution
    left = [
        [(2 * (n.onset - bar.start) // quarter, n.midi) for n in made.draft.notes if n.hand == "left" and bar.start <= n.onset < bar.end]
        for bar in made.draft.bars
    ]
    assert [(0, 43), (1, 53), (2, 50), (3, 53)] == left[3]
    assert [(0, 48), (2, 55)] == left[2]
    told = [d.sentence for d in made.decisions if d.rule == "easing.bar" and d.bars == (2, 2)]
    assert len(told) == 1
    assert told[0].startswith("Bar 3: the broken chord goes at half its pace, because the hands would divide a beat differently")


@pytest.mark.parametrize(
    ("keys", "most", "kept"),
    [
        ((51, 55, 58), 1, (51, 55)),  # E flat, G, B flat: one black key leaves root and third
        ((51, 55, 58), 2, (51, 55, 58)),
        ((53, 58), 0, (53,)),
        ((58, 65), 0, (58,)),  # the bass stays, alone
        ((46,), 0, (46,)),
    ],
)
def test_a_chord_has_no_more_black_keys_than_the_level(keys: tuple[int, ...], most: int, kept: tuple[int, ...]) -> None:
    assert few_black(keys, most) == kept


CHORDS = """
meter 4/4
key C major
tempo 72
Oboe     | e5:2 d5     | c5 d5       | e5 f#5      | g5 e5       | d5 c5       | b4 d5       | c5:1        |
Clarinet | e4:1        | e4          | d4          | e4          | e4          | d4          | e4          |
Horn     | g3:1        | g3          | a3          | g3          | g3          | b3          | g3          |
Bassoon  | c3:1        | c3          | f#3         | c3          | c3          | g3          | c3          |
"""


def test_chords_of_one_size_rather_than_one_smaller_chord(tmp_path: Path) -> None:
    """Law: where a bar cannot bear a full chord all bars but the last have two notes; it is told once, and no bar stands out."""
    path = tmp_path / "chords.musicxml"
    path.write_bytes(tiny.musicxml(CHORDS))
    (tmp_path / "rules" / "levels").mkdir(parents=True)
    (tmp_path / "rules" / "levels" / "late-beginner.toml").write_text('figures = ["block-chords"]\n', encoding="utf-8")
    (tmp_path / "rules" / "accompaniment.toml").write_text("[section.settings.even-chords-up-to-level]\nvalue = 0\n", encoding="utf-8")
    made = pipeline.draft(path, level="late-beginner", key="keep", length="full", rules_dir=tmp_path / "rules")
    assert [] == [load.number for load in check(made.draft, made.rules.level, made.rules).load if load.over_budget]
    left = [note for note in made.draft.notes if note.hand == "left"]
    sizes = [[sum(n.onset == at for n in left) for at in {n.onset for n in left} if b.start <= at < b.end] for b in made.draft.bars]
    assert {2} == {size for row in sizes[:-1] for size in row}
    assert [3] == sizes[-1]
    assert 1 == sum("2 notes all through" in d.sentence for d in made.decisions)
    assert [] == [d.sentence for d in made.decisions if "lose a note" in d.sentence]
