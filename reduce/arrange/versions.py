"""The piece in the source's note values, or in values twice as long where the tune would lose notes in them."""

from __future__ import annotations

import re
from collections.abc import Sequence

from reduce.arrange.arrangement import Arrangement, Request
from reduce.arrange.arranging import arrange
from reduce.arrange.length import comes_home
from reduce.arrange.parted_bars import known_number, parted
from reduce.model.decision import Decision
from reduce.model.record import dataclass, replace
from reduce.model.rules import Rules
from reduce.model.score import Score
from reduce.model.texture import Texture

_PLACED = ("lock", "keep", "drop", "chord", "add", "remove", "change", "slur", "no-slur")  # choices that hold to a place in a draft
_LONGEST = ("rhythm.broad.bars-share", "length.excerpt.keep-short-pieces")
_DUPLE = ("4/4", "2/4", "2/2")  # three beats cannot be parted into two bars


@dataclass(frozen=True, kw_only=True)
class Version:
    """The score with the bars that the draft is written in, what was heard by those bars, and the draft."""

    score: Score
    heard: tuple[Decision, ...]
    made: Arrangement


def version(score: Score, heard: Sequence[Decision], texture: Texture, rules: Rules, request: Request) -> Version:
    """The draft in the values that keep more of its tune, at levels that play excerpts (settings ``rhythm.broad``).

    A class plays what its frame says.  Raises `UsageError` as `reduce.arrange.arranging.arrange` does.
    """
    frame = request.frame
    plain = _made(score, heard, texture, rules, request, halves=frame is not None and frame.halves)
    wish = _wished(request, plain, rules)
    if frame is not None or not _halves(plain) or wish is False or not (wish or _worth_trying(plain.made, rules)):
        return plain
    broad = _made(score, heard, texture, rules, replace(request, broad=max(1, plain.made.eased)), halves=True)
    closes = _closed(broad, texture) and not _closed(plain, texture)
    return broad if wish or _better(broad.made, plain.made, rules, closes=closes) else plain


def _wished(request: Request, plain: Version, rules: Rules) -> bool | None:
    """Whether what the arranger asked for belongs to longer values (True) or to the source's (False); None where it fits both.

    Bars named 5b are those of a draft in longer values, and choices that hold to one place stay with the draft that they were made in.
    """
    numbers = [bar.number for bar in plain.score.bars]
    choices = [choice for choice in request.choices if not choice.levels or rules.level.name in choice.levels]
    named = (*(choice.bars for choice in choices), request.bars or "", request.length or "")
    if any(end not in numbers and known_number(numbers, end) for text in named for end in re.split(r"\s*[-–]\s*", text)):
        return True
    earlier = request.earlier
    if earlier is None or earlier.level != rules.level.name or not any(choice.action in _PLACED for choice in choices):
        return None
    return any(bar.number not in numbers for bar in earlier.bars)


def _made(score: Score, heard: Sequence[Decision], texture: Texture, rules: Rules, request: Request, *, halves: bool) -> Version:
    meters = request.frame.meters if request.frame is not None else rules.level.meters
    score, told = parted(score, heard, meters, halves=halves)
    return Version(score=score, heard=told, made=arrange(score, texture, rules, request))


def _halves(plain: Version) -> bool:
    """Whether its bars can be parted: two or four beats that are written as the source has them."""
    frame = plain.made.frame
    if frame is None or frame.factor != 1:
        return False
    return all(str(bar.meter) in _DUPLE for bar in plain.score.bars[frame.first : frame.last + 1])


def _worth_trying(plain: Arrangement, rules: Rules) -> bool:
    """Whether the tune loses enough at a level that plays excerpts."""
    easy = rules.level.order <= rules.whole("rhythm.broad.up-to-level")
    return easy and plain.eased >= rules.number("rhythm.broad.share") * plain.sung > 0


def _better(broad: Arrangement, plain: Arrangement, rules: Rules, *, closes: bool = False) -> bool:
    """Whether the longer values save enough of the tune, at a tempo that keeps the piece what it is, in no more bars than are learned.

    Nor in fewer written bars than the source's values have, unless only they come to a close (``closes``) or save very much: that would be
    less than half of the music, and no theme.
    """
    slow, quick = _quarters(broad), _quarters(plain)
    saved = plain.eased / plain.sung - broad.eased / max(1, broad.sung)
    calm = not quick or slow >= 2 * quick * rules.number("rhythm.broad.tempo-share")
    short = len(broad.draft.bars) <= rules.level.bars_max * max(*(rules.number(name) for name in _LONGEST))
    whole = closes or len(broad.draft.bars) >= len(plain.draft.bars) or saved >= rules.number("rhythm.broad.rescue")
    return calm and short and whole and saved >= rules.number("rhythm.broad.share")


def _closed(version: Version, texture: Texture) -> bool:
    """Whether the bars that are played end with a full close in the key of their beginning."""
    frame = version.made.frame
    return frame is not None and comes_home(version.score, texture, version.score.bars[frame.first : frame.last + 1])


def _quarters(made: Arrangement) -> float:
    return (made.frame.quarters if made.frame is not None else None) or 0.0
