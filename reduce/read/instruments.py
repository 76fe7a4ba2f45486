"""Finds the instrument, and its crook, behind a part's name."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Mapping
from functools import lru_cache
from typing import cast

from reduce.model.rules import Instrument
from reduce.model.score import Family

# The note an instrument is "in", as English, German, Italian and French scores name it.  German B is B-flat and H is B; where an
# English score writes plain B for B natural, the transposition in the file decides.
_CROOKS: dict[str, frozenset[str]] = {
    "c": frozenset(("c", "do", "ut")),
    "db": frozenset(("db", "des", "reb")),
    "d": frozenset(("d", "re")),
    "eb": frozenset(("eb", "es", "mib")),
    "e": frozenset(("e", "mi")),
    "f": frozenset(("f", "fa")),
    "fs": frozenset(("fs", "fis")),
    "g": frozenset(("g", "sol")),
    "ab": frozenset(("ab", "as", "lab")),
    "a": frozenset(("a", "la")),
    "bb": frozenset(("bb", "b", "sib")),
    "b": frozenset(("b", "h", "si")),
}
_HEIGHTS: dict[str, frozenset[str]] = {
    "basso": frozenset(("basso", "bassi", "low", "tief", "bas", "grave", "natural", "h")),
    "alto": frozenset(("alto", "alti", "high", "hoch", "aigu")),
}
_ALL_CROOKS = frozenset(word for words in _CROOKS.values() for word in words)

_FAMILIES: tuple[tuple[str, Family], ...] = (
    ("wind.", "woodwind"), ("brass.", "brass"), ("drum.", "percussion"), ("metal.", "percussion"), ("wood.", "percussion"),
    ("rattle.", "percussion"), ("effect.", "percussion"), ("pitched-percussion.", "percussion"), ("keyboard.", "keyboard"),
    ("pluck.", "plucked"), ("voice.", "voice"), ("strings.", "strings"),
)  # fmt: skip
_TONE = r"\b(do|ut|re|mi|fa|sol|la|si|[a-h])"
_FLAT = re.compile(_TONE + r"[ \-–]?(?:♭|flat\b|bemolle\b|bemol\b)")
_SHARP = re.compile(_TONE + r"[ \-–]?(?:♯|#|sharp\b|diesis\b|diese\b)")
_WORD = re.compile(r"[a-z]+")
_SILENT = frozenset(("in", "en", "i", "ii", "iii", "iv", "v", "vi", "vii", "viii", "the", "di", "nb"))


@lru_cache(maxsize=4096)
def words_of(name: str) -> frozenset[str]:
    """The words of a part name without numbers, accents and small words; 'B♭', 'B flat' become 'bb', 'mi bemolle' 'mib'."""
    text = "".join(c for c in unicodedata.normalize("NFKD", name.lower()) if not unicodedata.combining(c)).replace("ß", "ss")
    text = _SHARP.sub(r"\1s", _FLAT.sub(r"\1b", text))
    return frozenset(_WORD.findall(text)) - _SILENT


def find_instrument(
    name: str, short: str, sound: str, interval: tuple[int, int] | None, sings: bool, instruments: Mapping[str, Instrument]
) -> Instrument | None:
    """The instrument that ``name`` means, helped by the abbreviation, the MusicXML ``sound`` and the ``interval`` the file moves it by.

    Most words matched win; then the crook that is named; then the interval; then the sound; then whether the part ``sings`` words;
    then the order of the table.
    """
    words = words_of(name)
    if not any(_matched(i, words) for i in instruments.values()):
        words = words | words_of(short)
    best: tuple[tuple[int, int, int, int, bool], Instrument] | None = None
    for instrument in instruments.values():
        matched = _matched(instrument, words)
        sounded = max((len(s) for s in instrument.sounds if sound == s or sound.startswith(s + ".")), default=0)
        if not matched and not sounded:
            continue
        agrees = (
            0 if interval is None else 2 if interval[1] == instrument.chromatic else int((interval[1] - instrument.chromatic) % 12 == 0)
        )
        rank = (matched, _crook_fit(instrument, words), agrees, sounded, (instrument.family == "voice") == sings)
        if best is None or rank > best[0]:
            best = (rank, instrument)
    return best[1] if best else None


def _matched(instrument: Instrument, words: frozenset[str]) -> int:
    """How many words of the part name mean this instrument; initials ('g c') count only where they are the whole name."""
    return max(
        (
            len(entry)
            for name in instrument.names
            if (entry := words_of(name)) and entry <= words and (entry == words or any(len(word) > 1 for word in entry))
        ),
        default=0,
    )


def _crook_fit(instrument: Instrument, words: frozenset[str]) -> int:
    """3 or 2: the name tells this crook (with or without its height); 1: it tells none; 0: it tells another."""
    told = words & _ALL_CROOKS
    crook = crook_of(instrument)
    if crook is None or not told:
        return 1
    tone, height = crook
    if not told & _CROOKS.get(tone, frozenset()):
        return 0
    return 3 if height and words & _HEIGHTS.get(height, frozenset()) else 2


def crook_of(instrument: Instrument) -> tuple[str, str] | None:
    """What the instrument is "in" and how high, by its key: 'horn-in-bb-basso' is in ('bb', 'basso'); None without a crook."""
    _, found, crook = instrument.key.partition("-in-")
    if not found:
        return None
    tone, _, height = crook.partition("-")
    return tone, height


def kindred(instrument: Instrument, instruments: Mapping[str, Instrument]) -> Iterator[Instrument]:
    """The same instrument in all its crooks."""
    kind = instrument.key.partition("-in-")[0]
    return (other for other in instruments.values() if other.key.partition("-in-")[0] == kind)


def names_crook(name: str, instrument: Instrument) -> bool:
    """Whether the part name itself tells what the instrument is in."""
    return _crook_fit(instrument, words_of(name)) >= 2


def crooks_told(name: str) -> bool:
    """Whether some note name stands in the part name."""
    return bool(words_of(name) & _ALL_CROOKS)


def family_of(instrument: Instrument | None, sound: str) -> Family:
    """The family of the instrument, or what the MusicXML sound tells."""
    if instrument is not None:
        return cast(Family, instrument.family)
    if sound.startswith("voice"):
        return "voice"
    return next((family for prefix, family in _FAMILIES if sound.startswith(prefix)), "unknown")
