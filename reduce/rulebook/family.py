"""Reads rule families: the default file is the schema, an overlay changes values and nothing else."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from reduce.rulebook.faults import Faults
from reduce.rulebook.files import family_files, opened, shown
from reduce.rulebook.records import Rule, Setting
from reduce.rulebook.values import frozen, judged

RULE_KEYS = ("title", "why", "source", "example", "act", "settings")
SETTING_KEYS = ("value", "unit", "range", "allowed", "meaning", "source", "note")
OVERLAY_KEYS = ("value", "source", "note")


def default_rules(folder: Path, faults: Faults) -> dict[str, Rule]:
    """Every rule of the default folder by its id ('voicing.third-before-fifth')."""
    found: dict[str, Rule] = {}
    for path in family_files(folder):
        for name, table in opened(path, faults).items():
            if not isinstance(table, dict):
                continue  # a title or a remark on the family
            rule = _rule(path, name, table, faults)
            found[rule.id] = rule
    return found


def _rule(path: Path, name: str, table: Mapping[str, Any], faults: Faults) -> Rule:
    file, id = shown(path), f"{path.stem}.{name}"
    for key in table:
        if key not in RULE_KEYS:
            faults.unknown(file, f"{name}.{key}", key, RULE_KEYS, "entry of a rule")
    texts = {key: str(table.get(key, "")) for key in RULE_KEYS[:-1]}
    settings = []
    for key, raw in table.get("settings", {}).items():
        setting = described(f"{id}.{key}", raw, file, f"{name}.settings.{key}", faults)
        if setting is not None:
            settings.append(setting)
    return Rule(id=id, family=path.stem, settings=tuple(settings), **texts)


def described(name: str, raw: Any, file: str, key: str, faults: Faults) -> Setting | None:
    """One setting of a default file, or None where it has no value (a fault)."""
    if not isinstance(raw, dict) or "value" not in raw:
        faults.add(file, key, "needs a value; write value = ...")
        return None
    for entry in raw:
        if entry not in SETTING_KEYS:
            faults.unknown(file, f"{key}.{entry}", entry, SETTING_KEYS, "entry of a setting")
    value = frozen(raw["value"])
    if value is None:
        faults.add(file, key, f"{raw['value']!r} is not a value")
        return None
    span = raw.get("range")
    setting = Setting(
        name=name,
        value=value,
        unit=raw.get("unit", ""),
        meaning=raw.get("meaning", ""),
        source=raw.get("source", ""),
        range=tuple(span) if span else None,
        allowed=tuple(raw.get("allowed", ())),
        note=raw.get("note", ""),
        file=file,
    )
    _, fault = judged(raw["value"], setting)
    if fault:
        faults.add(file, key, fault)
    return setting


def overlay_rules(folder: Path, rules: dict[str, Rule], faults: Faults) -> dict[str, Rule]:
    """The rules with the values of an arranger's folder laid over them."""
    families = {rule.family for rule in rules.values()}
    changed = dict(rules)
    for path in family_files(folder):
        tables = opened(path, faults)
        if path.stem not in families:
            faults.unknown(shown(path), "", path.stem, sorted(families), "rule family")
            continue
        for name, table in tables.items():
            id = f"{path.stem}.{name}"
            if id not in rules:
                if isinstance(table, dict):
                    own = [rule.id.split(".", 1)[1] for rule in rules.values() if rule.family == path.stem]
                    faults.unknown(shown(path), name, name, own, "rule")
                continue
            changed[id] = _overlaid(path, name, table, rules[id], faults)
    return changed


def _overlaid(path: Path, name: str, table: Any, rule: Rule, faults: Faults) -> Rule:
    """One rule with new values.  Settings may stand under ``settings`` or directly under the rule; a bare value will do."""
    file = shown(path)
    if not isinstance(table, dict):
        faults.add(file, name, f"is a rule; write its settings under [{name}.settings]")
        return rule
    by_key = {setting.name.rsplit(".", 1)[1]: setting for setting in rule.settings}
    rows = {key: raw for key, raw in table.items() if key not in RULE_KEYS}
    where = dict.fromkeys(rows, name)
    for key, raw in (table.get("settings") or {}).items():
        rows[key] = raw
        where[key] = f"{name}.settings"
    for key, raw in rows.items():
        if key not in by_key:
            faults.unknown(file, f"{where[key]}.{key}", key, by_key, "setting")
            continue
        by_key[key] = changed(by_key[key], raw, file, f"{where[key]}.{key}", faults)
    return dataclasses.replace(rule, settings=tuple(by_key.values()))


def changed(setting: Setting, raw: Any, file: str, key: str, faults: Faults) -> Setting:
    """A setting with the value of an overlay: a bare value, or a table with value and perhaps a source and a note."""
    entries = raw if isinstance(raw, dict) else {"value": raw}
    for entry in entries:
        if entry not in SETTING_KEYS:
            faults.unknown(file, f"{key}.{entry}", entry, OVERLAY_KEYS, "entry of a changed setting")
        elif entry in ("unit", "range", "allowed") and _as_stated(setting, entry) != entries[entry]:
            faults.add(file, f"{key}.{entry}", f"belongs to the rule and cannot be changed; it is {_as_stated(setting, entry)!r}")
    if "value" not in entries:
        faults.add(file, key, "needs a value; write value = ...")
        return setting
    value, fault = judged(entries["value"], setting)
    if fault:
        faults.add(file, key, fault)
        return setting
    source = str(entries.get("source", "the arranger's rules"))
    return dataclasses.replace(setting, value=value, source=source, note=str(entries.get("note", "")), file=file)


def _as_stated(setting: Setting, entry: str) -> Any:
    stated = getattr(setting, entry)
    return list(stated) if isinstance(stated, tuple) else stated
