"""Finds the instrument behind a part's name."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from typing import cast

from reduce.model.rules import Instrument
from reduce.model.score import Family

_FAMILIES: tuple[tuple[str, Family], ...] = (
    ("wind.", "woodwind"), ("brass.", "brass"), ("drum.", "percussion"), ("metal.", "percussion"), ("wood.", "percussion"),
    ("rattle.", "percussion"), ("effect.", "percussion"), ("pitched-percussion.", "percussion"), ("keyboard.", "keyboard"),
    ("pluck.", "plucked"), ("voice.", "voice"), ("strings.", "strings"),
)  # fmt: skip
_FLAT = re.compile(r"(?<=\b[a-h]) ?[-–]? ?(?:♭|flat\b)")
_SHARP = re.compile(r"(?<=\b[a-h]) ?[-–]? ?(?:♯|#|sharp\b)")
_WORD = re.compile(r"[a-z]+")
_SILENT = frozenset(("in", "en", "i", "ii", "iii", "iv", "v", "vi", "viii", "vii", "solo", "soli", "the", "di", "nb"))


def words_of(name: str) -> frozenset[str]:
    """The words of a part name without numbers, accents and small words; 'B♭' and 'B flat' become 'bb'."""
    text = _SHARP.sub("s", _FLAT.sub("b", name.lower()))
    text = "".join(c for c in unicodedata.normalize("NFKD", text) if not unicodedata.combining(c))
    return frozenset(_WORD.findall(text)) - _SILENT


def find_instrument(
    name: str, short: str, sound: str, interval: tuple[int, int] | None, instruments: Mapping[str, Instrument]
) -> Instrument | None:
    """The instrument that ``name`` means, helped by its abbreviation, MusicXML ``sound`` and the ``interval`` the file transposes by.

    More words matched win (a crook is a word); then the same transposition; then the longer sound; then the order of the table.
    """
    best: tuple[tuple[int, int, int, int], Instrument] | None = None
    wanted = words_of(name)
    abbreviated = words_of(short) if not wanted else frozenset()
    for instrument in instruments.values():
        words = max((len(w) for n in instrument.names if (w := words_of(n)) and w <= wanted), default=0)
        if not words and abbreviated:
            words = max((len(w) for n in instrument.names if (w := words_of(n)) and w <= abbreviated), default=0)
        sounded = max((len(s) for s in instrument.sounds if sound == s or sound.startswith(s + ".")), default=0)
        if not words and not sounded:
            continue
        agrees = 0 if interval is None else 2 if interval[1] == instrument.chromatic else (interval[1] - instrument.chromatic) % 12 == 0
        rank = (words, int(agrees), sounded, max((len(n) for n in instrument.names if words_of(n) <= wanted), default=0))
        if best is None or rank > best[0]:
            best = (rank, instrument)
    return best[1] if best else None


def family_of(instrument: Instrument | None, sound: str) -> Family:
    """The family of the instrument, or what the MusicXML sound tells."""
    if instrument is not None:
        return cast(Family, instrument.family)
    if sound.startswith("voice"):
        return "voice"
    return next((family for prefix, family in _FAMILIES if sound.startswith(prefix)), "unknown")
