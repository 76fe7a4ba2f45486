"""The rule book, once for all tests of the hands."""

from __future__ import annotations

import pytest

from reduce import rulebook
from reduce.model.rules import Rules

LEVELS = ("first-year", "late-beginner", "early-intermediate", "intermediate", "late-intermediate", "advanced")


@pytest.fixture(scope="session")
def book() -> dict[str, Rules]:
    return {name: rulebook.load(name) for name in LEVELS}
