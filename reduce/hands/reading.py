"""What the eye meets: signs, values and keys that the level does not know yet."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from fractions import Fraction

from reduce.hands.figures import BarFigures, crosses_beat, ledger_lines, off_beats, uneven
from reduce.hands.report import BarLoad, Side
from reduce.hands.tally import Tally, placed
from reduce.hands.terms import Sheet, Terms
from reduce.hands.touch import HANDS, Touch
from reduce.model.draft import DraftNote, Hand
from reduce.model.score import Bar, felt_beat

_ORNAMENTS = {"none": frozenset(), "grace": frozenset(), "trill-turn": frozenset({"trill-mark", "turn", "inverted-turn", "mordent"})}


def read_notes(tally: Tally, sheet: Sheet, terms: Terms) -> None:
    """Range, values, ledger lines, ties and signs of every note."""
    level, quarter = terms.level, sheet.draft.resolution
    shortest = level.shortest * quarter
    longest = level.longest * quarter
    graced = _written_out(sheet.draft.notes, shortest, quarter // 2) if shortest and level.ornaments == "all" else frozenset()
    for bar, note in placed(sheet.draft.bars, sheet.draft.notes):
        at, ids = (bar.index - sheet.draft.bars[0].index, note.onset, note.hand), (note.id,)
        if note.grace or note.duration <= 0:
            if level.ornaments == "none":
                tally.add(*at, "ornament", "A grace note, the level has no ornaments", 1, 0, "notes", False, ids)
            continue
        if not level.lowest <= note.midi <= level.highest:
            limit = level.lowest if note.midi < level.lowest else level.highest
            called = sheet.name(limit, at[0])
            tally.add(*at, "range", f"{note.pitch} lies beyond {called}", note.midi, limit, "MIDI number", True, ids)
        if shortest and note.duration < shortest:
            told = f"A note of {note.duration / quarter:g} quarters, the level's shortest has {float(level.shortest):g}"
            ornament = note.id in graced
            told += "; a run written out, to be played like an ornament" if ornament else ""
            tally.add(*at, "value", told, note.duration / quarter, float(level.shortest), "quarters", not ornament, ids)
        if longest and note.duration > longest:
            tally.add(
                *at, "value", f"A note of {note.duration / quarter:g} quarters, the level's longest has {float(level.longest):g}",
                note.duration / quarter, float(level.longest), "quarters", False, ids,
            )  # fmt: skip
        lines = ledger_lines(note)
        if lines > level.ledger_max:
            told = f"{note.pitch} needs {lines} ledger lines, the level has {level.ledger_max}"
            tally.add(*at, "ledger", told, lines, level.ledger_max, "lines", False, ids)
        if not level.ties and note.end > bar.end:
            tally.add(*at, "tie", "A note tied over the bar line, the level has no ties", 1, 0, "ties", False, ids)
        for sign in note.articulations:
            if sign not in level.articulations:
                tally.add(*at, "marks", f"The sign {sign} is not known at this level", 1, 0, "signs", False, ids)
        for sign in note.ornaments:
            if level.ornaments != "all" and sign not in _ORNAMENTS[level.ornaments]:
                tally.add(*at, "ornament", f"The ornament {sign} is not known at this level", 1, 0, "signs", False, ids)


def _written_out(notes: Sequence[DraftNote], shortest: Fraction, longest: int) -> frozenset[str]:
    """Ids of notes in short runs by step that are ornaments written out: shorter than ``shortest`` ticks each, ``longest`` in all.

    Common practice: a slide or a turn in small values is played like graces, not counted.
    """
    out: set[str] = set()
    voices: dict[tuple[str, int], list[DraftNote]] = {}
    for note in notes:
        if not note.grace and note.duration > 0:
            voices.setdefault((note.hand, note.strand), []).append(note)
    for row in voices.values():
        run: list[DraftNote] = []
        for i, note in enumerate(row):
            joins = run and note.onset == run[-1].end and 0 < abs(note.midi - run[-1].midi) <= 2
            run = [*run, note] if joins else [note]
            run = run if note.duration < shortest else []
            ends = i + 1 == len(row) or row[i + 1].duration >= shortest or row[i + 1].onset != note.end
            if ends and len(run) > 1 and sum(n.duration for n in run) <= longest:
                out.update(n.id for n in run)
    return frozenset(out)


def read_bars(
    tally: Tally,
    sheet: Sheet,
    lines: dict[Hand, tuple[Touch, ...]],
    terms: Terms,
    bars: Sequence[BarFigures],
    load: Sequence[BarLoad],
) -> None:
    """Key, meter, speed, budget and counting of every bar, and the length of the piece."""
    level, draft = terms.level, sheet.draft
    by_bar: dict[Hand, list[list[Touch]]] = {hand: [[] for _ in draft.bars] for hand in HANDS}
    for hand in HANDS:
        for touch in lines[hand]:
            if not touch.grace:
                by_bar[hand][touch.bar].append(touch)
    quarter = draft.resolution
    meter = ""
    for i, (bar, figures, weighed) in enumerate(zip(draft.bars, bars, load, strict=True)):
        at: tuple[int, int, Side] = (i, bar.start, "both")
        signs = abs(bar.key.fifths)
        if signs > level.signature_max:
            kind = "sharps" if bar.key.fifths > 0 else "flats"
            told = f"{signs} {kind} in the key signature, the level has {level.signature_max}"
            tally.add(*at, "key", told, signs, level.signature_max, kind, True)
        elif level.keys and not _known_key(bar, level.keys):
            tally.add(*at, "key", "The key is not among those known", 1, 0, "keys")
        if level.meters and str(bar.meter) != meter and str(bar.meter) not in level.meters:
            tally.add(*at, "meter", f"The time signature {bar.meter} is not known at this level", 1, 0, "signs")
        meter = str(bar.meter)
        if round(figures.speed_both, 1) > level.notes_per_second_both:
            limit = level.notes_per_second_both
            told = f"{figures.speed_both:.1f} notes a second in both hands together, the level has {limit:g}"
            tally.add(*at, "speed-together", told, figures.speed_both, limit, "notes a second")
        if round(figures.speed_one, 1) > level.notes_per_second_one:
            limit = level.notes_per_second_one
            told = f"{figures.speed_one:.1f} notes a second in one hand, the level has {limit:g}"
            tally.add(*at, "speed", told, figures.speed_one, limit, "notes a second")
        if weighed.over_budget:
            told = f"At the limit in {len(weighed.at_limit)} things at once: {', '.join(weighed.at_limit)}"
            tally.add(*at, "budget", told, len(weighed.at_limit), level.at_limit_per_bar, "things")
        _counting(tally, at, level_row=(by_bar["right"][i], by_bar["left"][i]), bar=bar, quarter=quarter, terms=terms)
    total = sum(not bar.pickup and not bar.parent for bar in draft.bars)  # bars of the score: parts of one are half as full
    short = 2 * sum(bar.length <= 2 * quarter for bar in draft.bars) > len(draft.bars)
    most = int(level.bars_max * (terms.short_bars if short else 1))
    if most and total > most:
        tally.add(0, 0, "both", "length", f"{total} bars, the level has {most} at most", total, most, "bars")
    elif total < level.bars_min:
        tally.add(0, 0, "both", "length", f"{total} bars, the level has {level.bars_min} at least", total, level.bars_min, "bars")


def _counting(
    tally: Tally, at: tuple[int, int, Side], *, level_row: tuple[list[Touch], list[Touch]], bar: Bar, quarter: int, terms: Terms
) -> None:
    """Rhythm that the level does not count yet."""
    level = terms.level
    right, left = level_row
    lengths = {n.duration for row in level_row for t in row for n in t.notes}
    compound = bar.meter.compound
    beat = bar.meter.beat_ticks(quarter)

    def no(what: str, measured: float = 1, limit: float = 0) -> None:
        tally.add(*at, "rhythm", f"{what}, which the level does not have", measured, limit, "places")

    if level.eighths == "never" and any(2 * n == quarter for n in lengths):
        no("Eighth notes")
    if not compound and not level.triplets and any(uneven(t.onset - bar.start, quarter) for row in level_row for t in row):
        no("Triplets")
    if not level.dotted_eighth and level.sixteenths != "hook" and any(4 * n == 3 * quarter for n in lengths):
        no("A dotted eighth")
    if level.sixteenths == "never" and any(4 * n == quarter for n in lengths):
        no("Sixteenths")
    off = off_beats(level_row, bar.start, beat)
    most = {"never": 0, "simple": 1, "free": 99}[level.syncopation]
    if off > most:
        no("Syncopation", off, most)
    if level.cross_rhythm == "never" and crosses_beat(right, left, bar.start, beat):
        tally.add(*at, "cross-rhythm", "The hands divide one beat differently", 1, 0, "places")


def _known_key(bar: Bar, keys: Sequence[str]) -> bool:
    major = ["C", "G", "D", "A", "E", "B", "F♯", "C♯"] if bar.key.fifths >= 0 else ["C", "F", "B♭", "E♭", "A♭", "D♭", "G♭", "C♭"]
    minor = ["A", "E", "B", "F♯", "C♯", "G♯", "D♯", "A♯"] if bar.key.fifths >= 0 else ["A", "D", "G", "C", "F", "B♭", "E♭", "A♭"]
    place = abs(bar.key.fifths)
    names = []
    if bar.key.mode != "minor":
        names.append(f"{major[place]} major")
    if bar.key.mode != "major":
        names.append(f"{minor[place]} minor")
    plain = {key.replace("#", "♯").replace(" flat", "♭").replace(" sharp", "♯").replace("b ", "♭ ").casefold() for key in keys}
    return any(name.casefold() in plain for name in names)


def read_signs(tally: Tally, sheet: Sheet, terms: Terms) -> None:
    """Dynamics, hairpins, pedal, octave lines and tempo."""
    level, bars = terms.level, sheet.draft.bars
    starts = [bar.start for bar in bars]

    def place(onset: int) -> int:
        return max(0, bisect_right(starts, onset) - 1)

    for mark in sheet.draft.marks:
        at: tuple[int, int, Side] = (place(mark.onset), mark.onset, "both")
        if mark.kind == "dynamic" and mark.text and mark.text not in level.dynamics:
            tally.add(*at, "marks", f"The dynamic {mark.text} is not known at this level", 1, 0, "signs")
        elif mark.kind == "hairpin" and not level.hairpins:
            tally.add(*at, "marks", "A hairpin, which the level does not have", 1, 0, "signs")
        elif mark.kind == "pedal" and level.pedal == "none":
            tally.add(*at, "pedal", "A pedal mark, which the level does not have", 1, 0, "signs")
        elif mark.kind == "ottava" and not level.ottava:
            tally.add(*at, "marks", "An octave line, which the level does not have", 1, 0, "signs")
    for tempo in sheet.draft.tempos:
        if tempo.quarters is None:
            continue
        at = (place(tempo.onset), tempo.onset, "both")
        beats = tempo.quarters / felt_beat(tempo, bars[at[0]].meter, tempo.quarters)
        slow, quick = sorted((tempo.quarters, beats))  # either may be what the page counts
        if round(slow) > level.tempo_max:
            told = f"{slow:.0f} beats a minute, the level goes up to {level.tempo_max:.0f}"
            tally.add(*at, "tempo", told, slow, level.tempo_max, "beats a minute")
        elif round(quick) < level.tempo_min:
            told = f"{quick:.0f} beats a minute, the level goes down to {level.tempo_min:.0f}"
            tally.add(*at, "tempo", told, quick, level.tempo_min, "beats a minute")
