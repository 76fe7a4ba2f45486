"""The music font for signs that stand in text (the note of a metronome mark)."""

from __future__ import annotations

import base64
import io
import re
from functools import lru_cache
from pathlib import Path

MUSIC = "Leipzig"  # verovio's own music font, SIL Open Font Licence


@lru_cache(maxsize=1)
def music_font() -> bytes:
    """The music font that verovio carries, as an OpenType file.

    The page maker knows no fonts inside an SVG, so the font has to be handed over as a file.
    """
    import verovio
    from fontTools.ttLib import TTFont  # type: ignore[import-untyped]

    style = (Path(verovio.__file__).parent / "data" / f"{MUSIC}.css").read_text(encoding="ascii")
    found = re.search(r"base64,([A-Za-z0-9+/=]+)", style)
    if found is None:
        raise ValueError("verovio's music font is not where it used to be")
    font = TTFont(io.BytesIO(base64.b64decode(found[1])), recalcTimestamp=False)
    font.flavor = None
    out = io.BytesIO()
    font.save(out)
    return out.getvalue()
