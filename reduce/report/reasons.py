"""The reasons behind a draft, for reading: equal ones told once, the doubtful ones first."""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import Any

from reduce.model.errors import UsageError
from reduce.model.record import dataclass
from reduce.report.facts import UNSURE
from reduce.report.text import wrapped

Row = dict[str, Any]
WEIGHTS = {"big": 0, "medium": 1, "small": 2}
_WHOLE = {"cut": 0, "key": 1, "tempo": 2}  # of the big ones, what concerns the whole piece
_PLACE = re.compile(r"^Bars? [^ ,:;]+(?=[,:; ])")


@dataclass(frozen=True, slots=True)
class Reason:
    """A decision as it stands in the log, and the printed bars where the same was decided again."""

    row: Row
    also: tuple[tuple[str, str], ...] = ()
    same: bool = True  # False where only the figure that was measured differs there

    @property
    def again(self) -> str:
        """'Same in bars 25, 41–44.', or '' where it was decided once."""
        return f"{'Same' if self.same else 'Likewise'} in {bars_listed(self.also)}." if self.also else ""

    @property
    def sentence(self) -> str:
        return str(self.row["sentence"])

    @property
    def unsure(self) -> bool:
        return float(self.row["certainty"]) < UNSURE


def read_log(folder: Path) -> tuple[Row, ...]:
    """The rows of ``decisions.jsonl`` in a draft folder.  Raises `UsageError` where there is none or it is damaged."""
    path = folder / "decisions.jsonl"
    try:
        lines = path.read_text(encoding="utf-8").splitlines()
        return tuple(json.loads(line) for line in lines)
    except FileNotFoundError:
        raise UsageError(f"{folder} is not a draft folder: it has no decisions.jsonl. Name a folder that 'reduce draft' made.") from None
    except (OSError, ValueError) as error:
        raise UsageError(f"{path} cannot be read ({error}). Make the draft again with 'reduce draft'.") from None


def select(rows: Sequence[Row], bar: str | None = None, kind: str | None = None) -> tuple[Row, ...]:
    """The rows that touch the printed bar ``bar`` and are of the ``kind``.

    Raises `UsageError` where the log knows no such bar or kind.
    """
    if kind is not None:
        kinds = sorted({row["kind"] for row in rows})
        if kind not in kinds:
            raise UsageError(f"No decision of this draft is of the kind {kind!r}; its kinds are {', '.join(kinds)}.")
        rows = [row for row in rows if row["kind"] == kind]
    if bar is not None:
        rows = [row for row in rows if _within(bar, row["bars"])]
        if not rows:
            raise UsageError(f"The log tells nothing of bar {bar}: give a bar number as printed{' and another kind' if kind else ''}.")
    return tuple(rows)


def _within(bar: str, bars: Sequence[str]) -> bool:
    """Printed numbers are words ('12a'); where all three are numbers the bar may lie between."""
    first, last = bars
    if bar in (first, last):
        return True
    return bar.isdecimal() and first.isdecimal() and last.isdecimal() and int(first) <= int(bar) <= int(last)


def grouped(rows: Iterable[Row]) -> tuple[Reason, ...]:
    """Equal reasons once, with every place; in the order in which each is first met.

    Two are equal when kind, hand, rule and words agree but for the bars at the beginning of the sentence and the figure that was measured.
    """
    found: dict[tuple[object, ...], list[Row]] = {}
    for row in rows:
        found.setdefault((row["kind"], row["hand"], row["rule"], row["by"], _unmeasured(row)), []).append(row)
    reasons = []
    for same in found.values():
        places = dict.fromkeys((row["bars"][0], row["bars"][1]) for row in same[1:])
        places.pop(tuple(same[0]["bars"]), None)
        least_sure = min(same, key=lambda row: float(row["certainty"]))["certainty"]
        words = {_PLACE.sub("", row["sentence"]) for row in same}
        reasons.append(Reason({**same[0], "certainty": least_sure}, tuple(places), len(words) == 1))
    return tuple(reasons)


def _unmeasured(row: Row) -> str:
    """The words of a reason without its place, and with a sign for the figure that was measured."""
    words = _PLACE.sub("", row["sentence"])
    measured = row["measured"]
    if measured is None:
        return words
    figures = {f"{value:{form}}" for value, form in ((measured, "g"), (measured, ".1f"), (measured, ".0f"), (100 * measured, ".0f"))}
    return re.sub(rf"(?<![\d.])(?:{'|'.join(map(re.escape, sorted(figures, key=len, reverse=True)))})(?!\.?\d)", "#", words, count=1)


def bars_listed(places: Iterable[tuple[str, str]]) -> str:
    """'bars 25, 41–44, 57'."""
    told = [first if first == last else f"{first}–{last}" for first, last in places]
    return f"bar{'s' if len(told) > 1 or '–' in told[0] else ''} {', '.join(told)}"


def why_text(rows: Sequence[Row], width: int, *, full: bool = False, everything: bool = False) -> str:
    """The reasons for reading: doubtful places first, then big and middling ones; small ones are folded unless ``everything``.

    What is played, its key and its tempo lead the big ones.

    ``full`` adds figures, what was refused, the rule and the setting that would change it.
    """
    reasons = sorted(grouped(rows), key=_place)
    heads: tuple[tuple[str, Callable[[Reason], bool]], ...] = (
        ("Not sure, look here first", lambda r: r.unsure),
        ("Big decisions", lambda r: not r.unsure and r.row["weight"] == "big"),
        ("Along the way", lambda r: not r.unsure and r.row["weight"] == "medium"),
        ("Small ones", lambda r: not r.unsure and r.row["weight"] == "small"),
    )
    lines: list[str] = []
    for head, belongs in heads:
        members = [reason for reason in reasons if belongs(reason)]
        if not members:
            continue
        if lines:
            lines.append("")
        if head == "Small ones" and not everything:
            kinds = Counter(reason.row["kind"] for reason in members)
            told = ", ".join(f"{kind} {count}" for kind, count in kinds.most_common())
            ones = "1 small one" if len(members) == 1 else f"{len(members)} small ones"
            lines += wrapped(f"And {ones} ({told}): --bar N shows those of a bar, --all every one.", width)
            continue
        lines.append(head)
        for reason in members:
            lines += _told(reason, width, full)
    return "\n".join(lines) + "\n"


def _place(reason: Reason) -> tuple[bool, int, int]:
    weight = WEIGHTS.get(reason.row["weight"], len(WEIGHTS))
    return not reason.unsure, weight, _WHOLE.get(reason.row["kind"], len(_WHOLE)) if weight == 0 else 0


def _told(reason: Reason, width: int, full: bool) -> list[str]:
    row = reason.row
    text = reason.sentence
    text += f" {reason.again}" if reason.also else ""
    if reason.unsure:
        text += f" ({round(100 * float(row['certainty']))} % sure)"
    if row["by"] == "arranger":
        text += " (your choice)"
    lines = wrapped(text, width, "  • ", "    ")
    if full or reason.unsure:
        for other in row["rejected"]:
            lines += wrapped(f"not {other['what']}: {other['why']}", width, "      ", "        ")
    if full:
        if row["measured"] is not None:
            limit = "" if row["limit"] is None else f", limit {row['limit']}"
            lines += wrapped(f"measured {row['measured']}{limit} {row['unit']}".rstrip(), width, "      ", "        ")
        if row["rule"]:
            change = f", setting {row['setting']}" if row["setting"] else ""
            lines += wrapped(f"rule {row['rule']}{change}", width, "      ", "        ")
    return lines
