"""The way back from a draft folder: its files read again, engraved for the screen and told on one page."""

from __future__ import annotations

import json
import tempfile
from collections.abc import Mapping
from difflib import SequenceMatcher
from pathlib import Path
from typing import TYPE_CHECKING, Any

from reduce import rulebook
from reduce.arrange.figures_pattern import SPOKEN
from reduce.engrave.screen import Screen, screen
from reduce.engrave.stretch import bar_numbers, matching, renamed, stretch
from reduce.model.draft import Draft
from reduce.model.errors import ReduceError, RuleError, UsageError
from reduce.model.record import replace
from reduce.model.rules import Rules
from reduce.model.score import Score
from reduce.notate import together
from reduce.notate.playing_order import playing_order
from reduce.read import as_draft, load
from reduce.report.compare import Side, comparison
from reduce.report.compare_page import comparison_page
from reduce.report.compare_text import since
from reduce.report.edits import Edits, edits
from reduce.report.review import Material, page
from reduce.report.review.material import places

if TYPE_CHECKING:
    from reduce.report.serve import ReviewServer

STAFF_HEIGHT = 7.0  # millimetres, of the page's drawings
LINE = 250.0  # millimetres
OPENING_BARS = 10  # no first line is longer
USUAL_LEVEL = "late-beginner"  # instruments are read with it where the folder's own level is unknown


def review_page(folder: Path, *, served: bool = False) -> str:
    """The review page of a draft folder.

    Raises:
        UsageError: where the folder is no draft folder, or its files do not belong together.
    """
    return page(material(folder, served=served))


def material(folder: Path, *, served: bool = False) -> Material:
    """What the review page of a draft folder is made from.  Raises as `review_page`."""
    facts, decisions, fates = facts_in(folder), rows_in(folder, "decisions.jsonl"), rows_in(folder, "notes.jsonl")
    rules = rules_of(facts)
    draft = read_draft(folder, rules)
    below = _file(folder, "draft.musicxml")
    above = source_below(folder, bar_numbers(below))
    source, first, here = source_in(folder, draft, rules)
    above, source_ids = renamed(above, "s")
    below, draft_ids = renamed(below, "d")
    drawn = screen(together(above, below), STAFF_HEIGHT, LINE) if draft.bars else Screen({}, ())
    opening = screen(stretch(below, 0, min(OPENING_BARS, len(draft.bars)) - 1), STAFF_HEIGHT, LINE, 1) if draft.bars else drawn
    numbers = tuple(bar.number for bar in source.bars)
    return Material(
        facts=facts,
        decisions=tuple(row for row in decisions if places(row["bars"], numbers, first, len(draft.bars))),
        fates=fates,
        draft=draft,
        source=here,
        source_numbers=numbers,
        first_bar=first,
        draft_ids=draft_ids,
        source_ids=source_ids,
        opening=opening.lines[0] if opening.lines else None,
        lines=drawn.lines,
        glyphs={**drawn.glyphs, **opening.glyphs},
        space=STAFF_HEIGHT * 25,
        order=tuple(playing_order(draft.bars)),
        figures={name: SPOKEN.get(name, name.replace("-", " ")) for name in rules.level.figures},
        served=served,
    )


def source_in(folder: Path, draft: Draft, rules: Rules) -> tuple[Score, int, Score]:
    """The condensed source of a draft folder, the index of the draft's first bar in it, and the draft's bars of it from tick 0.

    Raises `UsageError` where the two have other bars.
    """
    source = load(folder / "condensed.musicxml", rules.instruments)
    try:
        first = matching([bar.number for bar in source.bars], [bar.number for bar in draft.bars])
    except ValueError:
        raise UsageError(f"The draft in {folder} and its condensed source have other bars: make the draft again.") from None
    end, start = first + len(draft.bars), source.bars[first].start if source.bars else 0
    here = replace(
        source,
        bars=tuple(replace(bar, index=bar.index - first, start=bar.start - start) for bar in source.bars[first:end]),
        notes=tuple(replace(n, bar=n.bar - first, onset=n.onset - start) for n in source.notes if first <= n.bar < end),
    )
    return source, first, here


def compare_folders(before: Path, after: Path) -> tuple[dict[str, Any], tuple[Side, Side]]:
    """What differs between two draft folders, and both sides.  Raises `UsageError` where one is no draft folder."""
    sides = (side(before), side(after))
    return comparison(*sides), sides


def side(folder: Path) -> Side:
    """A draft folder as one side of a comparison."""
    facts = facts_in(folder)
    draft = read_draft(folder, rules_of(facts))
    return Side(name=folder.name or str(folder), facts=facts, decisions=rows_in(folder, "decisions.jsonl"), draft=draft)


def compare_page(told: Mapping[str, Any], sides: tuple[Side, Side], before: Path, after: Path) -> str:
    """A comparison as a page with the bars that both drafts have."""
    texts = [_file(folder, "draft.musicxml") for folder in (before, after)]
    numbers = [bar_numbers(text) for text in texts]
    common = SequenceMatcher(None, numbers[0], numbers[1], autojunk=False).find_longest_match()
    above, upper_ids = renamed(stretch(texts[0], common.a, common.a + common.size - 1), "a")
    below, lower_ids = renamed(stretch(texts[1], common.b, common.b + common.size - 1), "b")
    above = above.replace(b'"P1', b'"Q1')  # part ids must differ
    drawn = screen(together(above, below), STAFF_HEIGHT, LINE) if common.size else Screen({}, ())
    shown = numbers[0][common.a : common.a + common.size]
    return comparison_page(told, sides, drawn.lines, drawn.glyphs, (upper_ids, lower_ids), shown, STAFF_HEIGHT * 25)


def review_server(folder: Path, port: int = 0) -> ReviewServer:
    """A server that shows a folder's page, made anew for each look, and writes its choices.

    Raises:
        UsageError: where the folder is no draft folder, or the port is taken.
    """
    from reduce.report.serve import ReviewServer

    levels = [page.name for page in rulebook.levels()]
    made_for = str(facts_in(folder)["settings"]["level"])

    def judge(text: str) -> None:
        with tempfile.TemporaryDirectory() as name:
            path = Path(name, "choices.toml")
            path.write_text(text, encoding="utf-8")
            try:
                rulebook.read_choices(path, [*levels, made_for])
            except RuleError as error:
                raise RuleError(tuple(fault.replace(str(path), path.name) for fault in error.faults)) from None

    try:
        return ReviewServer(folder, lambda: review_page(folder, served=True), judge, port)
    except OSError as error:
        raise UsageError(f"Port {port} cannot be used ({error.strerror}): leave --port out, or name another.") from None


def last_run(folder: Path) -> Side | None:
    """What lies in a folder from the run before; None where there is nothing to compare with."""
    try:
        return side(folder) if (folder / "report.json").exists() else None
    except ReduceError:
        return None


def since_last_run(before: Side | None, folder: Path) -> dict[str, Any]:
    """What the draft in ``folder`` changes, for the answer of a re-run; nothing at a first run."""
    if before is None:
        return {}
    told = comparison(before, side(folder))
    return {"since_last_run": {"sentence": since(told), "bars": [bar["bar"] for bar in told["bars"]], "different": told["different"]}}


def copy_edits(base: Path, copy: Path, folder: Path, *, level: str, first: int) -> Edits:
    """What was edited in a copy of the draft in ``folder``; ``base`` is the draft as the tool wrote it.

    Raises:
        UsageError: where the folder holds no draft of this level, or the copy is no piano piece of the same bars.
        InputError: where the copy cannot be read.
    """
    facts = facts_in(folder)
    made_for = str(facts["settings"]["level"])
    if made_for != level:
        raise UsageError(f"The draft in {folder} is for {made_for}: edit a copy of the draft for {level}, or say --level {made_for}.")
    rules = rules_of(facts)
    drafts = [as_draft(load(path, rules.instruments)) for path in (base, copy)]
    if drafts[0] is None or drafts[1] is None:
        raise UsageError(f"{copy if drafts[0] else base} is no piano piece on two staves: edit a copy of {folder / 'draft.musicxml'}.")
    return edits(drafts[0], drafts[1], level=level, reason=f"edited in {copy.name}", first=first)


def rules_of(facts: Mapping[str, Any]) -> Rules:
    """The rules of a draft's level; those of a usual level where the draft was made with rules of the arranger's own."""
    try:
        return rulebook.load(str(facts["settings"]["level"]))
    except ReduceError:
        return rulebook.load(USUAL_LEVEL)


def read_draft(folder: Path, rules: Rules) -> Draft:
    """The draft of a folder.  Raises `UsageError` where its file is no piano piece."""
    found = as_draft(load(folder / "draft.musicxml", rules.instruments))
    if found is None:
        raise UsageError(f"{folder / 'draft.musicxml'} is no piano piece on two staves: make the draft again with 'reduce draft'.")
    return found


def source_below(folder: Path, numbers: list[str]) -> bytes:
    """The condensed source, the bars of these printed numbers only."""
    whole = _file(folder, "condensed.musicxml")
    try:
        first = matching(bar_numbers(whole), numbers)
    except ValueError:
        raise UsageError(f"The draft in {folder} and its condensed source have other bars: make the draft again.") from None
    return stretch(whole, first, first + len(numbers) - 1)


def facts_in(folder: Path) -> dict[str, Any]:
    """The report of a draft folder.  Raises `UsageError` where there is none."""
    facts = _json(folder / "report.json", _file(folder, "report.json"))
    assert isinstance(facts, dict)
    return facts


def rows_in(folder: Path, name: str) -> tuple[dict[str, Any], ...]:
    """The rows of one of a folder's logs.  Raises `UsageError` where there is none."""
    return tuple(_json(folder / name, line) for line in _file(folder, name).splitlines())


def _json(path: Path, text: bytes) -> Any:
    try:
        return json.loads(text)
    except ValueError as error:
        raise UsageError(f"{path} is damaged ({error}): make the draft again with 'reduce draft'.") from None


def _file(folder: Path, name: str) -> bytes:
    try:
        return (folder / name).read_bytes()
    except FileNotFoundError:
        raise UsageError(f"{folder} is not a draft folder: it has no {name}. Name a folder that 'reduce draft' made.") from None
    except OSError as error:
        raise UsageError(f"{folder / name} cannot be read ({error.strerror}).") from None
