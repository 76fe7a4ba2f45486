"""Collects what the reader could not make sense of, one problem for each kind, part and run of bars."""

from __future__ import annotations

from dataclasses import field

from reduce.model.problem import Problem, Severity
from reduce.model.record import dataclass


@dataclass(slots=True)
class Finding:
    severity: Severity
    code: str
    sentence: str
    part: str
    bars: list[str] = field(default_factory=list)


class Findings:
    """Equal findings of one part are told once, with the bars where they occur."""

    def __init__(self) -> None:
        self._found: dict[tuple[str, str, str], Finding] = {}

    def add(self, severity: Severity, code: str, sentence: str, part: str = "", bar: str = "") -> None:
        finding = self._found.get((code, part, sentence))
        if finding is None:
            finding = self._found[code, part, sentence] = Finding(severity, code, sentence, part)
        if bar and (not finding.bars or finding.bars[-1] != bar):
            finding.bars.append(bar)

    def problems(self) -> tuple[Problem, ...]:
        """The findings in the order met; ``bar`` is the first place, the sentence names the others."""
        return tuple(
            Problem(severity=f.severity, code=f.code, sentence=f.sentence + _also(f.bars), part=f.part, bar=f.bars[0] if f.bars else "")
            for f in self._found.values()
        )


def _also(bars: list[str]) -> str:
    others = list(dict.fromkeys(bars))[1:]
    if not others:
        return ""
    if len(others) <= 4:
        return f" Also in bar{'s' if len(others) > 1 else ''} {', '.join(others)}."
    return f" Also in {len(others)} more bars, among them {', '.join(others[:3])}."
