"""Half a page for the pupil, or for parents: what the orchestra plays, what two hands play of it, and why the rest is not there."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from typing import Any

from reduce.model.booklet import Block, Heading, Items, Table, Text
from reduce.teach.lesson import Lesson
from reduce.teach.listening import part_of

LAYERS = {  # rows of the table, and the roles that belong to them
    "tune": ("melody",),
    "along": ("melody-double", "melody-third"),
    "second": ("counter",),
    "bass": ("bass", "bass-double"),
    "chords": ("harmony",),
    "figures": ("figuration",),
    "drums": ("rhythm",),
}
COLUMNS = ("struck", "shared", "plainer", "out")
_COLUMN = {"kept": "struck", "moved": "struck", "merged": "shared", "simplified": "plainer", "dropped": "out"}
_LEFT = {"notation": "graces", "inner": "cues"}  # by the kind of the decision: why a note was dropped, where not for want of hands
_SILENT = 6  # parts that are named at most


def left_out(lesson: Lesson) -> list[Block]:
    """What was left out and why, from the fate of every source note; empty where the folder has no log."""
    here = lesson.fates_here
    if not here:
        return []
    words = lesson.words
    table = counts(lesson)
    total = sum(sum(row.values()) for row in table.values())
    head = [
        words.say(
            "left-out.lead", bars=lesson.bars_named(0, len(lesson.draft.bars) - 1), notes=total, parts=len({fate["part"] for fate in here}),
            keys=len({(note.onset, note.midi) for note in lesson.draft.notes if not note.grace}),
        )
    ]  # fmt: skip
    bars = lesson.facts.get("source", {}).get("bars", 0)
    mine = sum(not bar.parent for bar in lesson.draft.bars)
    if bars > mine:
        head.append(words.say("left-out.cut", bars=bars, mine=mine))
    if lesson.draft.transposed:
        way = "higher" if lesson.draft.transposed > 0 else "lower"
        head.append(words.count(f"left-out.{way}", abs(lesson.draft.transposed)))
    rows = tuple(
        (words.say(f"layer.{layer}"), *(f"{row[column]}" if row[column] else "–" for column in COLUMNS)) for layer, row in table.items()
    )
    names = tuple(words.say(f"left-out.{name}") for name in ("layer", *COLUMNS))
    blocks: list[Block] = [
        Heading(text=words.say("left-out.title")),
        Text(text=" ".join(head)),
        Table(head=names, rows=rows, shares=(6, 3, 4, 4, 3)),
        Items(items=tuple(words.count(f"left-out.why.{reason}", count) for reason, count in reasons(lesson).most_common())),
    ]
    silent = silent_parts(lesson)
    if silent:
        blocks.append(Text(text=words.say("left-out.silent", parts=words.several(list(silent[:_SILENT])))))
    blocks.append(Text(text=words.say("left-out.log"), look="small"))
    return blocks


def counts(lesson: Lesson) -> dict[str, Counter[str]]:
    """Notes of the source by layer and by what became of them; layers that the source has."""
    found = {layer: Counter[str]() for layer in LAYERS}
    of_role = {role: layer for layer, roles in LAYERS.items() for role in roles}
    for fate in lesson.fates_here:
        found[of_role.get(fate["role"], "chords")][_COLUMN[became(lesson, fate)]] += 1
    return {layer: row for layer, row in found.items() if row}


def reasons(lesson: Lesson) -> Counter[str]:
    """Why notes are not struck as they stand in the orchestra: how many for each reason."""
    by = {row["id"]: row for row in lesson.decisions}
    found: Counter[str] = Counter()
    for fate in lesson.fates_here:
        kind = became(lesson, fate)
        decision = by.get(fate["decision"], {})
        if kind == "kept":
            continue
        if kind != fate["fate"]:
            found["edited"] += 1
        elif decision.get("by") == "arranger" or decision.get("rule") == "choices":
            found["chosen"] += 1
        elif kind != "dropped":
            found[kind] += 1
        elif fate["role"] == "rhythm":
            found["drums"] += 1
        else:
            found[_LEFT.get(decision.get("kind", ""), "hands")] += 1
    return found


def became(lesson: Lesson, fate: Mapping[str, Any]) -> str:
    """The fate of a source note in the draft as it is now: dropped too where a person took its draft notes out."""
    there = fate["draft_notes"]
    return "dropped" if lesson.ids_hold and there and not lesson.ids & set(there) else str(fate["fate"])


def silent_parts(lesson: Lesson) -> tuple[str, ...]:
    """Parts that play in these bars without a note of theirs being heard in the draft, those with the most notes first."""
    plays, lives = Counter[str](), set()
    for fate in lesson.fates_here:
        part = part_of(fate)
        plays[part] += 1
        if became(lesson, fate) != "dropped":
            lives.add(part)
    return tuple(part for part, _ in plays.most_common() if part not in lives)
