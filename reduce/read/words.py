"""The words of a score: which speak of tempo, which send the player elsewhere."""

from __future__ import annotations

import re

_SPACE = re.compile(r"\s+")

# Words of tempo in Italian, German, French and English (common practice): those that set one, those that change it on the way.
_SETS = re.compile(
    r"\b(allegr\w*|andant\w*|adagi\w*|larg(?:o|hetto)\b|lent\w*|presto|prestissimo|vivac\w*|vivo|moderato|grave|maestoso"
    r"|tempo\b|menuett?o?|marcia|alla breve|(?:più|piu|meno|poco) (?:mosso|lento|moto|animato|vivo|allegro|adagio)|doppio movimento"
    r"|l'istesso|lo stesso|langsam\w*|schnell\w*|lebhaft\w*|mäßig\w*|mässig\w*|bewegt\w*|ruhig\w*|feierlich\w*|zeitmaß|zeitmass|gehend"
    r"|breit\w*|vif|vite|modér\w*|anim(?:ato|é)\b|mouv\w*|slowly|slow|fast|quickly|quick|lively|faster|slower)",
    re.IGNORECASE,
)
_CHANGES = re.compile(
    r"\b(rit(?:\b|ard\w*|en\w*)|rall(?:\b|ent\w*)|accel(?:\b|er\w*)|string(?:\b|end\w*)|allarg\w*|slent\w*|calando|smorz\w*|stretto|rubato"
    r"|largamente|eilend|drängend|zurückhalten\w*|retenu|cédez|pressez|serrez|slowing)",
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


def sets_tempo(text: str) -> bool:
    """Whether the words set a tempo ('Allegro', 'a tempo', 'più mosso')."""
    return _SETS.search(text) is not None and _CHANGES.match(text.lstrip("( ")) is None


def changes_tempo(text: str) -> bool:
    """Whether the words bend the tempo ('rit.', 'accelerando')."""
    return _CHANGES.search(text) is not None


def is_tempo(text: str) -> bool:
    return sets_tempo(text) or changes_tempo(text)


def jump_in(text: str) -> str:
    """The jump that the words ask for, or ``""``."""
    return next((name for pattern, name in _JUMPS if pattern.search(text)), "")


# Words to one player or section, which programs may print as boldly as a tempo.
_PLAYERS = re.compile(r"\b(solo|soli|tutti|divis\w*|div|unis\w*|a ?2|pizz\w*|arco|sord\w*|col legno|trem\w*|muta|1\.|2\.)", re.IGNORECASE)


def could_set_tempo(text: str) -> bool:
    """Whether words printed bold above the top staff may be a tempo: they begin large, are no letter or number, and call no player."""
    return len(text) >= 4 and text[0].isupper() and any(c.islower() for c in text) and _PLAYERS.search(text) is None


def without_empty_brackets(text: str) -> str:
    """The words without the brackets that stood around a metronome mark, which has its own sign."""
    return re.sub(r"\s*[\[(]\s*[\])]", "", text).strip()
