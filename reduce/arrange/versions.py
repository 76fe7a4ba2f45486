"""The piece in the source's note values, or in values twice as long where the tune would lose notes in them."""

from __future__ import annotations

from collections.abc import Sequence

from reduce.arrange.arrangement import Arrangement, Request
from reduce.arrange.arranging import arrange
from reduce.arrange.parted_bars import parted
from reduce.model.decision import Decision
from reduce.model.record import dataclass, replace
from reduce.model.rules import Rules
from reduce.model.score import Score
from reduce.model.texture import Texture

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
    lost = plain.made.lost
    if frame is not None or not _worth_trying(plain, rules):
        return plain
    broad = _made(score, heard, texture, rules, replace(request, broad=lost), halves=True)
    return broad if _better(broad.made, plain.made, rules) else plain


def _made(score: Score, heard: Sequence[Decision], texture: Texture, rules: Rules, request: Request, *, halves: bool) -> Version:
    meters = request.frame.meters if request.frame is not None else rules.level.meters
    score, told = parted(score, heard, meters, halves=halves)
    return Version(score=score, heard=told, made=arrange(score, texture, rules, request))


def _worth_trying(plain: Version, rules: Rules) -> bool:
    """Whether the tune loses enough, in two or four beats that are written as the source has them."""
    made, frame = plain.made, plain.made.frame
    if frame is None or frame.factor != 1 or rules.level.order > rules.whole("rhythm.broad.up-to-level"):
        return False
    bars = plain.score.bars[frame.first : frame.last + 1]
    return made.lost >= rules.number("rhythm.broad.share") * made.sung > 0 and all(str(bar.meter) in _DUPLE for bar in bars)


def _better(broad: Arrangement, plain: Arrangement, rules: Rules) -> bool:
    """Whether the longer values save enough of the tune, at a tempo that keeps the piece what it is, in no more bars than are learned."""
    slow, quick = _quarters(broad), _quarters(plain)
    saved = plain.lost / plain.sung - broad.lost / max(1, broad.sung)
    calm = not quick or slow >= 2 * quick * rules.number("rhythm.broad.tempo-share")
    short = len(broad.draft.bars) <= rules.level.bars_max * rules.number("length.excerpt.keep-short-pieces")
    return calm and short and saved >= rules.number("rhythm.broad.share")


def _quarters(made: Arrangement) -> float:
    return (made.frame.quarters if made.frame is not None else None) or 0.0
