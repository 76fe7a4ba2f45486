"""Articulation of the level, and alike in parallel places."""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter, defaultdict
from collections.abc import Sequence

from reduce.arrange.line import Tone, bar_at
from reduce.model.decision import Decision
from reduce.model.record import replace
from reduce.model.rules import Rules
from reduce.model.score import Bar
from reduce.model.texture import Parallel

NEAREST = {  # what stands for a sign that the level has not: common practice
    "strong-accent": ("accent",),
    "staccatissimo": ("staccato",),
    "spiccato": ("staccato",),
    "detached-legato": ("tenuto",),
    "stress": ("accent",),
    "soft-accent": ("accent",),
    "unstress": (),
}


def articulate(
    tones: Sequence[Tone], bars: Sequence[Bar], rules: Rules, parallels: Sequence[Parallel] = ()
) -> tuple[tuple[Tone, ...], tuple[Decision, ...]]:
    """The line with the signs that the level has, the same in parallel places, and the decisions.

    In places that the music repeats, a sign stands everywhere if it stands in the share ``marks.articulation.agree-share`` of them,
    else nowhere.  ``parallels`` are in the ticks of the tones.
    """
    known = rules.level.articulations
    share = rules.number("marks.articulation.agree-share")
    wanted = [_known(tone.articulations, known) for tone in tones]
    lost = [at for at, tone in enumerate(tones) if any(sign not in known and not _stand_in(sign, known) for sign in tone.articulations)]
    levelled: list[int] = []
    alike = rules.level.order <= rules.whole("marks.articulation.up-to-level")
    for family in _families(tones, parallels if alike else ()):
        votes = Counter(sign for at in family for sign in wanted[at])
        agreed = tuple(sign for sign in known if votes[sign] >= share * len(family))
        for at in family:
            if set(wanted[at]) != set(agreed):
                levelled.append(at)
                wanted[at] = agreed
    out = tuple(
        tone if signs == tone.articulations else replace(tone, articulations=signs) for tone, signs in zip(tones, wanted, strict=True)
    )
    decisions = []
    if lost:
        words = ", ".join(sorted({sign.replace("-", " ") for at in lost for sign in tones[at].articulations if sign not in known}))
        sentence = f"{_where(tones, lost, bars)}: {words} left out, because this level does not read them yet."
        decisions.append(_told("articulation-level", sentence, tones, lost, bars, "level.articulations"))
    if levelled:
        levelled.sort()
        sentence = f"{_where(tones, levelled, bars)}: articulation made the same as in the parallel places."
        decisions.append(_told("articulation-parallel", sentence, tones, levelled, bars, "marks.articulation.agree-share"))
    return out, tuple(decisions)


def _stand_in(sign: str, known: tuple[str, ...]) -> str:
    return next((other for other in NEAREST.get(sign, ()) if other in known), "")


def _known(signs: tuple[str, ...], known: tuple[str, ...]) -> tuple[str, ...]:
    """The signs as the level has them, in the level's order, each once."""
    own = {sign if sign in known else _stand_in(sign, known) for sign in signs}
    return tuple(sign for sign in known if sign in own)


def _families(tones: Sequence[Tone], parallels: Sequence[Parallel]) -> list[list[int]]:
    """Groups of tones that stand in parallel places and sound alike (the parallel's transposition apart)."""
    onsets = [tone.onset for tone in tones]
    parent = list(range(len(tones)))

    def root(at: int) -> int:
        while parent[at] != at:
            parent[at] = parent[parent[at]]
            at = parent[at]
        return at

    for parallel in parallels:
        away = parallel.second - parallel.first
        for at in range(bisect_left(onsets, parallel.first), bisect_left(onsets, parallel.first + parallel.length)):
            other = bisect_left(onsets, onsets[at] + away)
            if other < len(tones) and onsets[other] == onsets[at] + away and tones[other].duration == tones[at].duration:
                parent[root(other)] = root(at)
    groups: dict[int, list[int]] = defaultdict(list)
    for at in range(len(tones)):
        groups[root(at)].append(at)
    return [group for group in groups.values() if len(group) > 1]


def _where(tones: Sequence[Tone], found: Sequence[int], bars: Sequence[Bar]) -> str:
    first, last = bar_at(bars, tones[found[0]].onset), bar_at(bars, tones[found[-1]].onset)
    return f"Bar {first.number}" if first is last else f"Bars {first.number}–{last.number}, {len(found)} notes"


def _told(name: str, sentence: str, tones: Sequence[Tone], found: Sequence[int], bars: Sequence[Bar], setting: str) -> Decision:
    return Decision(
        id=name,
        kind="notation",
        bars=(bar_at(bars, tones[found[0]].onset).index, bar_at(bars, tones[found[-1]].onset).index),
        sentence=sentence,
        onset=tones[found[0]].onset,
        hand="right",
        rule="marks.articulation",
        setting=setting,
        measured=float(len(found)),
        unit="notes",
        source_notes=tuple(source for at in found for source in tones[at].sources),
    )
