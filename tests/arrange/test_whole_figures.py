"""Where bars would leave the figure of their section another way is looked for: never a harder one, and the cheapest."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import partial
from types import SimpleNamespace

from reduce.arrange.figure_kept import by_turns, figure_kept
from reduce.arrange.figures_sections import Section, Settled, with_settled
from reduce.arrange.strands import Key
from reduce.arrange.whole_figures import Standing, Trial, Way, kept_whole, other_figures, slower_ways
from reduce.model.record import replace
from reduce.model.score import Meter
from tests.arrange import lines
from tests.arrange.test_figures import bars

FIRST = Standing(left=frozenset({2, 5}), notes=40, quarters=100, changes=1)

def taken(comes_to: Mapping[str, Standing]) -> str:
    """Which of several ways, named by their figure, is taken; each comes at once to what it comes to when eased."""

    def ways(trial: Trial[str]) -> Iterator[Way]:
        for name in comes_to if trial.piece == "first" else ():
            yield Way(settled=(Settled(0, 7, name, "alberti", 2),), free=FIRST.left)

    def glance(_: str, way: Way) -> Standing:
        return replace(comes_to[way.settled[0].figure], over=0, lost=0, heavy=0, breaches=0)

    def attempt(_: str, way: Way) -> Trial[str]:
        name = way.settled[0].figure
        return Trial(piece=name, standing=comes_to[name])

    return kept_whole(Trial(piece="first", standing=FIRST), ways, glance, attempt, 8, lines.rules("late-beginner")).piece


def test_the_cheapest_way_is_taken() -> None:
    """Law: two bars that leave their figure are dearer than a tempo a tenth slower, which is cheaper than half of the notes."""
    slower = replace(FIRST, left=frozenset(), quarters=90)
    thinner = replace(FIRST, left=frozenset(), notes=20)
    assert taken({"thinner": thinner, "slower": slower}) == "slower"
    assert taken({"one": replace(slower, left=frozenset({2}))}) == "one"
    assert taken({"slow": replace(slower, quarters=40)}) == "first"
    assert taken({"changes": replace(FIRST, left=frozenset(), changes=4)}) == "first"


def test_no_way_is_harder_or_has_less_of_the_tune() -> None:
    """Law: a way that loses a note of the tune, or leaves more above a limit, is passed over for the next one."""
    whole = replace(FIRST, left=frozenset())
    dearer = replace(whole, quarters=80)
    for worse in (replace(whole, lost=1), replace(whole, over=1), replace(whole, heavy=1), replace(whole, breaches=1)):
        assert taken({"worse": worse}) == "first"
        assert taken({"worse": worse, "dearer": dearer}) == "dearer"


def test_slower_tempi_end_where_they_cost_more_than_they_mend() -> None:
    """Law: two bars of eight are worth half of the tempo, one of forty a twentieth; never below the slowest."""
    rules = lines.rules("late-beginner")
    assert [way.quarters for way in slower_ways(FIRST, 90, 8, rules)] == [98, 96, 94, 92, 90]
    one = replace(FIRST, left=frozenset({3}))
    assert [way.quarters for way in slower_ways(one, 40, 40, rules)] == [98, 96]


def test_another_figure_has_whole_phrases_and_is_not_busier() -> None:
    """Law: bar 7 of twelve, phrases of four: another figure for bars 5 to 8 or for all; none that strikes more often."""
    places = bars(12, Meter((3,), 4))
    part = Section(0, 11, "root-and-fifth", "held")
    found = [way.settled[0] for way in other_figures([part], frozenset({6}), places, {0, 4, 8}, 60, lines.rules("late-beginner"))]
    assert {(item.first, item.last) for item in found} == {(4, 7), (0, 11)}
    assert {item.instead for item in found} == {"root-and-fifth"}
    assert not {item.figure for item in found} & {"root-and-fifth", "broken-triad", "waltz-bass"}
    assert [] == list(other_figures([replace(part, hers=True)], frozenset({6}), places, {0, 4, 8}, 60, lines.rules("late-beginner")))


def test_a_settled_figure_parts_its_section_and_tells_what_was_refused() -> None:
    """Law: bars 5 to 8 of a section have the settled figure, the rest stays; the one that they leave is told with its count."""
    made = with_settled([Section(0, 11, "block-chords", "held")], [Settled(4, 7, "held-root", "block-chords", 2)])
    assert [(part.first, part.last, part.figure) for part in made] == [(0, 3, "block-chords"), (4, 7, "held-root"), (8, 11, "block-chords")]
    assert [item.why for item in made[1].refused] == ["2 of 4 bars would have too much at the limit together"]
    assert made[0].refused == made[2].refused == ()


def _keys(*bars_of: tuple[tuple[int, int, int], ...]) -> list[Key]:
    """The left hand's keys of bars of 36 ticks: (onset in the bar, length, keys)."""
    return [
        Key("left", 1, 36 * place + onset, 36 * place + onset + length, 48 + 4 * each, each == 0)
        for place, row in enumerate(bars_of)
        for onset, length, count in row
        for each in range(count)
    ]


def _desk(count: int, ease: Mapping[int, int]) -> SimpleNamespace:
    return SimpleNamespace(bars=bars(count, Meter((3,), 4)), ease=ease, place=lambda onset: onset // 36)


def test_a_lighter_bar_like_its_neighbours_keeps_the_figure() -> None:
    """Law: an eased bar with the rhythm and as many keys as a quarter of the others is in its figure; with a key less it is not."""
    whole, less, broken = ((0, 36, 2),), ((0, 36, 1),), ((0, 24, 1), (24, 12, 1))
    parts = [Section(0, 7, "block-chords", "held")]
    desk = _desk(8, {2: 3, 5: 4, 6: 1})
    rows = [whole, whole, whole, broken, whole, less, whole, whole]
    assert figure_kept(_keys(*rows), parts, desk, 0.25) == {2}  # type: ignore[arg-type]
    assert figure_kept(_keys(*rows[:2], broken, *rows[3:]), parts, desk, 0.25) == frozenset()  # type: ignore[arg-type]
    assert figure_kept(_keys(*rows[:2], broken, *rows[3:]), parts, desk, 0.1) == {2}  # type: ignore[arg-type]
    assert figure_kept(_keys(*rows[:2], (), *rows[3:]), parts, desk, 0.1) == frozenset()  # type: ignore[arg-type]


def test_bars_that_rest_by_turns_are_a_figure_of_two_bars() -> None:
    """Law: two silent bars and more with a played one before each; not one alone, nor held and resting ones mixed, nor under the tune."""
    rows = [((0, 36, 2),) if place % 2 == 0 else () for place in range(6)]
    desk = _desk(6, {1: 5, 3: 5, 5: 5})
    found = partial(by_turns, _keys(*rows), kept=(), desk=desk, least=4)  # type: ignore[arg-type]
    assert found({1: False, 3: False, 5: False}, given=()) == {1, 3, 5}
    assert found({1: True, 3: False, 5: False}, given=()) == {3, 5}
    assert found({3: False}, given=()) == frozenset()
    assert found({1: False, 3: True, 5: False}, given=()) == frozenset()
    sung = (SimpleNamespace(onset=36 * 5),)
    assert found({1: False, 3: False, 5: False}, given=sung) == {1, 3}
