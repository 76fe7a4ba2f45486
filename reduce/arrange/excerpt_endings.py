"""Where an excerpt may end, and how well it comes to an end there."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Mapping, Sequence

from reduce.arrange.resting import Rest, Resting
from reduce.arrange.returns import Return
from reduce.model.record import dataclass
from reduce.model.score import Bar
from reduce.model.texture import Phrase, Texture

FULL_CLOSE = ("authentic", "plagal")
_HELD = 0.6  # share of the worth of coming to rest that a fermata over the dominant has
_UNPHRASED = 0.75  # ... that a tonic has where no phrase is heard to end
_AWAY = 0.25  # ... that the tonic of another key has


@dataclass(frozen=True, slots=True)
class Stop:
    """A bar (index) that an excerpt may end with: its phrase, the tick where that ends in it, how it closes, whether all hold there.

    ``again``: the bars whose tune comes again after it; ``phrased``: a phrase ends in it; ``elided``: on the first note of the next one.
    """

    last: int
    phrase: int
    ends: int
    close: str = ""
    held: bool = False
    again: tuple[int, ...] = ()
    phrased: bool = True
    elided: bool = False


def stops_of(
    phrases: Sequence[Phrase],
    ends: Sequence[int],
    bars: Sequence[Bar],
    held: Mapping[int, int],
    returns: Sequence[Return],
    closes_home: Mapping[int, Rest],
) -> list[Stop]:
    """The ends of phrases, the bars where all hold, and those before the beginning comes back, in order."""
    closes = {end: (index, phrases[index].cadence) for index, end in enumerate(ends)}
    stated: dict[int, list[int]] = {}
    for item in returns:
        stated.setdefault(item.second - 1, []).append(item.first)
    out = []
    for last in sorted({*ends, *held, *stated, *closes_home}):
        index, close = closes.get(last, (bisect_left(ends, last), ""))
        if last not in closes and last in closes_home and closes_home[last].elided:
            again = tuple(stated.get(last - 1, ()))
            out.append(Stop(last, index - 1, bars[last].end, phrases[index - 1].cadence, last in held, again, phrased=False, elided=True))
        elif index < len(phrases):
            sung = min(phrases[index].end, bars[last].end)  # without the upbeat to the next phrase
            out.append(Stop(last, index, sung, close, last in held, tuple(stated.get(last, ())), last in closes))
    return out


@dataclass(frozen=True, slots=True)
class Ending:
    """How a stretch ends that began in some key: at rest on its tonic (``rest``) or on that of another key (``away``).

    ``home``: in the key of its beginning; ``far``: in one that is neither its dominant nor its relative; ``full``: with a full close, or
    where all hold; ``settled``: how well that brings it to rest, 0..1; ``mode``: that of its end where it began in the other one.
    """

    stop: Stop
    rest: Rest | None
    away: Rest | None
    home: bool
    far: bool
    full: bool
    settled: float
    mode: str

    @property
    def closes(self) -> bool:
        """Whether one may stop there: at rest, where all hold, or with a full close in a key where first parts close."""
        return self.rest is not None or self.stop.held or (self.full and not self.far and not self.mode)

    def told(self) -> list[str]:
        """The same in words that the last bar bears out."""
        if self.stop.held:
            return ["end where all hold"]
        if self.rest is not None and self.mode:
            return [f"end {'with a full close ' if self.rest.close else ''}on the tonic of their beginning, in {self.mode}"]
        if self.rest is not None:
            return [f"end {'with a full close in' if self.rest.close else 'on the tonic of'} the key of their beginning"]
        if self.away is not None and not self.home:
            return [f"end {'with a full close' if self.away.close else 'on a tonic'}, though in another key"]
        return ["end in the key of their beginning, though not on its tonic"] if self.home else []

    def told_plainly(self) -> list[str]:
        """The same where no harmony is known: as the phrase says."""
        if self.stop.held:
            return ["end where all hold"]
        if self.stop.close in FULL_CLOSE:
            return ["end with a full close" + (" in the key of their beginning" if self.home else "")]
        return ["end in the key of their beginning"] if self.home else []


def ending(stop: Stop, begun: int, bar: Bar, texture: Texture, resting: Resting) -> Ending:
    """How a stretch ends that began at a tick and stops in ``bar``."""
    first, last = _key_at(texture, begun, after=True), _key_at(texture, stop.ends - 1, after=False)
    home = first == last
    far = first is not None and last is not None and _far(first, last)
    key = resting.key(begun)
    rest = resting.rest(bar, stop.ends, key, phrased=stop.phrased)
    away = rest if rest or far else resting.rest(bar, stop.ends, resting.key(stop.ends - 1), phrased=stop.phrased)
    closed = stop.close in FULL_CLOSE and (away is not None or not texture.chords)
    full = stop.held or closed or (rest is not None and rest.close)
    mode = last[1] if first and last and first[0] == last[0] and not home else ""
    return Ending(stop, rest, away, home, far, full, _settled(stop, rest, away, resting.open(stop.ends, key)), mode)


def _settled(stop: Stop, rest: Rest | None, away: Rest | None, dominant: bool) -> float:
    """How well an end brings a stretch to rest, 0..1; a fermata does so on the ``dominant`` rather than on another chord."""
    if rest is not None:
        return rest.worth * (1.0 if stop.phrased or rest.elided else _UNPHRASED)
    if stop.held:
        return _HELD if dominant else _HELD / 2
    return _AWAY * away.worth if away is not None else 0.0


def goes_on(inside: Sequence[Phrase], following: str) -> bool:
    """Whether the music after a stretch goes on with a repetition that has begun in it: a letter that is in it, but not as a beginning."""
    letters = [phrase.label[:1] for phrase in inside]
    begun = any(letter and letter in letters[:place] for place, letter in enumerate(letters))
    return begun and bool(following) and following in letters and following != letters[-1]


def begun_in(phrases: Sequence[Phrase]) -> frozenset[str]:
    """The letters of the phrases that begin something: the first one, and those that first come after a full close."""
    found: set[str] = set()
    heard: set[str] = set()
    for index, phrase in enumerate(phrases):
        letter = phrase.label[:1]
        if letter and letter not in heard and (index == 0 or phrases[index - 1].cadence in FULL_CLOSE):
            found.add(letter)
        heard.add(letter)
    return frozenset(found)


def _key_at(texture: Texture, tick: int, *, after: bool) -> tuple[int, str] | None:
    """Tonic and mode heard at a moment; a beginning is read a little later, an ending a little earlier."""
    for local in texture.keys:
        if local.start <= tick < local.end:
            return local.tonic, local.mode
    if not texture.keys:
        return None
    local = texture.keys[0 if after else -1]
    return local.tonic, local.mode


def _far(home: tuple[int, str], other: tuple[int, str]) -> bool:
    """Whether a close in ``other`` leads too far from ``home``: neither its own tonic, nor its dominant, nor its relative.

    Common practice: a first part closes at home, on the dominant, or in minor in the relative major.
    """
    apart = (other[0] - home[0]) % 12
    return apart not in (0, 7) and _fifths_apart(home, other) > 0


def _fifths_apart(one: tuple[int, str], other: tuple[int, str]) -> int:
    """Steps on the circle of fifths between two keys, a minor key where its relative major is; 0 between major and minor of one tonic."""
    if one[0] == other[0]:
        return 0
    places = [(7 * (tonic + (3 if mode == "minor" else 0))) % 12 for tonic, mode in (one, other)]
    away = (places[0] - places[1]) % 12
    return min(away, 12 - away)
