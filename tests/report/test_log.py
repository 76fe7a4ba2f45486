"""The log and the fates as lines of JSON."""

from __future__ import annotations

import json
from dataclasses import replace

from reduce.model.decision import Decision, Fate, Rejected
from reduce.model.pitch import spelled
from reduce.model.score import Bar, Key, Meter, Note, Part, Score
from reduce.report import decisions_jsonl, notes_jsonl

CONTRACT = (
    *("id", "kind", "bars", "beat", "hand", "weight", "certainty", "sentence", "rule", "setting", "measured", "limit", "unit"),
    *("source_notes", "draft_notes", "rejected", "by"),
)


def score(meter: Meter, pickup: int = 0) -> Score:
    """Four bars, eight ticks a quarter; the first holds ``pickup`` ticks and the number 0 where that is given."""
    full, start, bars = meter.ticks(8), 0, []
    for index in range(4):
        length = pickup if pickup and index == 0 else full
        number = str(index if pickup else index + 1)
        bars.append(Bar(index=index, number=number, start=start, length=length, meter=meter, key=Key(), pickup=bool(pickup) and index == 0))
        start += length
    part = Part(index=0, id="P1", name='Horn "in F"', short="Hn.", instrument="horn", family="brass")
    notes = tuple(
        Note(id=f"n{i}", part=0, staff=1, voice="1", bar=bar.index, onset=bar.start + 4, duration=4, pitch=spelled("B", -1, 3), midi=58)
        for i, bar in enumerate(bars)
    )
    return Score(resolution=8, parts=(part,), bars=tuple(bars), notes=notes)


DECISION = Decision(
    id="d1",
    kind="chord",
    bars=(2, 3),
    onset=68,
    hand="left",
    weight="medium",
    certainty=0.75,
    sentence="Bars 3–4, left hand: the fifth is left out, because an octave and a fifth span 19 semitones (limit 12); it sounds thinner.",
    rule="voicing.third-before-fifth",
    setting="voicing.third-before-fifth.fifth-weight",
    measured=19.0,
    limit=12.0,
    unit="semitones",
    source_notes=("n2",),
    draft_notes=("l3", "l4"),
    rejected=(Rejected("the whole chord", "19 semitones are too wide"),),
)


def test_a_decision_has_the_fields_of_the_contract() -> None:
    """Bars as printed, beats from 1, whole numbers without decimals."""
    lines = decisions_jsonl([DECISION], score(Meter((4,), 4))).decode().splitlines()
    row = json.loads(lines[0])
    assert tuple(row) == CONTRACT
    assert (row["bars"], row["beat"], row["certainty"], row["measured"], row["limit"]) == (["3", "4"], 1.5, 0.75, 19, 12)
    assert row["rejected"] == [{"what": "the whole chord", "why": "19 semitones are too wide"}]
    assert row["draft_notes"] == ["l3", "l4"]


def test_decisions_stand_in_the_order_of_the_score() -> None:
    """By bar, then by moment; what concerns a whole bar comes before its moments."""
    late, early = replace(DECISION, id="late"), replace(DECISION, id="early", bars=(0, 3), onset=None)
    between = replace(DECISION, id="between", bars=(2, 2), onset=None)
    lines = decisions_jsonl([late, between, early], score(Meter((4,), 4))).decode().splitlines()
    assert [json.loads(line)["id"] for line in lines] == ["early", "between", "late"]


def test_the_bars_that_are_played_are_told_first() -> None:
    """Law: the proposal leads the log, although what lies before it comes earlier in the score."""
    before = replace(DECISION, id="before", bars=(0, 0), onset=0, weight="small", kind="cut")
    played = replace(DECISION, id="played", bars=(1, 2), onset=48, weight="big", kind="cut")
    lines = decisions_jsonl([before, played], score(Meter((4,), 4))).decode().splitlines()
    assert [json.loads(line)["id"] for line in lines] == ["played", "before"]


def test_beats_are_those_a_musician_counts() -> None:
    """Compound time counts dotted beats; a pick-up is counted from the bar it lacks (common practice)."""
    compound = score(Meter((6,), 8))
    row = json.loads(decisions_jsonl([replace(DECISION, bars=(1, 1), onset=24 + 12)], compound))
    assert row["beat"] == 2
    upbeat = score(Meter((3,), 4), pickup=8)
    row = json.loads(decisions_jsonl([replace(DECISION, bars=(0, 0), onset=0)], upbeat))
    assert (row["bars"], row["beat"]) == (["0", "0"], 3)


def test_each_fate_names_its_note() -> None:
    """One line a note: where it stands, what it is, what became of it and which decision says why."""
    fates = (
        Fate(note="n1", kind="dropped", decision="d1"),
        Fate(note="n0", kind="kept", decision='d"2', draft_notes=("r1", "l1")),
    )
    rows = [json.loads(line) for line in notes_jsonl(fates, score(Meter((4,), 4))).decode().splitlines()]
    common = {"part": 'Horn "in F"', "beat": 1.5, "pitch": "B♭3"}
    assert rows == [
        {"note": "n0", "bar": "1", "fate": "kept", "decision": 'd"2', "draft_notes": ["r1", "l1"], **common},
        {"note": "n1", "bar": "2", "fate": "dropped", "decision": "d1", "draft_notes": [], **common},
    ]
