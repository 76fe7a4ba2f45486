"""The reasons for reading: equal ones once, doubtful ones first, lines that fit."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from reduce.model.errors import UsageError
from reduce.report import grouped, read_log, select, why_text


def row(bars: str, words: str, **more: Any) -> dict[str, Any]:
    first, _, last = bars.partition("–")
    return {
        "id": "d",
        "kind": "chord",
        "bars": [first, last or first],
        "beat": 1,
        "hand": "left",
        "weight": "small",
        "certainty": 1,
        "sentence": f"Bar{'s' if last else ''} {bars}, {words}",
        "rule": "voicing.third-before-fifth",
        "setting": "voicing.third-before-fifth.fifth-weight",
        "measured": None,
        "limit": None,
        "unit": "",
        "source_notes": [],
        "draft_notes": [],
        "rejected": [],
        "by": "tool",
    } | more


FIFTH = "left hand: the fifth is left out, because the hand spans a sixth; it sounds thinner."
CELLOS = "both hands: the tune is in the cellos, because it moves by step against held chords."
LOG = (
    row("1–24", CELLOS, kind="melody", weight="big", certainty=0.4, rejected=[{"what": "Violin 1", "why": "it only doubles from bar 5"}]),
    row("1–24", "both hands: the key stays, because one sharp is allowed.", kind="key", weight="big"),
    row("9", FIFTH),
    row("12a", FIFTH),
    row("25", FIFTH),
    row("41–44", FIFTH, certainty=0.9),
    row("25", FIFTH),
    row("41", "right hand: the trill is played as its main note.", hand="right", weight="medium", measured=7, limit=0, unit="trills"),
)


def test_equal_reasons_are_told_once_with_every_place() -> None:
    """The words decide, not the bars they begin with; a place is named once."""
    reasons = grouped(LOG)
    assert [reason.also for reason in reasons] == [(), (), (("12a", "12a"), ("25", "25"), ("41", "44")), ()]
    assert reasons[2].row["certainty"] == 0.9


def test_other_hand_or_rule_is_another_reason() -> None:
    """Only what is the same in every respect is told together."""
    rows = [row("9", FIFTH), row("10", FIFTH, hand="right"), row("11", FIFTH, rule="voicing.other"), row("12", FIFTH, by="arranger")]
    assert len(grouped(rows)) == 4


def test_reasons_that_differ_in_the_figure_measured_are_told_together() -> None:
    """One reason with its figure, then the other bars; a limit that differs makes it another reason."""
    words = "the bar would stand out as too hard (its load is {}; bars above {} are eased)."
    rows = [
        row("13", words.format(5.7, 4.5), measured=5.71, limit=4.5),
        row("15", words.format(5.3, 4.5), measured=5.3, limit=4.5),
        row("16", words.format(5.3, 4), measured=5.3, limit=4),
        row("19", words.format("6.0", 4.5), measured=6.0, limit=4.5),
    ]
    reasons = grouped(rows)
    assert [(("15", "15"), ("19", "19")), ()] == [reason.also for reason in reasons]
    assert "5.7; bars above 4.5 are eased). Likewise in bars 15, 19." in why_text(rows, 200, everything=True)


@pytest.mark.parametrize(("bar", "count"), [("9", 3), ("12a", 1), ("25", 2), ("42", 1), ("24", 2)])
def test_a_bar_is_asked_for_as_printed(bar: str, count: int) -> None:
    """Everything that touches the bar, whole stretches included; odd numbers only where they are named."""
    assert len(select(LOG, bar)) == count


def test_asking_for_what_is_not_there() -> None:
    """An unknown bar or kind is told, with the kinds that there are."""
    with pytest.raises(UsageError, match="nothing of bar 99"):
        select(LOG, "99")
    with pytest.raises(UsageError, match="its kinds are chord, key, melody"):
        select(LOG, kind="bas")


def test_the_doubtful_come_first_and_small_ones_are_folded() -> None:
    """The text as a teacher reads it."""
    assert why_text(LOG, 88) == (
        "Not sure, look here first\n"
        "  • Bars 1–24, both hands: the tune is in the cellos, because it moves by step against\n"
        "    held chords. (40 % sure)\n"
        "      not Violin 1: it only doubles from bar 5\n"
        "\n"
        "Big decisions\n"
        "  • Bars 1–24, both hands: the key stays, because one sharp is allowed.\n"
        "\n"
        "Along the way\n"
        "  • Bar 41, right hand: the trill is played as its main note.\n"
        "\n"
        "And 1 small one (chord 1): --bar N shows those of a bar, --all every one.\n"
    )


def test_everything_in_full() -> None:
    """Figures, rule and setting on demand."""
    text = why_text(LOG[-1:], 88, full=True, everything=True)
    assert text == (
        "Along the way\n"
        "  • Bar 41, right hand: the trill is played as its main note.\n"
        "      measured 7, limit 0 trills\n"
        "      rule voicing.third-before-fifth, setting voicing.third-before-fifth.fifth-weight\n"
    )
    assert "Same in bars 12a, 25, 41–44." in why_text(LOG, 200, everything=True)


@pytest.mark.parametrize("width", [40, 72, 100])
def test_lines_fit(width: int) -> None:
    """No line is longer than the page."""
    assert max(map(len, why_text(LOG, width, full=True, everything=True).splitlines())) <= width


def test_a_log_is_read_from_its_folder(tmp_path: Path) -> None:
    """Rows come back as written; a folder without a log is told, and so is a damaged one."""
    with pytest.raises(UsageError, match="is not a draft folder"):
        read_log(tmp_path)
    (tmp_path / "decisions.jsonl").write_text("".join(json.dumps(line) + "\n" for line in LOG), encoding="utf-8")
    assert read_log(tmp_path) == LOG
    (tmp_path / "decisions.jsonl").write_text('{"id": ', encoding="utf-8")
    with pytest.raises(UsageError, match="cannot be read"):
        read_log(tmp_path)


def test_what_is_played_leads_the_big_reasons() -> None:
    """Law: cut, key and tempo come before what concerns a part of the piece, whatever bars they begin with."""
    log = (
        row("3–8", "the tune is in the flute.", kind="melody", weight="big"),
        row("5–14", "the key stays.", kind="key", weight="big"),
        row("5–14", "are proposed.", kind="cut", weight="big"),
    )
    told = why_text(log, 80)
    assert told.index("proposed") < told.index("key stays") < told.index("flute")
