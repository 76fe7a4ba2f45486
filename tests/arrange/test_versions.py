"""The source's note values, or values twice as long."""

from __future__ import annotations

import json
from pathlib import Path
from types import SimpleNamespace

import pytest

from reduce import pipeline
from reduce.arrange.versions import _better
from reduce.cli import run
from tests import tiny
from tests.arrange import lines

PAIRS = """
meter 4/4
key C major
tempo 96
Violin | c5:8 e5 g5 e5 d5:4 c5 | e5:8 c5 d5 f5 e5:2 | c5:8 e5 g5 e5 d5:4 c5 | e5:8 c5 d5 g4 c5:2 |
Viola | <e4 g4>:1 | <e4 g4>:1 | <e4 g4>:1 | <f4 g4>:2 <e4 g4> |
Cello | c3:1 | c3:1 | c3:1 | g2:2 c3 |
"""


def drafted(folder: Path, **settings: float) -> pipeline.Result:
    """The tune of leaping eighths for a first-year pupil, under settings of ``rhythm.broad``."""
    overlay = folder / "rules"
    overlay.mkdir()
    lines = "".join(f"[broad.settings.{name.replace('_', '-')}]\nvalue = {value}\n" for name, value in settings.items())
    (overlay / "rhythm.toml").write_text(lines, encoding="utf-8")
    source = folder / "pairs.musicxml"
    source.write_bytes(tiny.musicxml(PAIRS))
    return pipeline.draft(source, level="first-year", length="full", rules_dir=overlay)


def sung(result: pipeline.Result) -> list[int]:
    """The keys of the tune in their order."""
    return [note.midi % 12 for note in result.draft.notes if note.role == "melody"]


def test_longer_values_lose_no_note_of_the_tune(tmp_path: Path) -> None:
    """Law: the doubled version has all of the tune in its order, in twice as many bars that last as long in all."""
    result = drafted(tmp_path)
    tune = [note.midi % 12 for note in result.score.notes if note.part == 0]
    assert sung(result) == tune
    assert [bar.number for bar in result.draft.bars] == ["1", "1b", "2", "2b", "3", "3b", "4", "4b"]
    assert result.draft.end == result.score.end
    (told,) = [decision for decision in result.decisions if decision.rule == "rhythm.broad"]
    assert "each bar as two (1 and 1b), every value doubled" in told.sentence


@pytest.mark.parametrize(("name", "value"), [("share", 1.0), ("tempo_share", 1.0), ("up_to_level", 0)])
def test_each_setting_keeps_the_values_of_the_source(tmp_path: Path, name: str, value: float) -> None:
    """A teacher who will have no doubled values, or not at this price, gets the source's bars and a thinner tune."""
    result = drafted(tmp_path, **{name: value})
    assert len(result.draft.bars) == 4
    assert len(sung(result)) < 22


def test_bars_of_longer_values_bring_them_back(tmp_path: Path) -> None:
    """Who asks for bar 2b asks for the draft that has one; where no bar can be parted 2b is bar 2."""
    source = tmp_path / "pairs.musicxml"
    source.write_bytes(tiny.musicxml(PAIRS))
    assert [bar.number for bar in pipeline.draft(source, level="advanced", bars="2b-3").draft.bars] == ["2b", "3", "3b"]
    source.write_bytes(tiny.musicxml("meter 3/4\nViolin | c5:4 d5 e5 | d5:2. | c5:2. |\nCello | c3:2. | g2:2. | c3:2. |"))
    assert [bar.number for bar in pipeline.draft(source, level="advanced", bars="2b-3").draft.bars] == ["2", "3"]


@pytest.mark.parametrize(("first", "then", "bars"), [(0.05, 1, 8), (1, 0.05, 4)])
def test_a_locked_bar_keeps_the_values_it_was_locked_in(tmp_path: Path, first: float, then: float, bars: int) -> None:
    """Law: a rule that changes later does not take the bars away that the arranger has locked."""
    source, out, rules = tmp_path / "pairs.musicxml", tmp_path / "draft", tmp_path / "rules"
    source.write_bytes(tiny.musicxml(PAIRS))
    rules.mkdir()
    wishes = ["--level", "first-year", "--length", "full", "--rules", str(rules), "--no-review", "--out", str(out)]
    for value in (first, then):
        (rules / "rhythm.toml").write_text(f"[broad.settings.share]\nvalue = {value}\n", encoding="utf-8")
        assert run(["draft", str(source), *wishes]) == 0
        (out / "choices.toml").write_text('[[choice]]\nbars = "2"\nlock = true\n', encoding="utf-8")
    facts = json.loads((out / "report.json").read_bytes())
    assert (facts["draft"]["bars"], facts["doubts"]) == (bars, [])


@pytest.mark.parametrize(("written", "better"), [(11, False), (14, True), (16, True)])
def test_longer_values_do_not_cost_more_than_half_of_the_music(written: int, better: bool) -> None:
    """Law: fewer written bars than the source's values have are less than half of its music, and no theme, unless they alone close."""
    plain = SimpleNamespace(eased=4, sung=21, frame=SimpleNamespace(quarters=66.0), draft=SimpleNamespace(bars=(None,) * 14))
    broad = SimpleNamespace(eased=0, sung=21, frame=SimpleNamespace(quarters=132.0), draft=SimpleNamespace(bars=(None,) * written))
    assert _better(broad, plain, lines.rules("first-year")) is better  # type: ignore[arg-type]
    assert _better(broad, plain, lines.rules("first-year"), closes=True)  # type: ignore[arg-type]


@pytest.mark.parametrize(("lost", "better"), [(4, False), (5, True)])
def test_half_of_a_tune_in_ruins_is_worse_than_half_of_the_music(lost: int, better: bool) -> None:
    """Law: where a fifth of the tune's notes is saved (setting rhythm.broad.rescue) the longer values may have fewer bars."""
    plain = SimpleNamespace(eased=lost, sung=21, frame=SimpleNamespace(quarters=66.0), draft=SimpleNamespace(bars=(None,) * 14))
    broad = SimpleNamespace(eased=0, sung=12, frame=SimpleNamespace(quarters=132.0), draft=SimpleNamespace(bars=(None,) * 9))
    assert _better(broad, plain, lines.rules("first-year")) is better  # type: ignore[arg-type]
