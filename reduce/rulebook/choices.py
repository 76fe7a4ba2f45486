"""The choices file: read with all its faults at once, and written entry by entry.

[[choice]]
bars = "9-16"
melody = "Oboe 1"
reason = "the countermelody is what my pupils know"

[[choice]]
bars = "5-8"
hand = "left"
lock = true
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from fractions import Fraction
from pathlib import Path
from typing import Any

from reduce.model.choice import ACTIONS, Action, Choice
from reduce.rulebook.faults import Faults
from reduce.rulebook.files import opened

_BARS = re.compile(r"\w+(\s*[-–]\s*\w+)?")
_PITCH = re.compile(r"[A-Ga-g](#{1,2}|b{1,2}|♯|♭)?-?\d")
_WORDS = ("bars", "hand", "beat", "to", "length", "level", "reason")


def read_choices(path: Path, known_levels: Iterable[str]) -> tuple[Choice, ...]:
    """The choices of a file, in its order.

    Raises:
        RuleError: every entry that makes no sense, with what would.
    """
    faults = Faults()
    rows = opened(path, faults)
    known = tuple(known_levels)
    for key in rows:
        if key != "choice":
            faults.unknown(str(path), key, key, ("choice",), "entry called")
    entries = rows.get("choice", [])
    if not isinstance(entries, list) or not all(isinstance(entry, dict) for entry in entries):
        faults.add(str(path), "choice", "each choice begins with a line [[choice]]")
        entries = []
    found = [choice for place, entry in enumerate(entries, 1) if (choice := _choice(entry, place, str(path), known, faults)) is not None]
    faults.settle()
    return tuple(found)


def _choice(entry: dict[str, Any], place: int, file: str, known: tuple[str, ...], faults: Faults) -> Choice | None:
    where = f"choice {place}"
    for key in entry:
        if key not in ACTIONS and key not in _WORDS:
            faults.unknown(file, where, key, (*ACTIONS, *_WORDS), "word called")
    actions = [action for action in ACTIONS if action in entry]
    if len(actions) != 1:
        said = " and ".join(actions) or "nothing"
        faults.add(file, where, f"a choice says one thing, this one says {said}; it may say {', '.join(ACTIONS)}")
        return None
    action = actions[0]
    raw = entry[action]
    value = "" if raw is True else str(raw)
    bars = str(entry.get("bars", ""))
    if bars and not _BARS.fullmatch(bars.strip()):
        faults.add(file, f"{where}, bars", f'{bars!r} should be a printed number or two, as in "9-16"')
    hand = str(entry.get("hand", ""))
    if hand not in ("", "right", "left"):
        faults.unknown(file, f"{where}, hand", hand, ("right", "left"), "hand called")
        hand = ""
    levels = entry.get("level", [])
    levels = (levels,) if isinstance(levels, str) else tuple(str(name) for name in levels)
    for name in levels:
        if name not in known:
            faults.unknown(file, f"{where}, level", name, known, "level called")
    beat = _number(entry, "beat", file, where, faults)
    length = _number(entry, "length", file, where, faults)
    to = str(entry.get("to", ""))
    _demands(action, raw, bars, hand, beat, to, file, where, faults)
    return Choice(
        place=place, action=action, value=value, bars=bars.strip(), hand=hand, beat=beat, to=to, length=length,  # type: ignore[arg-type]
        levels=levels, reason=str(entry.get("reason", "")),
    )  # fmt: skip


def _number(entry: dict[str, Any], key: str, file: str, where: str, faults: Faults) -> Fraction | None:
    if key not in entry:
        return None
    try:
        number = Fraction(str(entry[key]))
    except (ValueError, ZeroDivisionError):
        faults.add(file, f"{where}, {key}", f'{entry[key]!r} should be a number of quarter-notes, as in 1.5 or "1/3"')
        return None
    if number < 0:
        faults.add(file, f"{where}, {key}", "must not be below 0")
    return number


def _demands(
    action: Action, raw: object, bars: str, hand: str, beat: Fraction | None, to: str, file: str, where: str, faults: Faults
) -> None:
    """What each action cannot do without."""
    if action == "lock" and raw is not True:
        faults.add(file, where, "lock is either there (lock = true) or left out")
    elif action != "lock" and (raw is True or not str(raw).strip()) and action != "no-slur":
        faults.add(file, where, f'{action} needs a value, as in {action} = "..."')
    if action == "octave" and not re.fullmatch(r"[+-]?[12]", str(raw)):
        faults.add(file, where, "octave is 1 or 2 octaves up, -1 or -2 down")
    if action == "move" and str(raw) not in ("right", "left"):
        faults.add(file, where, 'move names the hand that takes the inner notes: "right" or "left"')
    if action in ("lock", "octave", "move", "chord", "add", "remove", "change", "slur", "no-slur", "figure") and not bars:
        faults.add(file, where, f'{action} needs bars, as in bars = "5-8"')
    if action in ("add", "remove", "change", "slur", "no-slur"):
        if beat is None:
            faults.add(file, where, f"{action} needs beat: quarter-notes from the bar line")
        if not hand:
            faults.add(file, where, f"{action} needs hand")
    if action in ("add", "remove", "change") and not _PITCH.fullmatch(str(raw)):
        faults.add(file, where, f'{action} needs a pitch, as in {action} = "F#4"')
    if action == "change" and not to:
        faults.add(file, where, 'change needs to: the new pitch, or "right" or "left"')


def choice_text(choice: Choice) -> str:
    """One entry as it stands in the file."""

    def quoted(text: str) -> str:
        return '"' + text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", " ") + '"'

    lines = ["[[choice]]"]
    if choice.bars:
        lines.append(f"bars = {quoted(choice.bars)}")
    if choice.hand:
        lines.append(f"hand = {quoted(choice.hand)}")
    if choice.beat is not None:
        lines.append(f"beat = {quoted(str(choice.beat))}")
    bare = choice.action == "lock" or (choice.action == "no-slur" and not choice.value)
    lines.append(f"{choice.action} = true" if bare else f"{choice.action} = {quoted(choice.value)}")
    if choice.to:
        lines.append(f"to = {quoted(choice.to)}")
    if choice.length is not None:
        lines.append(f"length = {quoted(str(choice.length))}")
    if choice.levels:
        lines.append(f"level = [{', '.join(quoted(name) for name in choice.levels)}]")
    if choice.reason:
        lines.append(f"reason = {quoted(choice.reason)}")
    return "\n".join(lines) + "\n"
