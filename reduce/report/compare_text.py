"""The comparison of two drafts for reading."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import groupby
from typing import Any

from reduce.report.text import wrapped

_NAMED = 6  # notes told one by one
_CAUSES_NAMED = 4
_BARS_NAMED = 12


def comparison_text(told: Mapping[str, Any], width: int) -> str:
    """Which bars differ, under the cause they have in common, with notes by hand and the load before and after."""
    lines = wrapped(f"{told['before']} → {told['after']}: {summary(told)}", width)
    if told["different"]:
        lines += wrapped(f"Asked for differently: {'; '.join(cause['sentence'] for cause in told['different'])}.", width)
    if told["moved_semitones"]:
        away = f"{told['moved_semitones']:+d} semitones"
        lines += wrapped(f"The second stands {away} away; its notes are compared in the key of the first.", width)
    for name, words in (("only_before", "Only the first has"), ("only_after", "Only the second has")):
        if told[name]:
            lines += wrapped(f"{words} bars {_run(told[name])}.", width)
    for reason, bars in groupby(told["bars"], key=because):
        lines += ["", *wrapped(f"Because of {reason}:" if reason else "For no cause that the reports tell:", width)]
        for bar in bars:
            lines += wrapped(f"Bar {bar['bar']}: {bar_words(bar)}", width, "  • ", "    ")
    return "\n".join(lines) + "\n"


def summary(told: Mapping[str, Any]) -> str:
    """'3 of 25 bars differ.'"""
    count, all_bars = len(told["bars"]), len(told["bars"]) + told["same_bars"]
    if not count and not told["only_before"] and not told["only_after"]:
        return "no bar differs."
    return f"{count} of {all_bars} bar{'s' if all_bars != 1 else ''} differ{'s' if count == 1 else ''}."


def since(told: Mapping[str, Any]) -> str:
    """A re-run in one sentence: 'bars 9, 10 and 12 of 25 changed; because of the setting ..., 2 → 3.'"""
    bars = [str(bar["bar"]) for bar in told["bars"]]
    causes = [cause["sentence"] for cause in told["different"]]
    reasons = "; ".join([*causes[:_CAUSES_NAMED], *([f"{len(causes) - _CAUSES_NAMED} more"] if len(causes) > _CAUSES_NAMED else [])])
    other = [*told["only_before"], *told["only_after"]]
    if not bars and not other:
        return f"nothing changed{f', though asked for differently: {reasons}' if reasons else ''}."
    named = f"bar{'s' if len(bars) > 1 else ''} {_few(bars)}" if bars else ""
    more = f"{len(other)} bar{'s' if len(other) > 1 else ''} more or fewer" if other else ""
    return f"{' and '.join(filter(None, (named, more)))} changed{f', because of {reasons}' if reasons else ''}."


def _few(bars: Sequence[str]) -> str:
    shown = ", ".join(bars[:_BARS_NAMED])
    return f"{shown} and {len(bars) - _BARS_NAMED} more" if len(bars) > _BARS_NAMED else shown


def because(bar: Mapping[str, Any]) -> str:
    """The causes of a bar in words."""
    return " or ".join(cause["sentence"] for cause in bar["causes"])


def bar_words(bar: Mapping[str, Any]) -> str:
    """'left hand 2 notes removed (E3, G3), 1 added (C3); load 1.21 → 0.87.'"""
    told = []
    for hand in ("right", "left"):
        notes = bar[hand]
        parts = [f"{_notes(notes[what])} {word}" for what, word in (("removed", "removed"), ("added", "added")) if notes[what]]
        if notes["length"]:
            parts.append(f"{_notes(notes['length'])} of another length")
        if parts:
            told.append(f"{hand} hand {', '.join(parts)}")
    if bar["signs_only"]:
        told.append("other signs (fingers, marks) on the same notes")
    before, after = bar["load"]
    if before is not None and after is not None and f"{before:.2f}" != f"{after:.2f}":
        told.append(f"load {before:.2f} → {after:.2f}")
    return "; ".join(told) + "."


def _notes(notes: Sequence[Mapping[str, Any]]) -> str:
    names = [str(note["pitch"]) for note in notes]
    more = f" and {len(names) - _NAMED} more" if len(names) > _NAMED else ""
    return f"{len(names)} note{'s' if len(names) != 1 else ''} ({', '.join(names[:_NAMED])}{more})"


def _run(bars: Sequence[str]) -> str:
    return bars[0] if len(bars) == 1 else f"{bars[0]}–{bars[-1]} ({len(bars)})"
