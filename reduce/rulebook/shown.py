"""The rule book for reading: levels as text, rules as the table of ``rules/README.md``."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable
from itertools import groupby
from typing import Any

from reduce.model.rules import Value
from reduce.rulebook.records import LevelPage, Rule, Setting

BEGIN, END = "<!-- rules: begin -->\n", "<!-- rules: end -->\n"


def levels_text(pages: Iterable[LevelPage], width: int) -> str:
    """The levels, one a paragraph, the easiest first."""
    rows = list(pages)
    indent = max(len(page.name) for page in rows) + 2
    lines = []
    for page in rows:
        told = f"{page.title}. {page.about}"
        lines += textwrap.wrap(told, width, initial_indent=page.name.ljust(indent), subsequent_indent=" " * indent)
    return "\n".join(lines) + "\n"


def level_text(page: LevelPage, width: int) -> str:
    """Every setting of a level: name, value and unit; below it what it means and where it comes from."""
    lines = [f"{page.title} ({page.name})", *textwrap.wrap(page.about, width), ""]
    for setting in page.settings:
        lines += textwrap.wrap(f"{setting.name}: {worded(setting)}", width, subsequent_indent="    ")
        note = f" {setting.note}." if setting.note else ""
        lines += textwrap.wrap(
            f"{setting.meaning}; source: {setting.source}.{note}", width, initial_indent="    ", subsequent_indent="    "
        )
    return "\n".join(lines) + "\n"


def worded(setting: Setting) -> str:
    """A value with its unit, in words."""
    if isinstance(setting.value, (bool, tuple)) or (isinstance(setting.value, str) and setting.allowed):
        return plain(setting.value)
    unit = setting.unit.partition(";")[0].partition(",")[0]
    return f"{plain(setting.value)} {'' if unit.startswith('note') and isinstance(setting.value, str) else unit}".strip()


def rules_readme(text: str, rules: Iterable[Rule]) -> str:
    """The text of ``rules/README.md`` with the table between its marks made anew."""
    before, _, rest = text.partition(BEGIN)
    _, _, after = rest.partition(END)
    return f"{before}{BEGIN}{rules_table(rules)}{END}{after}"


def plain(value: Value) -> str:
    """A value as a musician would write it."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, tuple):
        return ", ".join(plain(item) for item in value) or "any"
    return f"{value:g}" if isinstance(value, float) else str(value)


def level_values(page: LevelPage) -> dict[str, Any]:
    """A level as plain values."""
    return {
        "name": page.name,
        "title": page.title,
        "about": page.about,
        "order": page.order,
        "settings": {
            setting.name: {"value": setting.value, "unit": setting.unit, "meaning": setting.meaning, "source": setting.source}
            for setting in page.settings
        },
    }


def rules_table(rules: Iterable[Rule]) -> str:
    """Every rule with its reason and its settings, as Markdown tables by family."""
    lines = []
    for family, members in groupby(rules, key=lambda rule: rule.family):
        lines += [f"### {family}.toml", "", "| rule | what and why | settings |", "|---|---|---|"]
        for rule in members:
            name = rule.id.removeprefix(f"{family}.")
            settings = "<br>".join(f"`{s.name.removeprefix(rule.id + '.')}` = {_cell(_short(s))}" for s in rule.settings)
            lines.append(f"| `{name}` | **{_cell(rule.title)}.** {_cell(rule.why)} | {settings} |")
        lines.append("")
    return "\n".join(lines)


def _short(setting: Setting) -> str:
    """A value for a table: of a long list only the beginning."""
    value, most = setting.value, 8
    if isinstance(value, tuple) and len(value) > most:
        return f"{plain(value[:most])} … ({len(value)} in all)"
    return worded(setting)


def _cell(text: str) -> str:
    return text.replace("|", "\\|").replace("\n", " ")
