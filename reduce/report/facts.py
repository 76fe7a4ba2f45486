"""``report.json``: the settings used, counts, breaches, load and doubts of a draft."""

from __future__ import annotations

import json
from bisect import bisect_right
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import fields
from fractions import Fraction
from typing import Any

from reduce import __version__
from reduce.model.decision import Decision, Fate, FateKind
from reduce.model.draft import Draft
from reduce.model.problem import Problem
from reduce.model.rules import Rules
from reduce.model.score import Score
from reduce.model.texture import LocalKey
from reduce.report.places import plain

UNSURE = 0.6
"""Below this certainty a decision is told first (judgement)."""

FATES: tuple[FateKind, ...] = ("kept", "moved", "merged", "simplified", "dropped")


def report(
    score: Score,
    draft: Draft,
    rules: Rules,
    decisions: Sequence[Decision],
    fates: Iterable[Fate],
    problems: Iterable[Problem],
    *,
    wishes: Mapping[str, Any] | None = None,
    breaches: Sequence[Mapping[str, Any]] = (),
    load: Sequence[Mapping[str, Any]] = (),
    spots: Sequence[Mapping[str, Any]] = (),
    keys: Sequence[LocalKey] = (),
) -> dict[str, Any]:
    """The facts of a draft as plain values.

    ``wishes`` are the options asked for (bars, key, length ...; left out where not given), ``breaches``, ``load``
    and ``spots`` the findings of the hands, one mapping each with the printed bar; ``keys`` those of the source from moment to moment.
    """
    level = rules.level
    hands = Counter(note.hand for note in draft.notes)
    fate_counts = Counter(fate.kind for fate in fates)
    kinds, weights = Counter(d.kind for d in decisions), Counter(d.weight for d in decisions)
    hard = sum(bool(breach["hard"]) for breach in breaches)
    doubts = [problem_row(problem) for problem in problems]
    return {
        "tool": {"name": "reduce", "version": __version__},
        "source": {
            "file": score.file_name,
            "sha256": score.file_hash,
            "format": score.file_format,
            "title": score.title,
            "composer": score.composer,
            "rights": score.rights,
            "parts": len(score.parts),
            "bars": sum(not bar.parent for bar in score.bars),
            "notes": len(score.notes),
        },
        "settings": {
            "level": level.name,
            "level_title": level.title,
            "pupil": level.pupil,
            "hand_span_mm": level.hand_span,
            "rules_sha256": rules.fingerprint,
            **{name: wish for name, wish in (wishes or {}).items() if wish is not None},
        },
        "draft": {
            "bars": len(draft.bars),
            "first_bar": draft.bars[0].number if draft.bars else "",
            "last_bar": draft.bars[-1].number if draft.bars else "",
            "key_fifths": draft.bars[0].key.fifths if draft.bars else 0,
            "transposed_semitones": draft.transposed,
            "keys": _keys(keys, draft, score),
            "tune": [note.id for note in draft.notes if note.role == "melody"],
        },
        "counts": {
            "draft_notes": {"right": hands["right"], "left": hands["left"]},
            "fates": {kind: fate_counts[kind] for kind in FATES},
            "decisions": {
                "all": len(decisions),
                "uncertain": sum(d.certainty < UNSURE for d in decisions),
                "by_weight": {weight: weights[weight] for weight in ("big", "medium", "small")},
                "by_kind": {kind: kinds[kind] for kind in sorted(kinds)},
            },
            "breaches": {"hard": hard, "soft": len(breaches) - hard},
            "doubts": sum(row["severity"] != "note" for row in doubts),
        },
        "breaches": [dict(breach) for breach in breaches],
        "hard_spots": [dict(spot) for spot in spots],
        "load": [dict(bar) for bar in load],
        "doubts": doubts,
        "rules": rule_values(rules),
    }


def _keys(keys: Sequence[LocalKey], draft: Draft, score: Score) -> list[dict[str, Any]]:
    """The keys of the piece in the draft's bars, as they sound there, each from the bar (counted from 0) that most of it begins in."""
    if not draft.bars or not keys:
        return []
    start = score.bars[draft.first_bar].start
    found: dict[int, dict[str, Any]] = {}
    for local in keys:
        if local.end > start and local.start < start + draft.end:
            bar = max(0, bisect_right(draft.bars, local.start - start, key=lambda bar: bar.start) - 1)
            late = local.start - start > draft.bars[bar].start + draft.bars[bar].length // 2
            found[bar + late] = {"bar": bar + late, "tonic": (local.tonic + draft.transposed) % 12, "mode": local.mode}
    return [row for bar, row in sorted(found.items()) if bar < len(draft.bars)]


def rule_values(rules: Rules) -> dict[str, Any]:
    """Every setting that the run used, the level's first ('level.signature-max'), as plain values by name."""
    level = {
        f"level.{field.name.replace('_', '-')}": getattr(rules.level, field.name)
        for field in fields(rules.level)
        if field.name not in ("name", "title", "order", "pupil")
    }
    return {name: _plain_value(value) for name, value in (*level.items(), *sorted(rules.values.items()))}


def _plain_value(value: Any) -> Any:
    if isinstance(value, Fraction):
        return plain(value) if value.denominator in (1, 2, 4, 8) else str(value)
    return [_plain_value(one) for one in value] if isinstance(value, tuple) else value


def verdict(facts: Mapping[str, Any]) -> str:
    """A draft in one line: level, bars, notes, what to look at."""
    draft, counts = facts["draft"], facts["counts"]
    notes = counts["draft_notes"]["right"] + counts["draft_notes"]["left"]
    decisions = counts["decisions"]
    return (
        f"{facts['settings']['level_title']}, bars {draft['first_bar']}–{draft['last_bar']} ({draft['bars']}), "
        f"{_count(notes, 'note')}, {_count(decisions['by_weight']['big'], 'big decision')}, "
        f"{_count(decisions['uncertain'], 'unsure one')}, "
        f"{_count(counts['breaches']['hard'], 'hard breach')}, {counts['breaches']['soft'] or 'none'} to weigh, "
        f"{_count(counts['doubts'], 'doubt')} about the score."
    )


def _count(number: int, thing: str) -> str:
    """'1 note', '2 notes', 'no breaches'."""
    plural = thing + ("es" if thing.endswith("ch") else "s")
    return f"{number or 'no'} {thing if number == 1 else plural}"


def problem_row(problem: Problem) -> dict[str, str]:
    """A problem as plain values."""
    return {
        "severity": problem.severity,
        "code": problem.code,
        "part": problem.part,
        "bar": problem.bar,
        "sentence": problem.sentence,
    }


def report_json(facts: Mapping[str, Any]) -> bytes:
    """The facts as a file."""
    return (json.dumps(facts, ensure_ascii=False, indent=2) + "\n").encode()
