"""Printed bar numbers."""

from __future__ import annotations

from reduce.model.score import parent_number, shown_number


def test_a_long_number_is_cut_and_the_letter_of_a_part_stays() -> None:
    """Law: what was cut once is not cut again, and a part of such a bar keeps its letter."""
    for name in ("7", "7b", "9" * 12, "x" * 12):
        assert name == shown_number(name)
    cut = shown_number("9" * 5000)
    assert cut == "9" * 12 == shown_number(cut)
    assert cut + "b" == shown_number(cut + "b")
    assert cut == parent_number(shown_number(cut + "b"))
