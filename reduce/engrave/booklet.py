"""A printed set as PDF: words, tables, keyboards and music on pages that all say what they belong to."""

from __future__ import annotations

import contextlib
import json
import tempfile
from collections.abc import Callable, Iterator, Mapping, Sequence
from importlib import resources
from pathlib import Path
from typing import Any

from reduce.engrave.curve_picture import curve_svgs
from reduce.engrave.facts import facts_of
from reduce.engrave.fonts import music_font
from reduce.engrave.keyboard_picture import keyboard_svg, white_keys
from reduce.engrave.lines import LETTER, line_starts
from reduce.engrave.printed import Print, for_print, paper_size, print_of
from reduce.engrave.stretch import stretch
from reduce.engrave.verovio_layout import INSET, System, natural_widths, systems
from reduce.model.booklet import (
    Block,
    Booklet,
    Boxes,
    Curve,
    Ensemble,
    Heading,
    HeadsSheet,
    Items,
    Keyboards,
    Music,
    Reader,
    Section,
    Table,
    Text,
)
from reduce.model.level import Level
from reduce.model.record import dataclass
from reduce.model.rules import Rules

WHITE_KEY = 3.9  # millimetres of a white key in a keyboard picture
PARTED = 8.0  # millimetres between keyboard pictures
SMALLEST_STAFF = 4.0  # millimetres
HEADED = 30.0  # millimetres that head, foot and the title of a section take
NAMES = 30.0  # millimetres, the names of staves before the first line
Write = Callable[[Any], bytes]


@dataclass(frozen=True, slots=True)
class _Sizes:
    sheet: Print
    width: float
    height: float
    staff: float
    gap: float
    text: float

    @property
    def line(self) -> float:
        """Length of a line of music, millimetres."""
        return self.width - 2 * self.sheet.side


@dataclass(frozen=True, slots=True)
class _Tightness:
    """How much nearer and smaller the music of a section is set so that its last page is not left nearly empty."""

    gap: float = 1.0
    size: float = 1.0


_TIGHTER = (_Tightness(), _Tightness(0.5), _Tightness(0.4, 0.94), _Tightness(0.3, 0.88))
_TEACHERS = (_Tightness(0.3, 0.8), _Tightness(0.2, 0.72))  # for pages that no pupil reads from
_EMPTY = 0.3  # a last page filled to less than this share is nearly empty
_HALF = 0.6  # so is for a teacher the second of two pages: what can stand on one is easier to play from


class Press:
    """Prints one set for several readers; music that was engraved once is not engraved again.

    ``write`` makes MusicXML of a sheet.
    """

    def __init__(self, booklet: Booklet, level: Level, rules: Rules, write: Write, paper: str = "a4") -> None:
        width, height = paper_size(paper)
        text = rules.number("teach.booklet.text-points")
        self._booklet = booklet
        self._write = write
        self._sizes = _Sizes(print_of(rules), width, height, level.staff_height, rules.number("teach.booklet.gap-mm"), text)
        self._written: dict[int, bytes] = {}
        self._lines: dict[tuple[int, int, int, float, int], list[System]] = {}
        self._tight = self._fitted()

    def pdf(self, reader: Reader | None = None) -> bytes:
        """The pages for one reader, or all of them; the same bytes for the same input."""
        import typst

        sections = [section for section in self._booklet.sections if reader is None or reader in section.readers]
        with self._laid_out(sections, self._tight) as folder:
            made = typst.compile(
                str(folder / "booklet.typ"), root=str(folder), font_paths=[str(folder / "fonts")], ignore_system_fonts=True
            )
        assert isinstance(made, bytes)
        return made

    def musicxml(self, music: Music) -> bytes:
        """What a block of music is engraved from, whole."""
        key = id(music.sheet)
        if key not in self._written:
            self._written[key] = self._write(music.sheet)
        return self._written[key]

    def _fitted(self) -> dict[str, _Tightness]:
        """How tight each section has to be: each that would end with a nearly empty page is tried tighter, and left if nothing helps."""
        sections = [section for section in self._booklet.sections if any(isinstance(block, Music) for block in section.blocks)]
        teachers = {section.name for section in sections if section.readers == ("teacher",)}
        chosen: dict[str, _Tightness] = {}
        pages: dict[str, int] = {}
        for step, tightness in enumerate((*_TIGHTER, *_TEACHERS)):
            if step >= len(_TIGHTER):
                sections = [section for section in sections if section.readers == ("teacher",)]
            if not sections:
                break
            again = []
            for name, (first, last, filled) in self._edges(sections, dict.fromkeys((s.name for s in sections), tightness)).items():
                count = last - first + 1
                if count < pages.setdefault(name, count):
                    pages[name], chosen[name] = count, tightness
                elif count > 1 and filled < (_HALF if count == 2 and name in teachers else _EMPTY):
                    again.append(name)
            sections = [section for section in sections if section.name in again]
        return chosen

    def _edges(self, sections: Sequence[Section], tight: Mapping[str, _Tightness]) -> dict[str, tuple[int, int, float]]:
        """First and last page of each section, and to what share its last page is filled."""
        import typst

        with self._laid_out(sections, tight) as folder:
            told = typst.query(
                str(folder / "booklet.typ"), "<edge>", field="value", root=str(folder), font_paths=[str(folder / "fonts")],
                ignore_system_fonts=True,
            )  # fmt: skip
        rows = json.loads(told)
        sheet = self._sizes.sheet
        room = self._sizes.height - sheet.top - sheet.bottom
        return {
            name: (first, last, (end - sheet.top) / room) for (name, first, _), (_, last, end) in zip(rows[::2], rows[1::2], strict=True)
        }

    @contextlib.contextmanager
    def _laid_out(self, sections: Sequence[Section], tight: Mapping[str, _Tightness]) -> Iterator[Path]:
        """A folder with everything that the page maker needs."""
        with tempfile.TemporaryDirectory() as name:
            folder = Path(name)
            (folder / "fonts").mkdir()
            (folder / "fonts" / "music.otf").write_bytes(music_font())
            (folder / "booklet.typ").write_bytes(resources.files("reduce.engrave").joinpath("booklet.typ").read_bytes())
            plan = self._plan(sections, tight, folder)
            (folder / "plan.json").write_text(json.dumps(plan, ensure_ascii=False), encoding="utf-8")
            yield folder

    def _plan(self, sections: Sequence[Section], tight: Mapping[str, _Tightness], folder: Path) -> dict[str, Any]:
        booklet, sizes = self._booklet, self._sizes
        sheet = sizes.sheet
        return {
            "title": booklet.title, "author": booklet.author, "line": booklet.line, "foot": booklet.foot, "caution": booklet.caution,
            "language": booklet.language, "page-word": booklet.page_word, "text": sizes.text,
            "width": sizes.width, "height": sizes.height, "side": sheet.side, "top": sheet.top, "bottom": sheet.bottom, "inset": INSET / 10,
            "sections": [
                {
                    "name": section.name,
                    "title": section.title,
                    "blocks": [
                        {
                            **self._block(block, tight.get(section.name, _Tightness()), folder, f"{k}-{n}", ends=after is None),
                            "leads": _leads(block, after),
                        }
                        for n, (block, after) in enumerate(zip(section.blocks, (*section.blocks[1:], None), strict=True))
                    ],
                }
                for k, section in enumerate(sections)
            ],
        }  # fmt: skip

    def _block(self, block: Block, tight: _Tightness, folder: Path, place: str, *, ends: bool) -> Mapping[str, Any]:
        match block:
            case Heading():
                return {"kind": "heading", "text": block.text}
            case Text():
                return {"kind": "text", "text": block.text, "look": block.look}
            case Items():
                return {"kind": "items", "items": block.items, "mark": block.mark}
            case Boxes():
                return {"kind": "boxes", "items": block.items}
            case Table():
                return {"kind": "table", "head": block.head, "rows": block.rows, "shares": block.shares}
            case Keyboards():
                return self._keyboards(block, folder, place)
            case Curve():
                return self._curve(block, folder, place)
            case Music():
                return self._music(block, tight, folder, place, ends=ends)

    def _keyboards(self, block: Keyboards, folder: Path, place: str) -> Mapping[str, Any]:
        rows = []
        for k, keys in enumerate(block.pictures):
            file = f"keys{place}-{k}.svg"
            (folder / file).write_text(keyboard_svg(keys), encoding="utf-8")
            rows.append({"file": file, "width": white_keys(keys) * WHITE_KEY, "caption": keys.caption, "blank": keys.blank})
        widest = max((float(str(row["width"])) for row in rows), default=1.0)
        columns = max(1, int((self._sizes.line + PARTED) // (widest + PARTED)))
        return {"kind": "keyboards", "pictures": rows, "columns": min(columns, max(1, len(rows)))}

    def _curve(self, block: Curve, folder: Path, place: str) -> Mapping[str, Any]:
        rows = []
        for k, (svg, width) in enumerate(curve_svgs(block, self._sizes.line - 1)):
            file = f"curve{place}-{k}.svg"
            (folder / file).write_text(svg, encoding="utf-8")
            rows.append({"file": file, "width": width})
        return {"kind": "curve", "rows": rows}

    def _music(self, block: Music, tight: _Tightness, folder: Path, place: str, *, ends: bool) -> Mapping[str, Any]:
        rows = []
        found = self._systems(block, block.size * tight.size)
        for k, system in enumerate(found):
            file = f"music{place}-{k}.svg"
            (folder / file).write_text(for_print(system.svg), encoding="utf-8")
            rows.append({"file": file, "width": self._sizes.line + INSET / 10})
        gap = self._sizes.gap * tight.gap
        tall = sum(system.height for system in found[-2:]) + gap
        pair = ends and tall < self._sizes.height - self._sizes.sheet.top - self._sizes.sheet.bottom - HEADED
        # where nothing follows, the last two lines stay together, so that none is left to a page of its own
        return {"kind": "music", "systems": rows, "label": block.label, "gap": gap, "pair": pair}

    def _systems(self, block: Music, size: float) -> list[System]:
        key = (id(block.sheet), block.first, block.last, size, block.bars_a_line)
        if key not in self._lines:
            musicxml = self.musicxml(block)
            if block.first or block.last >= 0:
                musicxml = stretch(musicxml, block.first, block.last if block.last >= 0 else musicxml.count(b"<measure ") - 1)
            named = NAMES if isinstance(block.sheet, (HeadsSheet, Ensemble)) else 0.0
            self._lines[key] = _lay_out(musicxml, self._sizes.staff * size, self._sizes.line, block.bars_a_line, named)
        return self._lines[key]


def _leads(block: Block, after: Block | None) -> bool:
    """Whether a block stays on the page of the one after it: words with what they lead to, an example with what to do with it."""
    match block:
        case Text() | Boxes():
            return isinstance(after, (Boxes, Music, Keyboards, Table, Curve))
        case Music():
            return isinstance(after, Items)
        case Items():
            return isinstance(after, Music) or (isinstance(after, Text) and after.look == "small")
    return False


def _lay_out(musicxml: bytes, staff: float, width: float, wanted: int, named: float) -> list[System]:
    """Lines of ``width`` millimetres; a piece with a bar that is wider than a line is set smaller.

    ``named``: millimetres that the names of the staves take before the first line.
    """
    facts = facts_of(musicxml)
    widths = natural_widths(musicxml, staff)
    widest = max(widths, default=0.0)
    if widest > width:
        staff = max(SMALLEST_STAFF, staff * width / widest)
        widths = natural_widths(musicxml, staff)
    if widths:
        widths[0] += named
    above = [LETTER * staff * letters for letters in facts.letters]
    starts = line_starts(widths, width, staff / 4 * (4.5 + 1.1 * facts.fifths), wanted, facts.pickup, above)
    found, _ = systems(musicxml, starts, staff, width, full_last=False)
    return found
