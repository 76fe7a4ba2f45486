"""Systems by verovio: natural widths of bars, then lines of music as SVG."""

from __future__ import annotations

import contextlib
import os
import re
import sys
import tempfile
from collections.abc import Iterator, Mapping, Sequence
from importlib import resources
from typing import Any

from reduce.engrave.stacked_fingers import stacked
from reduce.model.record import dataclass

INSET = 40  # page units to the left of the system, where brace and bar number stand
TENTH = 10  # verovio's page units in a millimetre
_STAFF_LINE = re.compile(r'<path d="M(-?\d+) -?\d+ L(-?\d+) -?\d+"')
_SIZE = re.compile(r'viewBox="0 0 ([\d.]+) ([\d.]+)"')
_MEASURE = re.compile(r"<measure\b[^>]*>")
_TEMPO_SPACE = ("</words></direction-type><direction-type><metronome", "\u2002</words></direction-type><direction-type><metronome")
_TEMPO_PLACE = re.compile(r'(class="tempo"[^>]*>\s*<text x="-?\d+" y=")(-?\d+)"')
RAISED = 105  # hundredths of a millimetre that a tempo stands higher than verovio puts it: what is printed under it must not touch it
_BREAK = re.compile(r'<print new-(?:system|page)="yes"/>\s*')


@dataclass(frozen=True, slots=True)
class System:
    """One line of music: an SVG, its size in millimetres, the bars that it holds (indices, end exclusive)."""

    svg: str
    width: float
    height: float
    bars: tuple[int, int]


class Engraver:
    """A verovio toolkit for one piece; collects what verovio warns of.

    ``staff_height`` and ``width`` in millimetres.
    """

    def __init__(self, staff_height: float, width: float, options: Mapping[str, Any] | None = None) -> None:
        import verovio

        self.warnings: list[str] = []
        with self._listening():
            verovio.setDefaultResourcePath(str(resources.files("verovio") / "data"))  # verovio keeps it for each thread alone
            self.toolkit = verovio.toolkit()
            self.toolkit.setOptions(
                {
                    "unit": max(4.5, min(12.0, staff_height * TENTH / 8)),
                    "pageWidth": round(width * TENTH) + INSET,
                    "pageMarginLeft": INSET, "pageMarginRight": 0, "pageMarginTop": 10, "pageMarginBottom": 10,
                    "header": "none", "footer": "none", "svgViewBox": True, "xmlIdSeed": 1, "breaksNoWidow": True,
                    "mnumInterval": 0, "spacingStaff": 10, "slurMargin": 0.8, "fingeringScale": 0.7, "pedalStyle": "line",
                    "lyricWordSpace": 2.0,
                    **(options or {}),
                }
            )  # fmt: skip

    @contextlib.contextmanager
    def _listening(self) -> Iterator[None]:
        """Catch what the library writes on the process's error stream."""
        try:
            sys.stderr.flush()
            kept = os.dup(2)
        except (OSError, ValueError):  # no error stream to listen to
            yield
            return
        with tempfile.TemporaryFile() as log:
            os.dup2(log.fileno(), 2)
            try:
                yield
            finally:
                os.dup2(kept, 2)
                os.close(kept)
                log.seek(0)
                self.warnings += [line for line in log.read().decode("utf-8", "replace").splitlines() if line.strip()]

    def render(self, musicxml: bytes) -> list[str]:
        """The pages of the piece as SVG, by the options given."""
        with self._listening():
            text = stacked(musicxml.decode("utf-8")).replace(*_TEMPO_SPACE)
            if not self.toolkit.loadData(text):
                raise ValueError("verovio cannot read this MusicXML")
            return [_raised(self.toolkit.renderToSVG(page + 1)) for page in range(self.toolkit.getPageCount())]


def _raised(svg: str) -> str:
    """A page with its tempi a little higher: verovio sets the next line of text right under them."""
    return _TEMPO_PLACE.sub(lambda found: f'{found[1]}{int(found[2]) - RAISED}"', svg)


def natural_widths(musicxml: bytes, staff_height: float) -> list[float]:
    """The width of each bar in millimetres as it would stand on an endless line."""
    engraver = Engraver(staff_height, 200, {"breaks": "none", "pageWidth": 100000, "adjustPageWidth": True})
    pages = engraver.render(musicxml)
    found = []
    for page in pages:
        for piece in page.split(' class="measure"')[1:]:
            line = _STAFF_LINE.search(piece)
            found.append((int(line[2]) - int(line[1])) / (10 * TENTH) if line else 20.0)
    return found


def with_breaks(musicxml: bytes, starts: Sequence[int]) -> bytes:
    """The file with a new page, of one line, at the bars of these indices, and nowhere else."""
    text = _BREAK.sub("", musicxml.decode("utf-8"))
    wanted = set(starts)
    head, mark, rest = text.partition("<part ")
    first, end, others = rest.partition("</part>")
    out, at = [], 0
    for k, found in enumerate(_MEASURE.finditer(first)):
        out.append(first[at : found.end()])
        if k in wanted:
            out.append('<print new-page="yes"/>')
        at = found.end()
    out.append(first[at:])
    return (head + mark + "".join(out) + end + others).encode("utf-8")


def systems(musicxml: bytes, starts: Sequence[int], staff_height: float, width: float, full_last: bool) -> tuple[list[System], list[str]]:
    """Engrave line by line.  ``starts``: indices of the bars that begin a line, the first one left out; ``full_last``: the last line
    reaches the margin like the others.

    Returns the systems and what verovio warned of.
    """
    last = 0.0 if full_last else 0.8
    engraver = Engraver(
        staff_height, width, {"minLastJustification": last, "breaks": "encoded", "adjustPageHeight": True, "pageHeight": 60000}
    )
    found = []
    at = 0
    for svg in engraver.render(with_breaks(musicxml, starts)):
        size = _SIZE.search(svg)
        count = svg.count(' class="measure"')
        wide, high = (float(size[1]), float(size[2])) if size else (width * TENTH, 300.0)
        found.append(System(svg, wide / TENTH, high / TENTH, (at, at + count)))
        at += count
    return found, engraver.warnings
