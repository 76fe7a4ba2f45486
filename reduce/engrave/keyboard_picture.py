"""A keyboard with some keys pressed, as a drawing of our own."""

from __future__ import annotations

from xml.sax.saxutils import escape

from reduce.model.booklet import Keys

WHITE = (0, 2, 4, 5, 7, 9, 11)
WIDE, TALL, BLACK_WIDE, BLACK_TALL = 10.0, 36.0, 6.0, 22.0  # units of the drawing; a white key is ten wide
ABOVE = 9.0  # room for the names of black keys
_LINE = 0.35
_DOT = 2.6


def keyboard_svg(keys: Keys) -> str:
    """The picture, from the C at or below the lowest pressed key to a B above the highest, two octaves or more.

    Names of white keys stand below, those of black ones above, so that neighbours do not run together.
    """
    low, high = _edges([midi for midi, _ in keys.pressed])
    whites = [midi for midi in range(low, high + 1) if midi % 12 in WHITE]
    at = {midi: k * WIDE for k, midi in enumerate(whites)}
    named = dict(keys.pressed)
    out = [
        f'<rect x="{x:.2f}" y="0" width="{WIDE}" height="{TALL}" fill="white" stroke="black" stroke-width="{_LINE}"/>' for x in at.values()
    ]
    for midi in range(low, high + 1):
        if midi % 12 in WHITE:
            continue
        x = at[midi - 1] + WIDE - BLACK_WIDE / 2
        out.append(f'<rect x="{x:.2f}" y="0" width="{BLACK_WIDE}" height="{BLACK_TALL}" fill="black"/>')
    for midi, label in named.items():
        black = midi % 12 not in WHITE
        x = at[midi - 1] + WIDE if black else at[midi] + WIDE / 2
        y = BLACK_TALL - 7 if black else TALL - 11
        out.append(
            f'<circle cx="{x:.2f}" cy="{y:.2f}" r="{_DOT}" fill="{"white" if black else "black"}" stroke="black" stroke-width="{_LINE}"/>'
        )
        under = -2.5 if black else TALL + 7.5
        out.append(
            f'<text x="{x:.2f}" y="{under:.2f}" font-family="Libertinus Serif" font-size="6.5" text-anchor="middle">{escape(label)}</text>'
        )
    width = len(whites) * WIDE
    view = f"{-_LINE} {-ABOVE} {width + 2 * _LINE:.2f} {TALL + 10 + ABOVE:.2f}"
    return f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{view}">{"".join(out)}</svg>'


def white_keys(keys: Keys) -> int:
    """How many white keys the picture has."""
    low, high = _edges([midi for midi, _ in keys.pressed])
    return sum(midi % 12 in WHITE for midi in range(low, high + 1))


def _edges(pressed: list[int]) -> tuple[int, int]:
    low = min(pressed, default=60) // 12 * 12
    return low, max(low + 23, -(-(max(pressed, default=60) + 1) // 12) * 12 - 1)
