"""What a bar was eased by and does not need is given back."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from types import SimpleNamespace

from reduce import pipeline
from reduce.arrange.easing import Relief
from reduce.arrange.echoes import Echo
from reduce.arrange.given_back import given_back
from reduce.hands.check import check
from tests.arrange import lines

SAMPLE = Path(__file__).parents[2] / "samples" / "ferry-landing-waltz.musicxml"
EASED = Relief(tempos=(), ease={1: 5, 2: 5, 3: 5, 6: 2}, calm={1: 3, 5: 2}, plain=frozenset({7}))


def back(needs: Mapping[int, int], calm: Mapping[int, int], echoes: Mapping[int, Echo] | None = None, level: str = "first-year") -> Relief:
    """What is left of EASED where bars need so many steps of relief (``needs``) and so calm a tune (``calm``)."""

    def checked(state: Relief) -> SimpleNamespace:
        short = [state.ease.get(bar, 0) < least for bar, least in needs.items()] + [state.calm.get(b, 0) < n for b, n in calm.items()]
        return SimpleNamespace(load=[SimpleNamespace(over_budget=each, total=0.0) for each in short], breaches=())

    return given_back(EASED, checked(EASED), echoes or {}, checked, lines.rules(level))  # type: ignore[arg-type, return-value]


def test_nothing_is_kept_back_that_no_bar_needs() -> None:
    """Law: what all bars can do with comes back whole; what one needs stays, and only there."""
    free = back({}, {})
    assert (free.ease, free.calm, free.plain) == ({}, {}, frozenset())
    tight = back({1: 5, 2: 5, 3: 5, 6: 2}, {1: 3, 5: 2})
    assert (tight.ease, tight.calm) == (EASED.ease, EASED.calm)
    one = back({2: 5}, {5: 1})
    assert (one.ease[2], one.ease.get(6, 0), one.calm) == (5, 0, {5: 1})
    assert max(one.ease.get(1, 0), one.ease.get(3, 0)) < 5


def test_bars_that_repeat_each_other_stay_alike() -> None:
    """Law: bar 3 sounds like bar 1, which needs all of its relief."""
    found = back({1: 5}, {1: 3}, {3: Echo(1, 0)})
    assert found.ease == {1: 5, 3: 5}


def test_a_level_without_attempts_keeps_its_relief() -> None:
    """The setting easing.bar.given-back: 0 attempts at intermediate."""
    assert back({}, {}, level="intermediate") is EASED


def test_the_piece_is_fuller_and_no_harder(tmp_path: Path) -> None:
    """Law: with attempts our sample has more notes than without, and no more bars above the budget."""
    made = []
    for count in (0, 60):
        overlay = tmp_path / f"rules-{count}"
        overlay.mkdir()
        (overlay / "easing.toml").write_text(f"[bar.settings.given-back]\nvalue = [{count}, {count}, {count}, 0, 0, 0]\n", encoding="utf-8")
        result = pipeline.draft(SAMPLE, level="first-year", rules_dir=overlay)
        loads = check(result.draft, result.rules.level, result.rules).load
        made.append((len(result.draft.notes), sum(load.over_budget for load in loads)))
    (bare, before), (full, after) = made
    assert full > bare
    assert after <= before
