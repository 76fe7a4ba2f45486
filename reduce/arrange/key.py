"""The key of the draft: two or three keys weighed, the rest of the piece moved with it."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from itertools import groupby

from reduce.arrange.key_spelling import signature_written
from reduce.arrange.key_weighing import Weighed, gather, weigh
from reduce.arrange.line import Tone
from reduce.model.decision import Decision, Rejected
from reduce.model.errors import UsageError
from reduce.model.record import dataclass, replace
from reduce.model.rules import Rules
from reduce.model.score import Bar, Key, Score
from reduce.model.texture import Texture

NAMES = ("C♭", "G♭", "D♭", "A♭", "E♭", "B♭", "F", "C", "G", "D", "A", "E", "B", "F♯", "C♯", "G♯", "D♯", "A♯")  # C = 7


@dataclass(frozen=True, slots=True)
class Interval:
    """A transposition: ``semitones`` and staff ``steps`` up, ``fifths`` more sharps in every signature."""

    semitones: int
    steps: int
    fifths: int

    @classmethod
    def of(cls, semitones: int, fifths: int) -> Interval:
        """The interval of ``semitones`` that adds ``fifths`` sharps (they must agree modulo the octave)."""
        octaves = (7 * fifths - semitones) // 12
        return cls(semitones, 4 * fifths - 7 * octaves, fifths)


def interval(semitones: int, fifths: int) -> Interval:
    """The interval of ``semitones`` whose signature is nearest to ``fifths`` more sharps."""
    near = min((count for count in range(-14, 15) if (7 * count - semitones) % 12 == 0), key=lambda count: abs(count - fifths))
    return Interval.of(semitones, near)


def choose_key(
    score: Score,
    texture: Texture,
    rules: Rules,
    request: str,
    tune: Sequence[Tone],
    bars: Sequence[Bar],
    passed: Sequence[Rejected] = (),
) -> tuple[int, int, list[Key], tuple[Decision, ...]]:
    """The draft's key: semitones (-6..6) and staff steps to move by, the signature of each of ``bars``, and the reasons.

    ``request`` is ``keep``, ``auto`` or the name of a home key ("G", "Bb major", "d minor").  ``auto`` keeps the original where all its
    signatures are inside the level and its key is known; otherwise the cheapest of twelve keys is taken (settings ``key.weigh``).  The keys
    in ``passed`` were tried and are not taken again, as long as there are others that the level knows.
    Raises UsageError for a name that is no key, or one of the other mode.
    """
    if not bars:
        return 0, 0, [], ()
    home, mode = home_key(texture, bars)
    if request == "keep":
        return 0, 0, with_modes([bar.key for bar in bars], bars, texture), _kept(bars, home, mode, rules)
    case = gather(texture, rules, tune, bars, home, mode)
    table = sorted((weigh(case, interval, rules, key_name(home + interval.fifths, mode)) for interval in _intervals(home)), key=_order)
    original = next(item for item in table if item.semitones == 0 and item.fifths == 0)
    level = rules.level
    if request == "auto":
        tried = {item.what for item in passed}
        fits = all(abs(bar.key.fifths) <= level.signature_max for bar in bars) and not original.unknown and original.name not in tried
        chosen = (
            original
            if fits
            else next(
                (item for item in table if item.name not in tried and (not tried or (not item.beyond and not item.unknown))), table[0]
            )
        )
    else:
        wanted = _named(request, mode)
        chosen = min((item for item in table if item.home % 12 == wanted % 12), key=lambda item: (abs(item.home - wanted), _order(item)))
    keys, kept = written_keys(bars, chosen.fifths, rules)
    keys = with_modes(keys, bars, texture)
    others = [item for item in table if item is not chosen]
    if original is not chosen:
        others = [original, *(item for item in others if item is not original)]
    decisions = [_told(chosen, original, others[:2], bars, request, rules, passed)]
    if kept:
        decisions.append(_without_signature(kept, bars, keys, chosen.fifths, rules))
    interval = Interval.of(chosen.semitones, chosen.fifths)
    return interval.semitones, interval.steps, keys, tuple(decisions)


def home_key(texture: Texture, bars: Sequence[Bar]) -> tuple[int, str]:
    """Signature (sharps) and mode of the kept bars' home key: the commonest signature, its mode from the local keys or the file."""
    weight: Counter[int] = Counter()
    for bar in bars:
        weight[bar.key.fifths] += bar.length
    fifths = max(weight, key=lambda sharps: (weight[sharps], sharps == bars[0].key.fifths))
    heard = _modes_heard(fifths, bars[0].start, bars[-1].end, texture)
    if heard:
        return fifths, heard.most_common(1)[0][0]
    return fifths, next((bar.key.mode for bar in bars if bar.key.fifths == fifths and bar.key.mode), "major")


def _modes_heard(fifths: int, start: int, end: int, texture: Texture) -> Counter[str]:
    """For how many of the ticks between two the major and the minor key of a signature are heard."""
    modes: Counter[str] = Counter()
    for local in texture.keys:
        length = min(local.end, end) - max(local.start, start)
        if length > 0 and (7 * (fifths + (3 if local.mode == "minor" else 0)) - local.tonic) % 12 == 0:
            modes[local.mode] += length
    return modes


def with_modes(keys: Sequence[Key], bars: Sequence[Bar], texture: Texture) -> list[Key]:
    """The signatures of ``bars``, each with the mode that is heard for longest in the bars that it belongs to; else with the file's.

    Bars that write accidentals under another signature do not count for that one.
    """
    moved = Counter(key.fifths - bar.key.fifths for key, bar in zip(keys, bars, strict=True)).most_common(1)
    heard: dict[int, Counter[str]] = {}
    for (written, own), run in groupby(zip(keys, bars, strict=True), key=lambda pair: (pair[0].fifths, pair[1].key.fifths)):
        inside = [bar for _, bar in run]
        if (written - own - moved[0][0]) % 12 == 0:
            heard.setdefault(written, Counter()).update(_modes_heard(own, inside[0].start, inside[-1].end, texture))
    modes = {fifths: counts.most_common(1)[0][0] for fifths, counts in heard.items() if counts}
    return [replace(key, mode=modes.get(key.fifths, key.mode)) for key in keys]


def key_name(fifths: int, mode: str) -> str:
    """The name of a key by its signature: ``key_name(-1, "minor")`` is "D minor"."""
    place = fifths + (3 if mode == "minor" else 0) + 7
    return f"{NAMES[place]} {mode}" if 0 <= place < len(NAMES) else f"{fifths} fifths {mode}"


def _named(request: str, mode: str) -> int:
    """The signature of a key that was asked for by name, in the piece's mode."""
    text = request.strip().replace("♯", "#").replace("♭", "b")
    found = re.fullmatch(r"([A-Ga-g])\s*(#|b|-?\s*flat|-?\s*sharp)?\s*-?(major|minor|m|maj|min)?", text, re.IGNORECASE)
    if not found:
        raise UsageError(f"{request!r} is not a key; write it as C, Bb, F# or 'D minor'.")
    sign = (found[2] or "").lower()
    name = found[1].upper() + ("♯" if "#" in sign or "sharp" in sign else "♭" if sign else "")
    asked = (found[3] or "").lower()
    asked_mode = "minor" if asked in ("minor", "min") or found[3] == "m" else "major" if asked else mode
    if asked_mode != mode:
        raise UsageError(f"The piece is in {mode}; {request!r} is {asked_mode}. Ask for a {mode} key.")
    if name not in NAMES:
        raise UsageError(f"{request!r} has no usual key signature; try its enharmonic neighbour.")
    return NAMES.index(name) - 7 - (3 if mode == "minor" else 0)


def _intervals(home: int) -> list[Interval]:
    """Every transposition of -6..6 semitones whose home signature has no more than six sharps or flats, the original always."""
    out = []
    for semitones in range(-6, 7):
        for fifths in range(-14, 15):
            if (7 * fifths - semitones) % 12 == 0 and (abs(home + fifths) <= 6 or (fifths == 0 and semitones == 0)):
                out.append(Interval.of(semitones, fifths))
    return out


def _order(item: Weighed) -> tuple[float, int, int]:
    return (round(item.cost, 6), abs(item.semitones), -item.semitones)


def written_keys(bars: Sequence[Bar], fifths: int, rules: Rules) -> tuple[list[Key], list[int]]:
    """The signature of each bar moved by ``fifths``, and the places of the bars that keep the signature before them instead.

    A signature beyond the level is written as its enharmonic one, or not at all (setting ``key.without-signature``): then its bars stay
    under the last one that the level has, or, at the beginning, under the first that follows.
    """
    most = rules.level.signature_max if rules.flag("key.without-signature.sections") else 7
    written = [signature_written(bar.key.fifths + fifths, most) for bar in bars]
    current = next((sharps for sharps in written if sharps is not None), None)
    if current is None:
        return [replace(bar.key, fifths=signature_written(bar.key.fifths + fifths, 7) or 0) for bar in bars], []
    kept, keys = [], []
    for place, (bar, sharps) in enumerate(zip(bars, written, strict=True)):
        if sharps is None:
            kept.append(place)
        else:
            current = sharps
        keys.append(replace(bar.key, fifths=current))
    return keys, kept


def _kept(bars: Sequence[Bar], home: int, mode: str, rules: Rules) -> tuple[Decision, ...]:
    most = max((bar.key.fifths for bar in bars), key=abs)
    limit = rules.level.signature_max
    if abs(most) <= limit:
        return ()
    return (
        Decision(
            id="key-1",
            kind="key",
            bars=(bars[0].index, bars[-1].index),
            sentence=f"The original key, {key_name(home, mode)}, is kept as asked, although its signatures reach {signs(most)}; "
            f"this level reads {_NUMBERS[limit]}.",
            weight="big",
            rule="key.weigh",
            setting="level.signature-max",
            measured=float(abs(most)),
            limit=float(limit),
            unit="sharps or flats",
            by="arranger",
        ),
    )


_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven")


def signs(count: int) -> str:
    """So many sharps or flats, in words."""
    size = abs(count)
    what = "sharp" if count > 0 else "flat"
    return "no sharps or flats" if size == 0 else f"{_NUMBERS[min(size, 7)]} {what if size == 1 else what + 's'}"


def _told(
    chosen: Weighed,
    original: Weighed,
    others: Sequence[Weighed],
    bars: Sequence[Bar],
    request: str,
    rules: Rules,
    passed: Sequence[Rejected],
) -> Decision:
    most = rules.level.signature_max
    if chosen is original:
        verb = "is" if abs(chosen.home) == 1 else "are"
        because = f"{signs(chosen.home)} {verb} inside this level" if chosen.home else "it has no sharps or flats"
        sentence = f"The original key, {chosen.name}, is kept, because {because}."
        if request not in ("auto", "keep"):
            sentence = f"The piece stays in {chosen.name}, as asked."
    elif request == "auto":
        if abs(original.largest) > most:
            reason = f"{signs(original.largest)} exceed this level ({_NUMBERS[min(most, 7)]})"
        elif original.unknown:
            reason = f"this level does not know {original.name} yet"
        else:
            reason = next((f"in {item.what} {item.why}" for item in passed if item.what == original.name), "it lies better")
        sentence = f"The piece moves from {original.name} to {chosen.name}, because {reason}; {chosen.gain(original)}."
    else:
        sentence = f"The piece moves from {original.name} to {chosen.name}, as asked; {chosen.gain(original)}."
    return Decision(
        id="key-1",
        kind="key",
        bars=(bars[0].index, bars[-1].index),
        sentence=sentence,
        weight="big",
        certainty=0.9 if not others or others[-1].cost - chosen.cost > 1 else 0.6,
        rule="key.weigh",
        setting="level.signature-max",
        measured=float(abs(original.largest if chosen is not original else chosen.home)),
        limit=float(most),
        unit="sharps or flats",
        rejected=(*passed, *(Rejected(item.name, item.row()) for item in others), Rejected(f"{chosen.name} (taken)", chosen.row())),
        by="tool" if request == "auto" else "arranger",
    )


def _without_signature(kept: Sequence[int], bars: Sequence[Bar], keys: Sequence[Key], fifths: int, rules: Rules) -> Decision:
    first, last = bars[kept[0]], bars[kept[-1]]
    where = f"Bar {first.number}" if first is last else f"Bars {first.number}–{last.number}"
    most = max(min(abs(own), abs(own - 12), abs(own + 12)) for own in (bars[place].key.fifths + fifths for place in kept))
    held = keys[kept[0]].fifths
    under = f"a signature of {signs(held)}" if held else "no signature"
    return Decision(
        id="key-2",
        kind="key",
        bars=(first.index, last.index),
        sentence=f"{where}: {len(kept)} bars stay under {under} and write accidentals, because their own "
        f"signature would have {_NUMBERS[min(most, 7)]} signs and this level reads {_NUMBERS[rules.level.signature_max]}.",
        onset=first.start,
        weight="medium",
        rule="key.without-signature",
        setting="key.without-signature.sections",
        measured=float(most),
        limit=float(rules.level.signature_max),
        unit="sharps or flats",
    )
