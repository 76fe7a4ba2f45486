"""What the arranger may say to a decision: keep it, or one of the runners-up instead, as an entry of her choices file."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from typing import Any

from reduce.report.review.index import Index
from reduce.report.review.material import Row

MOST = 3
"""Runners-up that are offered for a decision."""

TAKEN = " (taken)"
_LINE = re.compile(r" \(line \d+\)$")
_LEADS = ("melody", "bass")
_INSTRUMENTS = ("inner", "chord", "rhythm", "octave")


def offers(row: Row, index: Index) -> list[dict[str, Any]]:
    """The ways to answer a decision, 'keep' first.

    Each has ``say`` (words on the button), ``keep`` (whether it upholds what was decided), ``choice`` (the entry, by the words of the
    choices file) and, where an instrument is meant, ``part``, so that its notes can be shown.
    """
    bars = bars_text(row["bars"])
    hand = {} if row["hand"] == "both" else {"hand": row["hand"]}
    kind = row["kind"]
    if row["by"] == "arranger" and row["rule"] == "choices":
        return []
    if kind in _LEADS:
        found = _leads(row, index, bars)
    elif kind == "key" and row["rule"] == "key.weigh":
        found = _keys(row)
    elif kind == "cut":
        found = _lengths(row, index)
    elif kind == "figure":
        found = _figures(row, index, bars)
    elif kind == "octave" and row["rule"].startswith("placement."):
        found = [*_lock(bars, hand), _octave(row, bars, hand)]
    elif kind in _INSTRUMENTS and row["source_notes"]:
        found = [*_lock(bars, hand), *_instruments(row, index, bars)]
    elif kind in ("tempo", "fingering", "notation"):
        found = []
    else:
        found = _lock(bars, hand)
    return found


def bars_text(bars: Sequence[str]) -> str:
    """'9-16', or '9'."""
    return bars[0] if bars[0] == bars[1] else f"{bars[0]}-{bars[1]}"


def _keep(choice: dict[str, str], say: str = "Keep") -> dict[str, Any]:
    return {"say": say, "keep": True, "choice": choice}


def _instead(choice: dict[str, str], say: str) -> dict[str, Any]:
    return {"say": say, "keep": False, "choice": choice}


def _lock(bars: str, hand: dict[str, str]) -> list[dict[str, Any]]:
    return [_keep({"bars": bars, **hand, "lock": "true"}, "Keep: lock these bars")]


def _leads(row: Row, index: Index, bars: str) -> list[dict[str, Any]]:
    """Tune or bass: the instrument that has it, and those that came next."""
    kind, owner = row["kind"], index.owner(row)
    found = [_keep({"bars": bars, kind: owner})] if owner else []
    for other in row["rejected"][:MOST]:
        part = _LINE.sub("", other["what"])
        if part != owner and part in index.parts:
            found.append({**_instead({"bars": bars, kind: other["what"]}, f"{other['what']} instead"), "part": part})
    return found


def _keys(row: Row) -> list[dict[str, Any]]:
    taken = [other["what"].removesuffix(TAKEN) for other in row["rejected"] if other["what"].endswith(TAKEN)]
    found = [_keep({"key": name}) for name in taken]
    others = [other["what"] for other in row["rejected"] if not other["what"].endswith(TAKEN)]
    return [*found, *(_instead({"key": name}, f"{name} instead") for name in others[:MOST])]


def _lengths(row: Row, index: Index) -> list[dict[str, Any]]:
    found = [_keep({"cut": bars_text((index.numbers[0], index.numbers[-1]))})] if index.numbers else []
    for other in row["rejected"][:MOST]:
        named = re.search(r"[Bb]ars? (\w+)(?:[–-](\w+))?", other["what"])
        if named:
            found.append(_instead({"cut": bars_text((named[1], named[2] or named[1]))}, f"Bars {named[1]}–{named[2] or named[1]} instead"))
    if not any(entry["choice"]["cut"] == "full" for entry in found) and len(index.numbers) < index.material.facts["source"]["bars"]:
        found.append(_instead({"cut": "full"}, "The whole piece instead"))
    return found


def _figures(row: Row, index: Index, bars: str) -> list[dict[str, Any]]:
    """Left-hand patterns: the one that is played, and others that the level has, those that were weighed first."""
    known = index.material.figures
    weighed = [other["what"] for other in row["rejected"]]
    said = str(row["sentence"])
    current = next((name for name, words in sorted(known.items(), key=lambda item: -len(item[1])) if words and words in said), "")
    impossible = {other["what"] for other in row["rejected"] if "no form in" in other["why"]}
    ranked = sorted((name for name in known if name != current), key=lambda name: known[name] not in weighed)
    found = [_keep({"bars": bars, "figure": current})] if current else []
    fitting = [name for name in ranked if known[name] not in impossible]
    return [*found, *(_instead({"bars": bars, "figure": name}, f"{known[name] or name} instead") for name in fitting[:MOST])]


def _octave(row: Row, bars: str, hand: dict[str, str]) -> dict[str, Any]:
    back = ("-" if "higher" in row["sentence"] else "") + ("2" if "two octaves" in row["sentence"] else "1")
    return _instead({"bars": bars, **hand, "octave": back}, "The written octave instead")


def _instruments(row: Row, index: Index, bars: str) -> list[dict[str, Any]]:
    """What was done with inner notes: hear an instrument wherever a hand can hold it, or leave it out."""
    count = Counter(str(index.rows[index.row_place[name]]["part"]) for name in row["source_notes"] if name in index.row_place)
    verb = "drop" if row["sentence"].find("played as written") >= 0 else "keep"
    words = "Leave out {}" if verb == "drop" else "Keep {}"
    return [{**_instead({"bars": bars, verb: part}, words.format(part)), "part": part} for part, _ in count.most_common(MOST)]
