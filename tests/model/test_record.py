"""Our records behave as the standard library's frozen dataclasses do, which are made here side by side as the judge."""

import copy
import dataclasses
import pickle
from dataclasses import field

import pytest

from reduce.model import record


@dataclasses.dataclass(frozen=True, slots=True, kw_only=True)
class Judge:
    name: str
    beats: tuple[int, ...] = (4,)
    seen: dict[str, int] = field(default_factory=dict, compare=False)


@record.dataclass(frozen=True, slots=True, kw_only=True)
class Ours:
    name: str
    beats: tuple[int, ...] = (4,)
    seen: dict[str, int] = field(default_factory=dict, compare=False)


@record.dataclass(frozen=True, slots=True)
class Low:
    midi: int


@record.dataclass(frozen=True, slots=True)
class High(Low):
    finger: int = 1


def test_one_is_made_as_the_judge_is():
    """Defaults, factories and shown text are the standard's."""
    ours, judge = Ours(name="a"), Judge(name="a")
    assert dataclasses.asdict(judge) == dataclasses.asdict(ours)
    assert repr(judge).replace("Judge", "Ours") == repr(ours)
    assert hash(judge) == hash(ours)
    assert ours.seen is not Ours(name="a").seen


def test_equal_records_are_equal_and_others_not():
    assert Ours(name="a", seen={"x": 1}) == Ours(name="a")
    assert Ours(name="a") != Ours(name="b")
    assert Ours(name="a") != Judge(name="a")
    assert {Low(60)} == {Low(60), Low(60)}


def test_a_record_never_changes():
    ours = Ours(name="a")
    for act in (lambda: setattr(ours, "name", "b"), lambda: delattr(ours, "name"), lambda: setattr(ours, "more", 1)):
        with pytest.raises(dataclasses.FrozenInstanceError):
            act()


def test_wrong_arguments_are_refused():
    for act in (Ours, lambda: Ours("a"), lambda: Ours(name="a", more=1), lambda: Low()):
        with pytest.raises(TypeError):
            act()


@pytest.mark.parametrize("change", [record.replace, dataclasses.replace])
def test_a_changed_copy_leaves_the_first(change):
    ours = Ours(name="a", beats=(3,))
    changed = change(ours, name="b")
    assert Ours(name="b", beats=(3,)) == changed
    assert Ours(name="a", beats=(3,)) == ours
    assert changed.seen is ours.seen
    with pytest.raises((AttributeError, TypeError)):
        change(ours, nothing=1)
    with pytest.raises(dataclasses.FrozenInstanceError):
        changed.name = "c"


def test_records_travel():
    """Pickled for a batch, copied, inherited: the same record."""
    for one in (Ours(name="a", seen={"x": 1}), High(60, finger=3)):
        for other in (pickle.loads(pickle.dumps(one)), copy.deepcopy(one), copy.copy(one)):
            assert one == other
            assert type(one) is type(other)
            assert dataclasses.asdict(one) == dataclasses.asdict(other)


def test_a_record_that_grew_from_another():
    high = High(60)
    assert (60, 1) == (high.midi, high.finger)
    assert High(60, 2) == record.replace(high, finger=2)
    assert Low(60) != high


def test_a_record_as_plain_values():
    """As `dataclasses.asdict` gives them."""
    nested = Ours(name="a", beats=((1, Low(60)), (2, High(61))), seen={"x": 1})
    assert dataclasses.asdict(nested) == record.as_values(nested)
