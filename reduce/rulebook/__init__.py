"""The rule book: TOML files that a musician edits, read into typed settings.

``load`` gives a stage everything it needs; ``levels``, ``level_page`` and ``rules`` are for showing the book to people.
Every fault of every file is gathered before one `RuleError` tells them all.
"""

from reduce.rulebook.book import level_page, levels, load, rules
from reduce.rulebook.choices import choice_text, read_choices
from reduce.rulebook.records import LevelPage, Rule, Setting

__all__ = ["LevelPage", "Rule", "Setting", "choice_text", "level_page", "levels", "load", "read_choices", "rules"]
