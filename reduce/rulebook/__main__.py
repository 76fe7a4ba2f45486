"""``python -m reduce.rulebook`` writes the table of rules in ``rules/README.md`` anew."""

from reduce.rulebook import rules
from reduce.rulebook.files import home
from reduce.rulebook.shown import rules_readme

if __name__ == "__main__":
    path = home() / "README.md"
    path.write_text(rules_readme(path.read_text(encoding="utf-8"), rules()), encoding="utf-8")
