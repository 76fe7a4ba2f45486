"""The intake report: what was read, how each part sounds, what was not understood."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from typing import Any

from reduce.model.pitch import spelled
from reduce.model.problem import Severity
from reduce.model.score import Score, Transposition
from reduce.report.facts import problem_row
from reduce.report.places import Places
from reduce.report.text import columns, wrapped

HEADS: tuple[tuple[Severity, str], ...] = (("fault", "Faults"), ("doubt", "Doubts"), ("note", "Remarks"))


def intake(score: Score) -> dict[str, Any]:
    """The intake report as plain values."""
    places = Places(score)
    rows = []
    for part in score.parts:
        notes = [note for note in score.notes if note.part == part.index and note.kind != "hidden"]
        low, high = min(notes, key=lambda n: n.midi, default=None), max(notes, key=lambda n: n.midi, default=None)
        rows.append(
            {
                "name": part.name,
                "instrument": part.instrument,
                "family": part.family,
                "staves": part.staves,
                "notes": len(notes),
                "strokes": sum(stroke.part == part.index for stroke in score.strokes),
                "lowest": str(low.pitch) if low else "",
                "highest": str(high.pitch) if high else "",
                "sounds": [_change(transposition, places) for transposition in part.transpositions],
            }
        )
    meters = list(dict.fromkeys(str(bar.meter) for bar in score.bars))
    return {
        "file": score.file_name,
        "format": score.file_format,
        "title": score.title,
        "composer": score.composer,
        "bars": [score.bars[0].number, score.bars[-1].number] if score.bars else [],
        "bar_count": len(score.bars),
        "meters": meters,
        "notes": len(score.notes),
        "parts": rows,
        "problems": [problem_row(problem) for problem in score.problems],
    }


def _change(change: Transposition, places: Places) -> dict[str, Any]:
    return {
        "bar": places.bar_at(change.onset).number,
        "staff": change.staff,
        "semitones": change.chromatic,
        "as": sounding(change.diatonic, change.chromatic),
    }


def sounding(diatonic: int, chromatic: int) -> str:
    """How a written C5 sounds: 'as written', 'C sounds A♭3' ..."""
    if not diatonic and not chromatic:
        return "as written"
    return f"C5 sounds {spelled('C', 0, 5).moved(diatonic, chromatic)}"


def intake_text(score: Score, names: Mapping[str, str], width: int) -> str:
    """The intake report for reading, ``width`` characters wide; ``names`` has the instruments' names by key."""
    facts = intake(score)
    title = " — ".join(filter(None, (score.title or score.file_name, score.composer)))
    span = f"bars {facts['bars'][0]}–{facts['bars'][1]}" if facts["bars"] else "no bars"
    meters = ", ".join(facts["meters"])
    lines = [title, f"{score.file_format}, {len(score.parts)} parts, {span}, {meters}, {facts['notes']} notes", ""]
    table = [["part", "known as", "notes", "range", "sounds"]]
    for part, row in zip(score.parts, facts["parts"], strict=True):
        table.append([part.name or "(no name)", names.get(part.instrument, "not known"), _count(row), _range(row), _sounds(row)])
    lines += columns(table, width, right=(2,))
    counts = Counter(problem.severity for problem in score.problems)
    lines.append("")
    if not score.problems:
        lines.append("Everything was understood.")
    for severity, head in HEADS:
        if counts[severity]:
            lines.append(f"{head}:")
            for problem in score.problems:
                if problem.severity == severity:
                    where = ", ".join(filter(None, (problem.part, problem.bar and f"bar {problem.bar}")))
                    lines += wrapped(f"{where}: {problem.sentence}" if where else problem.sentence, width, "  - ", "    ")
    return "\n".join(lines) + "\n"


def _count(row: dict[str, Any]) -> str:
    return str(row["notes"]) if row["notes"] or not row["strokes"] else f"{row['strokes']} strokes"


def _range(row: dict[str, Any]) -> str:
    return f"{row['lowest']}–{row['highest']}" if row["notes"] else ""


def _sounds(row: dict[str, Any]) -> str:
    told = []
    for i, change in enumerate(row["sounds"]):
        staff = f"staff {change['staff']} " if change["staff"] else ""
        told.append(f"{staff}{change['as']}" + (f" from bar {change['bar']}" if i else ""))
    return "; ".join(told) or "as written"
