"""The words of a score: which speak of tempo, which send the player elsewhere."""

from __future__ import annotations

import re

_SPACE = re.compile(r"\s+")

# Tempo words in Italian, German, French and English (common practice).
_TEMPO = re.compile(
    r"\b(allegr\w*|andant\w*|adagi\w*|larg(?:o|hetto|amente)\b|lent\w*|presto|prestissimo|vivac\w*|vivo|moderato|grave|maestoso"
    r"|tempo\b|menuett?o?|marcia|alla breve|(?:più|piu|meno|poco) (?:mosso|lento|moto|animato|vivo|allegro|adagio)|doppio movimento"
    r"|rit(?:\.|ard\w*|en\w*)|rall(?:\.|ent\w*)|accel(?:\.|er\w*)|string(?:\.|end\w*)|allarg\w*|slent\w*|calando|smorz\w*|stretto|rubato"
    r"|l'istesso|lo stesso|animato|sostenuto assai"
    r"|langsam\w*|schnell\w*|lebhaft\w*|mäßig\w*|mässig\w*|bewegt\w*|ruhig\w*|feierlich\w*|zeitmaß|zeitmass|gehend|eilend|drängend|breit\w*"
    r"|vif|vite|lent|modér\w*|anim\w*|retenu|cédez|pressez|serrez|mouv\w*"
    r"|slow\w*|fast\w*|quick\w*|lively|faster|slower)",
    re.IGNORECASE,
)
_JUMPS = (
    (re.compile(r"\b(d\.\s*c\.|da\s+capo)", re.IGNORECASE), "da-capo"),
    (re.compile(r"\b(d\.\s*s\.|dal\s+segno)", re.IGNORECASE), "dal-segno"),
    (re.compile(r"\b(to\s+coda|al\s+coda)\b", re.IGNORECASE), "to-coda"),
    (re.compile(r"^fine\.?$", re.IGNORECASE), "fine"),
)


def clean(text: str | None) -> str:
    """The text on one line, without control characters."""
    if not text:
        return ""
    return _SPACE.sub(" ", "".join(c if c.isprintable() else " " for c in text)).strip()


def is_tempo(text: str) -> bool:
    return _TEMPO.search(text) is not None


def jump_in(text: str) -> str:
    """The jump that the words ask for, or ``""``."""
    return next((name for pattern, name in _JUMPS if pattern.search(text)), "")
