"""Asks whether each part sounds as the file says: missing transpositions, unknown crooks, chords that would be cleaner elsewhere.

A score that leaves out how a clarinet in A sounds is read as written and the arranger is asked; only where its own signature, or
nearly every chord, shows how it sounds is it moved, and that is told.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from reduce.model.problem import Severity
from reduce.model.rules import Instrument
from reduce.model.score import Transposition
from reduce.read.findings import Findings
from reduce.read.instruments import crook_of, crooks_told, find_instrument, kindred, names_crook
from reduce.read.measures import PartWalk
from reduce.read.pieces import Piece
from reduce.read.signatures import shift_of_key

MOMENTS = 512  # chords looked at, evenly spread
FEWEST = 12  # chords a part must be heard in before they say anything
CLEAN = 0.85  # share of a part's notes that are in the chord of the others: it fits
UNCLEAN = 0.55  # it does not
# Both shares from trying all parts of 28 orchestral movements at all crooks; the right one lies above 0.7 for nearly all.

_INTERVALS = (
    "unison", "semitone", "whole tone", "minor third", "major third", "fourth", "tritone", "fifth", "minor sixth", "major sixth",
    "minor seventh", "major seventh", "octave", "minor ninth", "major ninth",
)  # fmt: skip
_CHANGE = re.compile(r"(?:^to\s|\b(?:muta\w*|cambia\w*|change\w*|nimmt|nehmen|prenez|changez|umstimmen)\b)", re.IGNORECASE)


def interval_words(chromatic: int) -> str:
    """'a minor third lower', 'two octaves higher' for an interval in semitones."""
    size = abs(chromatic)
    if size < len(_INTERVALS):
        name = f"{'an' if _INTERVALS[size][0] in 'ou' else 'a'} {_INTERVALS[size]}"
    elif size == 24:
        name = "two octaves"
    else:
        name = f"an octave and {interval_words(size - 12).rsplit(' ', 1)[0]}" if size < 24 else f"{size} semitones"
    return f"{name} {'higher' if chromatic > 0 else 'lower'}"


def check_sounding(
    walks: Sequence[PartWalk],
    found: Sequence[Instrument | None],
    plain: Sequence[bool],
    instruments: Mapping[str, Instrument],
    findings: Findings,
) -> bool:
    """Report doubts on how parts sound, and move those whose signature or chords leave none; returns whether any was moved.

    ``plain`` tells the parts that go without key signature by custom, whose signature proves nothing.
    """
    chords: Chords | None = None
    moved = False
    for walk, instrument, without in zip(walks, found, plain, strict=True):
        if instrument is None or not walk.pieces or walk.tuning.answered:
            continue
        _changes(walk, instrument, instruments, findings)
        if walk.tuning.transpositions:
            _compare_with_name(walk, instrument, findings)
        candidates = {(i.diatonic, i.chromatic): i for i in kindred(instrument, instruments)}
        octave_only = all(chromatic % 12 == 0 for _, chromatic in candidates)
        if not walk.tuning.transpositions and octave_only:
            if instrument.chromatic:
                _octave(walk, instrument, findings)
            continue
        if octave_only:
            continue
        if chords is None:
            chords = Chords(walks, found)
        if walk.tuning.transpositions:
            _cleaner(walk, instrument, candidates, chords, findings)
        elif _missing(walk, instrument, candidates, chords, _common_fifths(walks, plain, walk), without, findings):
            moved = True
    return moved


def _compare_with_name(walk: PartWalk, instrument: Instrument, findings: Findings) -> None:
    """Whether the name tells one crook and the file moves the part by another."""
    first = walk.tuning.transpositions[0]
    crook = crook_of(instrument)
    if crook is None or (first.chromatic - instrument.chromatic) % 12 == 0:
        return
    if names_crook(walk.name, instrument):
        findings.add(
            "doubt",
            "crook",
            f"By its name it is a {instrument.name}, sounding {_how(instrument.chromatic)}; the file has it sound {_how(first.chromatic)} "
            "and was followed.",
            walk.name,
            _entry(walk),
        )
    elif crooks_told(walk.name):
        findings.add(
            "note",
            "crook",
            f"Its crook is not in the table of instruments; as the file says, it sounds {_how(first.chromatic)}.",
            walk.name,
            _entry(walk),
        )


def _entry(walk: PartWalk) -> str:
    """The printed number of the bar where the part comes in: where a doubt about all of it can be looked at."""
    return walk.numbers.get(walk.pieces[0].bar, "")


def _how(chromatic: int) -> str:
    return "as written" if chromatic == 0 else interval_words(chromatic)


def _changes(walk: PartWalk, instrument: Instrument, instruments: Mapping[str, Instrument], findings: Findings) -> None:
    """Words such as 'muta in D' or 'muta in Piccolo' after which the file never changes the transposition."""
    for sign in walk.signs:
        if sign.kind not in ("text", "tempo-text") or not _CHANGE.search(sign.text):
            continue
        other = find_instrument(sign.text, "", "", None, False, instruments)
        crook = crook_of(instrument) is not None and crooks_told(sign.text)
        differs = other is not None and other.chromatic != instrument.chromatic
        if (crook or differs) and not any(t.onset >= sign.onset for t in walk.tuning.transpositions):
            findings.add(
                "doubt", "crook", f"“{sign.text[:40]}” is printed, but the file does not change how the part sounds; check it.", walk.name,
                walk.numbers.get(sign.bar, ""),
            )  # fmt: skip


def _octave(walk: PartWalk, instrument: Instrument, findings: Findings) -> None:
    """An instrument written an octave away, without a word in the file: its notes may show which octave is meant."""
    if walk.octave_clef:
        return
    heights = [p.midi for p in walk.pieces if p.kind != "cue"] or [60]
    shift = instrument.chromatic
    as_sounding = instrument.lowest <= min(heights) and max(heights) <= instrument.highest
    as_written = instrument.lowest - shift <= min(heights) and max(heights) <= instrument.highest - shift
    if as_sounding and not as_written:
        return
    more = " Its range is that of written notes." if as_written and not as_sounding else ""
    findings.add(
        "doubt",
        "octave",
        f"The file does not say that a {instrument.name} sounds {interval_words(shift)}; it was read as it stands.{more} Please confirm.",
        walk.name,
        _entry(walk),
    )


def _missing(
    walk: PartWalk,
    instrument: Instrument,
    candidates: Mapping[tuple[int, int], Instrument],
    chords: Chords,
    common: int | None,
    without: bool,
    findings: Findings,
) -> bool:
    """A transposing instrument in a file that does not say how it sounds; returns whether the part was moved."""
    if crook_of(instrument) is not None and not names_crook(walk.name, instrument):
        _unknown_crook(walk, instrument, candidates, chords, findings)
        return False
    if instrument.chromatic % 12 == 0:
        return False

    def say(severity: Severity, code: str, end: str) -> None:
        findings.add(severity, code, f"The file does not say how the {instrument.name} sounds; {end}", walk.name, _entry(walk))

    shift = interval_words(instrument.chromatic)
    as_written, there = chords.share(walk.index, 0), chords.share(walk.index, instrument.chromatic)
    signature = (
        None if without or not walk.tuning.keys or common is None else (common - walk.tuning.keys[min(walk.tuning.keys)].fifths) % 12
    )
    if signature == 0 or (signature is None and as_written is not None and as_written >= CLEAN):
        say("note", "concert", f"its {'signature shows' if signature == 0 else 'chords show'} that it is noted at sounding pitch.")
    elif signature is not None and signature == shift_of_key(instrument.diatonic, instrument.chromatic) % 12:
        say("doubt", "moved", f"it was moved {shift}, since its signature shows it. Please confirm.")
        move(walk, instrument.diatonic, instrument.chromatic)
        return True
    elif there is not None and as_written is not None and there >= CLEAN and as_written <= UNCLEAN:
        say("doubt", "moved", f"it was moved {shift}, since {_percent(there)} of its notes fit the other parts there. Please confirm.")
        move(walk, instrument.diatonic, instrument.chromatic)
        return True
    elif there is not None and as_written is not None:
        fits = f"{_percent(as_written)} of its notes fit the other parts so, {_percent(there)} {shift}"
        say("doubt", "transposition", f"it was read as written; {fits}. Please confirm.")
    else:
        say("doubt", "transposition", f"it was read as written and not {shift}. Please confirm.")
    return False


def _unknown_crook(
    walk: PartWalk, instrument: Instrument, candidates: Mapping[tuple[int, int], Instrument], chords: Chords, findings: Findings
) -> None:
    as_written = chords.share(walk.index, 0)
    if not crooks_told(walk.name) and as_written is not None and as_written >= CLEAN and any(c % 12 == 0 for _, c in candidates):
        return
    shares = [(s, i) for i in candidates.values() if (s := chords.share(walk.index, i.chromatic)) is not None]
    better = max(shares, key=lambda pair: pair[0], default=None)
    hint = ""
    if better is not None and as_written is not None and better[0] >= CLEAN and as_written <= UNCLEAN:
        hint = f" As a {better[1].name} {_percent(better[0])} of its notes would fit the other parts, as written {_percent(as_written)}."
    kind = instrument.name.split(" in ")[0].lower()
    findings.add(
        "doubt", "crook", f"Nothing tells what this {kind} is in, so it was read as written.{hint} Please confirm.", walk.name, _entry(walk)
    )  # fmt: skip


def _percent(share: float) -> str:
    return f"{round(100 * share)} %"


def _cleaner(
    walk: PartWalk, instrument: Instrument, candidates: Mapping[tuple[int, int], Instrument], chords: Chords, findings: Findings
) -> None:
    """A part whose chords become clean in another crook than the file's."""
    if len({t.chromatic % 12 for t in walk.tuning.transpositions}) > 1:
        return
    now = walk.tuning.transpositions[0].chromatic
    share = chords.share(walk.index, 0)
    if share is None or share > UNCLEAN:
        return
    others = [(s, i) for i in candidates.values() if (s := chords.share(walk.index, i.chromatic - now)) is not None]
    best = max(others, key=lambda pair: pair[0], default=None)
    if best is not None and best[0] >= CLEAN:
        findings.add(
            "doubt",
            "crook",
            f"Only {round(100 * share)} % of its notes fit the other parts; as a {best[1].name} {round(100 * best[0])} % would. "
            "The file was followed; please confirm.",
            walk.name,
            _entry(walk),
        )


def move(walk: PartWalk, diatonic: int, chromatic: int) -> None:
    """Let the whole part sound an interval away, notes and signature."""
    walk.tuning.transpositions.append(Transposition(onset=0, staff=0, diatonic=diatonic, chromatic=chromatic))
    for piece in walk.pieces:
        piece.pitch = piece.pitch.moved(diatonic, chromatic)
        piece.midi = piece.pitch.midi


def _common_fifths(walks: Sequence[PartWalk], plain: Sequence[bool], asking: PartWalk) -> int | None:
    """The signature most other parts end with, as it sounds (the last one: all parts have the same history)."""
    votes: dict[int, int] = {}
    for walk, without in zip(walks, plain, strict=True):
        key = walk.tuning.sounding_key()
        if key is not None and not without and walk is not asking and walk.name != asking.name:
            votes[key.fifths] = votes.get(key.fifths, 0) + 1
    return max(votes, key=lambda f: votes[f]) if votes else None


class Chords:
    """What each part sounds at moments spread evenly over the piece, as sets of pitch classes (bits)."""

    def __init__(self, walks: Sequence[PartWalk], found: Sequence[Instrument | None]) -> None:
        end = max((p.onset + p.duration for w in walks for p in w.pieces), default=0)
        self.step = max(walks[0].resolution // 2, end // MOMENTS + 1)
        self.kinds = [i.key.partition("-in-")[0] if i else "" for i in found]
        self.sets = [self._sets(walk.pieces) for walk in walks]

    def _sets(self, pieces: Sequence[Piece]) -> dict[int, int]:
        sets: dict[int, int] = {}
        step = self.step
        for piece in pieces:
            for moment in range(-(-piece.onset // step), -(-piece.end // step)):
                sets[moment] = sets.get(moment, 0) | 1 << piece.midi % 12
        return sets

    def share(self, part: int, shift: int) -> float | None:
        """Share of moments in which the part, moved by ``shift`` semitones, sounds notes of the other parts' chord only.

        Parts of the same kind do not count, as they would be wrong together; nor do moments with fewer than two or more than
        five other pitch classes.  None where there are too few moments to tell.
        """
        kind = self.kinds[part]
        others = [sets for index, sets in enumerate(self.sets) if index != part and (not kind or self.kinds[index] != kind)]
        heard = fitting = 0
        for moment, own in self.sets[part].items():
            chord = 0
            for sets in others:
                chord |= sets.get(moment, 0)
            if 2 <= chord.bit_count() <= 5:
                turned = own << shift % 12
                turned = (turned | turned >> 12) & 0xFFF
                heard += 1
                fitting += not turned & ~chord
        return fitting / heard if heard >= FEWEST else None
