"""The check of a piano score for reading: breaches, hard spots with an easier way, load, cautions.

Works on plain values (the check's records as mappings), since stages do not know each other.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from reduce.report.text import wrapped

HARDEST = 5  # bars named at the end


def breach_row(breach: Mapping[str, Any]) -> dict[str, Any]:
    """A breach as it stands in ``report.json``."""
    told = {"bar": breach["number"]}
    return told | {key: breach[key] for key in ("hand", "what", "sentence", "measured", "limit", "unit", "hard", "count")}


def load_row(bar: Mapping[str, Any]) -> dict[str, Any]:
    """The load of a bar as it stands in ``report.json``: its dimensions as shares of the level's limit."""
    told = {"bar": bar["number"], "total": bar["total"], "parts": {name: share for name, share in bar["parts"] if share}}
    return told | {key: bar[key] for key in ("over_budget", "outlier")}


def spot_row(spot: Mapping[str, Any]) -> dict[str, Any]:
    """A hard spot as it stands in ``report.json``."""
    return {
        "bar": spot["number"],
        "also": list(spot["again"]),
        **{key: spot[key] for key in ("hand", "kind", "sentence", "easier", "caution")},
        "millimetres": spot["size"],
        "seconds_available": spot["available"],
        "seconds_needed": spot["needed"],
    }


def judgement(check: Mapping[str, Any]) -> dict[str, Any]:
    """A whole check as plain values, bars as printed."""
    estimate = check["estimate"]
    return {
        "level": check["level"],
        "hand_span_mm": check["span"],
        "reads_like": {"level": estimate["level"], "place": estimate["place"]},
        "breaches": [breach_row(breach) for breach in check["breaches"]],
        "hard_spots": [spot_row(spot) for spot in check["spots"]],
        "load": [load_row(bar) for bar in check["load"]],
        "cautions": list(check["cautions"]),
    }


def judgement_text(facts: Mapping[str, Any], width: int) -> str:
    """The check for reading, ``width`` characters wide."""
    breaches, spots = facts["breaches"], facts["hard_spots"]
    hard = sum(breach["hard"] for breach in breaches)
    lines = wrapped(
        f"Against {facts['level']}, hand of {facts['hand_span_mm']:g} mm: {_count(hard, 'hard breach', 'hard breaches')}, "
        f"{_count(len(breaches) - hard, 'soft one', 'soft ones')}, {_count(len(spots), 'hard spot', 'hard spots')}; "
        f"reads like {facts['reads_like']['level']}.",
        width,
    )
    for head, rows in (("Hard breaches", [b for b in breaches if b["hard"]]), ("To weigh", [b for b in breaches if not b["hard"]])):
        if rows:
            lines += ["", head]
        for row, others in _told_once(rows):
            more = f" ({row['count']} places in this bar)" if row["count"] > 1 else ""
            lines += _entry(row, f"{row['sentence']}{more}.{_also(others)}", width)
    if spots:
        lines += ["", "Hard spots"]
    for spot in spots:
        lines += _entry(spot, f"{spot['sentence'].rstrip('.')}.{_also(spot['also'])}", width)
        for remark in filter(None, (spot["easier"], spot["caution"])):
            lines += wrapped(remark, width, "      ", "      ")
    heaviest = sorted(facts["load"], key=lambda bar: -float(bar["total"]))[:HARDEST]
    if heaviest:
        lines += ["", *wrapped(f"Hardest bars: {', '.join(bar['bar'] for bar in heaviest)}.", width)]
    for caution in facts["cautions"]:
        lines += ["", *wrapped(caution, width)]
    return "\n".join(lines) + "\n"


def _told_once(rows: Sequence[Mapping[str, Any]]) -> list[tuple[Mapping[str, Any], list[str]]]:
    """Equal breaches once, with the printed bars where they come again."""
    found: dict[tuple[str, str], list[Mapping[str, Any]]] = {}
    for row in rows:
        found.setdefault((row["hand"], row["sentence"]), []).append(row)
    return [(same[0], [row["bar"] for row in same[1:]]) for same in found.values()]


def _also(bars: Sequence[str]) -> str:
    return f" Also in bar{'s' if len(bars) > 1 else ''} {', '.join(bars)}." if bars else ""


def _entry(row: Mapping[str, Any], sentence: str, width: int) -> list[str]:
    hand = "" if row["hand"] == "both" else f", {row['hand']} hand"
    return wrapped(f"Bar {row['bar']}{hand}: {sentence}", width, "  • ", "    ")


def _count(number: int, one: str, many: str) -> str:
    return f"{number or 'no'} {one if number == 1 else many}"
