"""The printed sheet: staff size and bars a line by level, lines and pages that break well, PDF with its fonts."""

from __future__ import annotations

import itertools
import json
import tempfile
from importlib import resources
from pathlib import Path

from reduce.engrave.facts import Facts, facts_of
from reduce.engrave.fonts import music_font
from reduce.engrave.lines import LETTER, line_starts, page_starts
from reduce.engrave.verovio_layout import INSET, System, natural_widths, systems
from reduce.model.errors import UsageError
from reduce.model.level import Level
from reduce.model.record import dataclass
from reduce.model.rules import Rules

PAPERS = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}  # ISO 216; ANSI/ASME Y14.1, millimetres
FULL_LAST = 0.75  # a last line of so large a share of the loosest other line is drawn out to the margin
SMALLER = (0.95, 0.9)  # shares of the staff height that are tried where they spare a page
SMALLEST_STAFF = 4.0  # millimetres


@dataclass(frozen=True, slots=True, kw_only=True)
class Print:
    """Sizes of the sheet in millimetres; the values of ``rules/page.toml``."""

    side: float = 14.0
    top: float = 12.0
    bottom: float = 15.0
    gap: float = 6.0  # least space between systems
    widest_gap: float = 18.0  # most space between systems that are spread over a page
    busy_turn: float = 0.25  # pages; cost of a page turn at which both hands play


def print_of(rules: Rules | None) -> Print:
    """The sheet's sizes by the rule book, or as shipped."""
    if rules is None:
        return Print()
    return Print(
        side=rules.number("page.sheet.side-mm"),
        top=rules.number("page.sheet.top-mm"),
        bottom=rules.number("page.sheet.bottom-mm"),
        gap=rules.number("page.sheet.gap-mm"),
        widest_gap=rules.number("page.sheet.widest-gap-mm"),
        busy_turn=rules.number("page.sheet.busy-turn-cost"),
    )


def paper_size(paper: str) -> tuple[float, float]:
    """Width and height in millimetres.  Raises UsageError for a paper we do not print on."""
    if paper not in PAPERS:
        raise UsageError(f"There is no paper {paper!r}; choose one of {', '.join(sorted(PAPERS))}.")
    return PAPERS[paper]


def _lay_out(musicxml: bytes, level: Level, width: float, share: float = 1.0) -> tuple[list[System], Facts, list[str]]:
    """Engrave the piece in lines of ``width`` millimetres, at ``share`` of the level's staff height."""
    facts = facts_of(musicxml)
    staff = level.staff_height * share
    widths = natural_widths(musicxml, staff)
    widest = max(widths, default=0.0)
    if widest > width:  # one bar that fills more than a line: the whole piece is set smaller
        staff = max(SMALLEST_STAFF, staff * width / widest)
        widths = natural_widths(musicxml, staff)
    prefix = staff / 4 * (4.5 + 1.1 * facts.fifths)
    above = [LETTER * staff * letters for letters in facts.letters]
    starts = line_starts(widths, width, prefix, level.bars_a_line, facts.pickup, above)
    full_last = _fill(widths, starts, -1) > FULL_LAST * min((_fill(widths, starts, k) for k in range(len(starts))), default=2.0)
    found, warnings = systems(musicxml, starts, staff, width, full_last)
    return found, facts, warnings


def _fill(widths: list[float], starts: list[int], line: int) -> float:
    """Natural width of one line, millimetres."""
    edges = [0, *starts, len(widths)]
    first, last = (edges[line], edges[line + 1]) if line >= 0 else edges[-2:]
    return sum(widths[first:last])


def pages(musicxml: bytes, level: Level, paper: str = "a4", rules: Rules | None = None) -> tuple[str, ...]:
    """The music as SVG, one line of music each, in reading order, for a screen.

    Notes carry the `id` of the file.  ``paper``: 'a4' or 'letter', whose width the lines have.
    """
    sheet = print_of(rules)
    width, _ = paper_size(paper)
    found, _, _ = _lay_out(musicxml, level, width - 2 * sheet.side)
    return tuple(system.svg for system in found)


def pdf(musicxml: bytes, level: Level, paper: str = "a4", rules: Rules | None = None) -> bytes:
    """The sheet to print: title block, lines of music, source and rights at the foot; the same bytes for the same input.

    Staff size and bars a line are the level's; ``paper``: 'a4' or 'letter', portrait.  Raises UsageError for another paper.
    """
    sheet = print_of(rules)
    width, height = paper_size(paper)
    room = height - sheet.top - sheet.bottom
    best: tuple[list[System], Facts, list[int]] | None = None
    for share in (1.0, *(() if level.bars_a_line else SMALLER)):
        found, facts, _ = _lay_out(musicxml, level, width - 2 * sheet.side, share)
        turns = [facts.turns[system.bars[1] - 1] if system.bars[1] - 1 < len(facts.turns) else True for system in found]
        heights = [system.height for system in found]
        starts = page_starts(heights, room - _head_height(facts), room, sheet.gap, turns, sheet.busy_turn)
        if best is None or len(starts) < len(best[2]):
            best = found, facts, starts
        if not starts or len(best[2]) > len(starts) or not _spills(heights, starts, room - _head_height(facts), room, sheet):
            break
    assert best is not None
    found, facts, starts = best
    head = _head_height(facts)
    plan = {
        "width": width, "height": height, "side": sheet.side, "inset": INSET / 10, "top": sheet.top, "bottom": sheet.bottom,
        "head": head, "pages": _plan([system.height for system in found], starts, room - head, room, sheet, width),
    }  # fmt: skip
    return _make(found, plan, facts)


def _spills(heights: list[float], starts: list[int], first: float, room: float, sheet: Print) -> bool:
    """Whether the piece runs over onto its last page by so little that a slightly smaller staff would spare the page."""
    pages = len(starts) + 1
    return sum(heights) + sheet.gap * (len(heights) - pages) < (first + room * (pages - 2)) / SMALLER[-1] ** 2


def _head_height(facts: Facts) -> float:
    """Height of the title block, millimetres."""
    title_lines = 1 + len(facts.title) // 46
    return 3.0 + 8.0 * title_lines + (5.0 if facts.subtitle else 0.0) + (11.0 if facts.arranger else 7.0 if facts.composer else 2.0)


def _plan(heights: list[float], starts: list[int], first: float, room: float, sheet: Print, width: float) -> list[dict[str, object]]:
    """The systems of each page and the space between them: they fill the page, unless it would tear them apart."""
    found: list[dict[str, object]] = []
    for number, (start, end) in enumerate(itertools.pairwise([0, *starts, len(heights)])):
        free = (room if number else first) - sum(heights[start:end])
        gap = max(0.0, min(sheet.widest_gap, free / max(end - start - 1, 1)))
        rows = [{"file": f"system{k}.svg", "width": width - 2 * sheet.side + INSET / 10} for k in range(start, end)]
        found.append({"gap": round(gap, 3), "systems": rows})
    return found


def _make(found: list[System], plan: dict[str, object], facts: Facts) -> bytes:
    import typst

    foot = " \u00b7 ".join(text for text in (facts.source, facts.rights) if text)
    texts = {
        "title": facts.title, "subtitle": facts.subtitle, "composer": facts.composer, "arranger": facts.arranger, "foot": foot,
    }  # fmt: skip
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "fonts").mkdir()
        (folder / "fonts" / "music.otf").write_bytes(music_font())
        (folder / "plan.json").write_text(json.dumps(plan), encoding="utf-8")
        (folder / "sheet.typ").write_bytes(resources.files("reduce.engrave").joinpath("sheet.typ").read_bytes())
        for k, system in enumerate(found):
            (folder / f"system{k}.svg").write_text(for_print(system.svg), encoding="utf-8")
        made = typst.compile(
            str(folder / "sheet.typ"), root=str(folder), font_paths=[str(folder / "fonts")], ignore_system_fonts=True, sys_inputs=texts
        )
    assert isinstance(made, bytes)
    return made


def for_print(svg: str) -> str:
    """The SVG with fonts that the page maker has, and in black."""
    return svg.replace("Times, serif", "Libertinus Serif").replace("currentColor", "black")
