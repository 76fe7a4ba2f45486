"""What two drafts were asked for differently, and which of it a bar's difference comes from."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any, Literal

from reduce.model.record import dataclass

CauseKind = Literal["source", "version", "level", "wish", "setting", "choice", "rules"]
_WISHES = {"bars": "bars", "movement": "movement", "key": "key", "length": "length", "pupil": "pupil"}
_PLACE = re.compile(r"^Bars? [^ ,:;]+(?=[,:; ])")
_MARGIN = 1  # bars beside a choice that it may still change: upbeats, notes that ring over the bar line


@dataclass(frozen=True, slots=True)
class Cause:
    """One thing that differs.  ``name`` is a setting's key or a choice's id, ``bars`` where a choice holds (() = everywhere)."""

    kind: CauseKind
    name: str
    before: Any
    after: Any
    bars: tuple[str, ...] = ()

    @property
    def told(self) -> dict[str, Any]:
        """The cause as plain values with a sentence."""
        return {"kind": self.kind, "name": self.name, "before": self.before, "after": self.after, "sentence": self.sentence}

    @property
    def sentence(self) -> str:
        if self.kind == "choice":
            return f"the choice “{self.after}”" if not self.before else f"the choice “{self.before}” that is no longer made"
        if self.kind == "source":
            return "another source file"
        if self.kind == "rules":
            return "other fitted values of the rule book"
        what = {"setting": f"the setting {self.name}", "version": "the version"}.get(self.kind, f"the {self.name}")
        return f"{what}, {_value(self.before)} → {_value(self.after)}"


def causes(
    before: Mapping[str, Any], after: Mapping[str, Any], decided: Sequence[Mapping[str, Any]], decides: Sequence[Mapping[str, Any]]
) -> list[Cause]:
    """All that differs between two runs, by their reports and logs: source, version, level, wishes, settings, choices."""
    found: list[Cause] = []
    if before["source"]["sha256"] != after["source"]["sha256"]:
        found.append(Cause("source", "source", before["source"]["file"], after["source"]["file"]))
    if before["tool"]["version"] != after["tool"]["version"]:
        found.append(Cause("version", "version", before["tool"]["version"], after["tool"]["version"]))
    old, new = before["settings"], after["settings"]
    other_level = old["level"] != new["level"]
    if other_level:
        found.append(Cause("level", "level", old["level"], new["level"]))
    for name, words in _WISHES.items():
        if old.get(name) != new.get(name):
            found.append(Cause("wish", words, old.get(name), new.get(name)))
    if not other_level and old["hand_span_mm"] != new["hand_span_mm"]:
        found.append(Cause("wish", "hand span in millimetres", old["hand_span_mm"], new["hand_span_mm"]))
    was, now = before.get("rules", {}), after.get("rules", {})
    for name in sorted({*was, *now}) if was and now else ():  # a report without its values says only that rules differ
        of_level = name.startswith("level.") and (other_level or name == "level.hand-span")  # told already
        if was.get(name) != now.get(name) and not of_level:
            found.append(Cause("setting", name, was.get(name), now.get(name)))
    found += _choices(decided, decides)
    if not found and old["rules_sha256"] != new["rules_sha256"]:
        found.append(Cause("rules", "rules", old["rules_sha256"], new["rules_sha256"]))
    return found


def _choices(decided: Sequence[Mapping[str, Any]], decides: Sequence[Mapping[str, Any]]) -> list[Cause]:
    def made(rows: Sequence[Mapping[str, Any]]) -> dict[str, Mapping[str, Any]]:
        return {_without_price(row["sentence"]): row for row in rows if row["by"] == "arranger" and row["rule"] == "choices"}

    was, now = made(decided), made(decides)
    gone = [Cause("choice", row["id"], words, None, tuple(row["bars"])) for words, row in was.items() if words not in now]
    return gone + [Cause("choice", row["id"], None, words, tuple(row["bars"])) for words, row in now.items() if words not in was]


def _without_price(sentence: str) -> str:
    return str(sentence).split("; the price: ", 1)[0].rstrip(".")


def caused(all_causes: Sequence[Cause], bar: str, decisions: Sequence[Mapping[str, Any]]) -> list[Cause]:
    """The causes that come into question for a bar, the nearest kind only.

    A choice about these bars; else the settings that the changed decisions of the bar name; else all that differs but choices about
    other bars.
    """
    choices = [cause for cause in all_causes if cause.kind == "choice" and _near(bar, cause.bars)]
    if choices:
        return choices
    others = [cause for cause in all_causes if cause.kind != "choice"]
    named = {row["setting"] for row in decisions} | {_family(row["setting"]) for row in decisions}
    settings = [cause for cause in others if cause.kind == "setting" and (cause.name in named or _family(cause.name) in named)]
    return settings or others or list(all_causes)


def _family(setting: str) -> str:
    """The rule that a setting belongs to."""
    return setting.rpartition(".")[0]


def _near(bar: str, bars: Sequence[str]) -> bool:
    if not bars or bar in bars:
        return True
    first, last = bars[0], bars[-1]
    return bar.isdecimal() and first.isdecimal() and last.isdecimal() and int(first) - _MARGIN <= int(bar) <= int(last) + _MARGIN


def only_here(rows: Sequence[Mapping[str, Any]], others: Sequence[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    """Decisions of one log that the other does not know in these words and bars."""
    known = {(row["kind"], row["hand"], *row["bars"], _PLACE.sub("", row["sentence"])) for row in others}
    return [row for row in rows if (row["kind"], row["hand"], *row["bars"], _PLACE.sub("", row["sentence"])) not in known]


def _value(value: Any) -> str:
    if value is None:
        return "none"
    return ", ".join(map(str, value)) if isinstance(value, list) else str(value)
