"""Of the keys that may be taken, the one in which the fewest bars ask for too much at once or lose notes of the tune."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from reduce.arrange import arranging, attempts
from reduce.arrange.arrangement import Request
from reduce.model.decision import Rejected
from tests.arrange import lines


def found(monkeypatch: pytest.MonkeyPatch, *tries: tuple[str, int, int]) -> tuple[str, int, list[Rejected]]:
    """The key that is taken of tries (name, bars over the budget, bars whose tune loses notes), the calmest tune that was asked for, and
    what the last try had passed over.  The keys come in this order."""
    asked: list[tuple[int, list[Rejected]]] = []

    def tried(score: Any, texture: Any, rules: Any, request: Request, calmest: int) -> SimpleNamespace:
        asked.append((calmest, list(request.passed)))
        name, over, thin = next((row for row in tries if row[0] not in {item.what for item in request.passed}), tries[0])
        desk = SimpleNamespace(bars=[None] * 8, texture=name, score=None)
        plan = SimpleNamespace(desk=desk, frame=None, choices=())
        return SimpleNamespace(plan=plan, name=name, over=over, hurt=2 * over + thin)

    monkeypatch.setattr(arranging, "_tried", tried)
    monkeypatch.setattr(arranging, "key_named", lambda texture, score, frame: texture)
    best = arranging._in_best_key(None, None, lines.rules("first-year"), Request(key="auto"))  # type: ignore[arg-type]
    return best.name, asked[-1][0], asked[-1][1]  # type: ignore[attr-defined]


def test_a_key_in_which_the_tune_is_whole_is_looked_for(monkeypatch: pytest.MonkeyPatch) -> None:
    """Law: where no bar is over the budget but the tune has lost notes for it, other keys are tried, and the log says why."""
    name, calmest, passed = found(monkeypatch, ("E minor", 0, 2), ("A minor", 0, 0))
    assert (name, calmest, passed) == ("A minor", 1, [Rejected("E minor", "2 bars of the tune lose notes")])
    name, calmest, passed = found(monkeypatch, ("E minor", 0, 1), ("A minor", 1, 0))
    assert (name, calmest) == ("E minor", 1)
    assert passed[0].why == "one bar of the tune loses notes"


def test_a_calmer_tune_is_the_last_resort(monkeypatch: pytest.MonkeyPatch) -> None:
    """Law: only where bars stay over the budget in every key, the best of them is tried again with fewer notes of the tune."""
    name, calmest, passed = found(monkeypatch, ("E minor", 2, 0), ("A minor", 1, 1))
    assert (name, calmest) == ("A minor", arranging.LAST_CALM)
    assert passed == [Rejected("E minor", "2 bars have more than one thing at the limit")]


def test_the_last_resort_has_the_rounds_for_all_its_steps() -> None:
    """Law: a bar that has to go through every step of its own left hand, of the hand before it and of its tune gets to the last of them."""
    beginner = lines.rules("first-year")
    assert attempts.rounds_of(beginner, 8, arranging.LAST_CALM) >= 2 * attempts.LAST + arranging.LAST_CALM
    assert attempts.rounds_of(beginner, 8, 1) < attempts.rounds_of(beginner, 8, arranging.LAST_CALM)
    assert attempts.rounds_of(lines.rules("advanced"), 8, arranging.LAST_CALM) == 0
