"""The listening task: who has the tune and who the bass in the orchestra, bars by bars; answers apart."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from reduce.model.booklet import Block, Heading, Items, Table, Text
from reduce.teach.lesson import Lesson

_BLANK = "_" * 18
_TUNE, _WITH, _BASS = ("melody",), ("melody-double", "melody-third"), ("bass",)
_REMARK = "["  # what stands in brackets behind a part's name is a remark of the edition


@dataclass(frozen=True, slots=True, kw_only=True)
class Heard:
    """Bars (indices, both included) in which one part has the tune: ``along`` play it with it; ``bass`` has most of the bass there."""

    first: int
    last: int
    tune: str
    along: tuple[str, ...] = ()
    bass: str = ""


def heard(lesson: Lesson) -> tuple[Heard, ...]:
    """The stretches that are asked: those of one part that last longest, in the order of the piece; none where only one part plays."""
    if len({part_of(fate) for fate in lesson.fates_here}) < 2:
        return ()
    leads = _by_bar(lesson, _TUNE)
    rules = lesson.rules
    shortest, most = rules.whole("teach.listening.shortest"), rules.whole("teach.listening.most")
    runs: list[tuple[int, int, str]] = []
    for k in range(len(lesson.draft.bars)):
        name = _most(leads.get(k))
        if name and runs and runs[-1][1] == k - 1 and runs[-1][2] == name:
            runs[-1] = (runs[-1][0], k, name)
        elif name:
            runs.append((k, k, name))
    long = [run for run in runs if run[1] - run[0] + 1 >= shortest] or runs
    chosen = sorted(sorted(long, key=lambda run: run[0] - run[1])[:most])
    along, bass = _by_bar(lesson, _WITH), _by_bar(lesson, _BASS)
    return tuple(
        Heard(first=first, last=last, tune=name, along=_along(leads, along, first, last, name), bass=_most(_sum(bass, first, last)))
        for first, last, name in chosen
    )


def task(lesson: Lesson) -> list[Block]:
    """The pupil's task, with room to write and the parts to choose from."""
    rows = heard(lesson)
    if not rows:
        return []
    say = lesson.words.say
    head = (say("listening.bars"), say("listening.tune"), say("listening.bass"))
    return [
        Heading(text=say("listening.title")),
        Text(text=say("listening.lead")),
        Table(head=head, rows=tuple((lesson.range_of(row.first, row.last), _BLANK, _BLANK) for row in rows), shares=(2, 5, 5)),
        Text(text=say("listening.choose", parts=", ".join(choices(lesson, rows)))),
        Items(items=tuple(say(f"listening.ask-{k}") for k in (1, 2)), mark="box"),
    ]


def told(lesson: Lesson) -> list[Block]:
    """The answers, for the teacher."""
    rows = heard(lesson)
    if not rows:
        return []
    say = lesson.words.say
    head = (say("listening.bars"), say("listening.tune"), say("listening.along"), say("listening.bass"))
    table = Table(
        head=head,
        rows=tuple((lesson.range_of(row.first, row.last), row.tune, ", ".join(row.along) or "–", row.bass or "–") for row in rows),
        shares=(2, 4, 5, 4),
    )
    return [Heading(text=say("listening.answers")), table, Text(text=say("listening.small-print"), look="small")]


def choices(lesson: Lesson, rows: tuple[Heard, ...]) -> tuple[str, ...]:
    """Names to choose from, by the alphabet: the answers, and some parts that play but are none."""
    right = {name for row in rows for name in (row.tune, row.bass) if name}
    others = [name for name, _ in Counter(part_of(fate) for fate in lesson.fates_here).most_common() if name not in right]
    return tuple(sorted({*right, *others[: lesson.rules.whole("teach.listening.others")]}))


def _by_bar(lesson: Lesson, roles: tuple[str, ...]) -> dict[int, Counter[str]]:
    """How many notes with a role each part has, bar by bar (indices)."""
    found: dict[int, Counter[str]] = {}
    for fate in lesson.fates_here:
        if fate["role"] in roles:
            found.setdefault(lesson.index_of[fate["bar"]], Counter())[part_of(fate)] += 1
    return found


def _along(leads: dict[int, Counter[str]], along: dict[int, Counter[str]], first: int, last: int, name: str) -> tuple[str, ...]:
    """The parts that have at least half as many notes with the tune as the part that leads."""
    least = _sum(leads, first, last)[name] / 2
    return tuple(part for part, count in _sum(along, first, last).most_common() if count >= least and part != name)


def _sum(by_bar: dict[int, Counter[str]], first: int, last: int) -> Counter[str]:
    total: Counter[str] = Counter()
    for k in range(first, last + 1):
        total.update(by_bar.get(k, {}))
    return total


def _most(count: Counter[str] | None) -> str:
    """The part with the most notes; of equals the one that comes first."""
    return max(count, key=lambda name: count[name]) if count else ""


def part_of(fate: Mapping[str, Any]) -> str:
    """The name of the part that a source note stands in."""
    return str(fate["part"]).partition(_REMARK)[0].strip()
