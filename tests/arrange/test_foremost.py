"""What the log leads with."""

from __future__ import annotations

from reduce.arrange.foremost import foremost
from reduce.model.decision import Decision, DecisionKind
from tests.arrange import lines


def _big(kind: DecisionKind, first: int) -> Decision:
    return Decision(id=kind, kind=kind, bars=(first, 20), sentence="", weight="big")


def test_what_is_played_comes_first_whatever_its_bars() -> None:
    """Law: the proposal of bars leads the log, then key and tempo, then what concerns a part of the piece."""
    told = [_big("melody", 0), _big("tempo", 4), _big("key", 0), _big("cut", 4), _big("figure", 4)]
    assert [d.kind for d in foremost(told, lines.rules("first-year"))] == ["cut", "key", "tempo", "melody", "figure"]
