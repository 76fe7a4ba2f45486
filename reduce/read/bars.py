"""The grid of bars: how long each lasts, its meter, its sounding key, its barlines."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Literal

from lxml import etree

from reduce.model.record import dataclass
from reduce.model.score import Bar, Key, Meter
from reduce.read.figures import whole
from reduce.read.findings import Findings
from reduce.read.measures import PartWalk


@dataclass(slots=True)
class Barlines:
    """What the barlines of all parts say about one bar."""

    repeat_start: bool = False
    repeat_end: int = 0
    right: str = ""
    endings: tuple[int, ...] = ()
    ending_start: bool = False
    ending_stop: Literal["", "stop", "discontinue"] = ""

    @property
    def sectional(self) -> bool:
        """Whether the bar ends where a bar may be cut short."""
        return bool(self.repeat_end or self.right in ("light-light", "light-heavy", "heavy-light", "heavy", "dashed", "dotted"))


def read_barlines(elements: Sequence[etree._Element]) -> Barlines:
    """Join the barlines of one bar over all parts (programs often write repeats into the top part only)."""
    found = Barlines()
    for element in elements:
        location = element.get("location") or "right"
        style = (element.findtext("bar-style") or "").strip()
        if location == "right" and style not in ("", "regular", "none") and not found.right:
            found.right = style
        repeat = element.find("repeat")
        if repeat is not None:
            if repeat.get("direction") == "forward":
                found.repeat_start = True
            elif repeat.get("direction") == "backward":
                times = repeat.get("times") or "2"
                found.repeat_end = min(max(whole(times, 2), 2), 99)
        ending = element.find("ending")
        if ending is not None:
            kind = ending.get("type")
            if kind == "start":
                found.ending_start = True
                numbers = tuple(int(n) for n in (ending.get("number") or "1").replace(",", " ").split() if n.isdecimal() and len(n) < 3)
                found.endings = numbers or (1,)
            elif kind == "stop":
                found.ending_stop = "stop"
            elif kind == "discontinue":
                found.ending_stop = "discontinue"
    return found


def bar_length(
    walks: Sequence[PartWalk], ends: Sequence[int], start: int, meter: Meter, *, free: bool, number: str, findings: Findings
) -> int:
    """How long a bar lasts, from where each part's content ends (``start`` where a part has none).

    The longest content counts.  Where no part fills the bar and the parts disagree, voices are faulty and the meter counts.
    ``free`` bars may be short without comment: pick-ups, bars cut by a repeat, the last bar.
    """
    resolution = walks[0].resolution
    full = meter.ticks(resolution)
    filled = [end - start for end in ends if end > start]
    if not filled:
        return full
    longest = max(filled)
    agreed = min(filled) == longest
    if longest < full:
        if not agreed and not free:
            findings.add("doubt", "short-voices", f"No part fills the bar; it was given the length of {meter}.", bar=number)
            longest = full
        elif not free:
            findings.add("doubt", "short-bar", f"The bar is shorter than {meter}; it was kept as written.", bar=number)
    elif longest > full:
        if agreed:
            findings.add("doubt", "long-bar", f"The bar is longer than {meter}; it was kept as written.", bar=number)
        else:
            for walk, end in zip(walks, ends, strict=True):
                if end > start + full:
                    findings.add("doubt", "long-voice", f"The notes overfill the bar of {meter}; it was made longer.", walk.name, number)
    if not agreed or longest > max(filled):
        for walk, end in zip(walks, ends, strict=True):
            if start < end < start + min(longest, full):
                findings.add("doubt", "short-voice", "The notes do not fill the bar; the rest was left silent.", walk.name, number)
    return longest


def common_key(walks: Sequence[PartWalk], plain: Sequence[bool]) -> Key | None:
    """The sounding signature most parts agree on; parts that go without signatures by custom (``plain``) do not vote.

    On a draw the parts that sound as written decide, then the order of the score.
    """
    votes: Counter[int] = Counter()
    modes: dict[int, Counter[str]] = {}
    for walk, without in zip(walks, plain, strict=True):
        key = walk.tuning.sounding_key()
        if key is None or without:
            continue
        votes[key.fifths] += 10 + (walk.tuning.interval(1)[1] % 12 == 0)
        modes.setdefault(key.fifths, Counter())[key.mode] += 1
    if not votes:
        return None
    fifths = max(votes, key=lambda f: votes[f])
    named = [(count, mode) for mode, count in modes[fifths].items() if mode]
    return Key(fifths, max(named)[1] if named else "")


def make_bar(
    index: int, number: str, start: int, length: int, meter: Meter, key: Key, pickup: bool, lines: Barlines, endings: tuple[int, ...],
    jumps: tuple[str, ...],
) -> Bar:  # fmt: skip
    return Bar(
        index=index, number=number, start=start, length=length, meter=meter, key=key, pickup=pickup, repeat_start=lines.repeat_start,
        repeat_end=lines.repeat_end, endings=endings, ending_start=lines.ending_start, ending_stop=lines.ending_stop,
        barline=lines.right, jumps=jumps,
    )  # fmt: skip
