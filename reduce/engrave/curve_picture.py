"""The load of a piece bar by bar, as a drawing in black and white."""

from __future__ import annotations

from collections.abc import Iterator
from math import ceil
from xml.sax.saxutils import escape

from reduce.model.booklet import Curve

ROW = 100  # most bars beside each other
HEIGHT, FOOT = 18.0, 5.0  # millimetres above and below the base line
_WIDEST = 7.0  # millimetres a bar


def curve_svgs(curve: Curve, width: float) -> Iterator[tuple[str, float]]:
    """The rows of the drawing, as equal as can be, ``width`` millimetres at most, each with its own width.

    A column stands for a bar; those that stand out are black.  The dashed line is the piece's own measure, ``curve.line``.
    """
    top = max([*curve.heights, curve.line * 1.1, 0.001])
    row = ceil(len(curve.heights) / max(1, ceil(len(curve.heights) / ROW)))
    for start in range(0, len(curve.heights), max(1, row)):
        heights, labels = curve.heights[start : start + row], curve.labels[start : start + row]
        wide = min(_WIDEST, width / row)
        every = max(1, round(8.0 / wide))
        out = []
        for k, (height, label) in enumerate(zip(heights, labels, strict=True)):
            tall = HEIGHT * height / top
            fill = "black" if start + k in curve.black else "white"
            out.append(
                f'<rect x="{k * wide + 0.1 * wide:.2f}" y="{HEIGHT - tall:.2f}" width="{0.8 * wide:.2f}" height="{tall:.2f}" '
                f'fill="{fill}" stroke="black" stroke-width="0.2"/>'
            )
            if k % every == 0:
                x, anchor = ((k + 0.5) * wide, "middle") if k else (0.0, "start")  # the first is not cut at the edge
                out.append(
                    f'<text x="{x:.2f}" y="{HEIGHT + 4:.2f}" font-family="Libertinus Serif" font-size="3" '
                    f'text-anchor="{anchor}">{escape(label)}</text>'
                )
        length = len(heights) * wide
        base = HEIGHT - HEIGHT * curve.line / top
        for y, dash in ((HEIGHT, ""), (base, ' stroke-dasharray="1.2 1"')):
            out.append(f'<path d="M0 {y:.2f} H{length:.2f}" stroke="black" stroke-width="0.25" fill="none"{dash}/>')
        view = f"-0.5 -0.5 {length + 1:.2f} {HEIGHT + FOOT + 0.5:.2f}"
        yield f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{view}">{"".join(out)}</svg>', length + 1
