"""What a batch shows: the progress of its scores and bars on a terminal, and the table at its end."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any, TextIO

import click

from reduce.batch import Outcome, Task
from reduce.report.text import columns


def progress(outcomes: Iterable[Outcome], tasks: Sequence[Task], stream: TextIO) -> Iterator[Outcome]:
    """Hands the outcomes on; on a terminal a bar tells scores, bars and the estimated end, which goes by the length of the files."""
    if not stream.isatty():
        yield from outcomes
        return
    done = bars = 0

    def told(_: Outcome | None) -> str:
        return f"{done} of {len(tasks)} scores, {bars} bars"

    weights = {task: task.weight for task in tasks}
    shown: Any = click.progressbar(
        length=sum(weights.values()), label="Drafting", file=stream, item_show_func=told, show_percent=False, width=24
    )
    with shown as bar:
        for outcome in outcomes:
            done += 1
            bars += outcome.facts["draft"]["bars"] if outcome.facts else 0
            bar.update(weights[outcome.task], outcome)
            yield outcome


def as_json(outcomes: Sequence[Outcome]) -> dict[str, Any]:
    """The reports of the drafts and the reasons of the others."""
    return {
        "drafts": [
            {"folder": str(one.task.folder), "ending": one.ending, "seconds": round(one.seconds, 3), **one.facts}
            for one in outcomes
            if one.facts
        ],
        "failed": [
            {"score": str(one.task.score), "ending": one.ending, "seconds": round(one.seconds, 3), "why": one.why}
            for one in outcomes
            if not one.facts
        ],
    }


def table(outcomes: Sequence[Outcome], width: int) -> list[str]:
    """One line a score, in the order asked for, and the sum of them."""
    head = ("score", "result", "bars", "doubts", "seconds", "level")
    lines = columns([head, *(_row(one) for one in outcomes)], width, right=(2, 3, 4))
    counts = Counter(one.ending for one in outcomes)
    doubtful = sum(bool(one.facts and one.facts["counts"]["doubts"]) for one in outcomes)
    told = [
        f"{counts['drafted']} drafted",
        f"{counts['unchanged']} unchanged" if counts["unchanged"] else "",
        f"{doubtful} with doubts" if doubtful else "",
        f"{counts['refused'] + counts['failed']} failed",
    ]
    return [*lines, ", ".join(filter(None, told)) + "."]


def _row(one: Outcome) -> tuple[str, ...]:
    seconds = f"{one.seconds:.1f}"
    if one.facts is None:
        return (_short(one.task.score), one.ending, "", "", seconds, "")
    counts, bars = one.facts["counts"], one.facts["draft"]["bars"]
    return (_short(one.task.score), one.ending, str(bars), str(counts["doubts"] or ""), seconds, _verdict(counts["breaches"]))


def _verdict(breaches: dict[str, int]) -> str:
    """Whether the draft keeps to its level."""
    if breaches["hard"]:
        return f"{breaches['hard']} hard breach{'es' * (breaches['hard'] > 1)}"
    return f"kept, {breaches['soft']} to weigh" if breaches["soft"] else "kept"


def _short(path: Path, most: int = 40) -> str:
    return path.name if len(path.name) <= most else f"{path.name[: most - 1]}…"
