"""The tempo: the source's mark and the tempo that the level can play."""

from __future__ import annotations

import re
from collections.abc import Sequence

from reduce.model.decision import Decision
from reduce.model.record import replace
from reduce.model.rules import Rules
from reduce.model.score import Bar, Meter, Score, Tempo, felt_beat

WORDS = {  # usual reading of tempo words, in quarters a minute: common practice, middle of the metronome's band
    "prestissimo": 200, "presto": 176, "vivacissimo": 176, "vivace": 152, "allegro molto": 150, "allegro": 132, "vivo": 144,
    "allegretto": 108, "moderato": 100, "andantino": 84, "andante": 76, "adagietto": 72, "adagio": 66, "larghetto": 60,
    "lento": 54, "largo": 48, "grave": 42, "marcia": 112, "menuet": 120, "valse": 160, "waltz": 160,
    "lebhaft": 138, "schnell": 152, "langsam": 58, "mässig": 92,
}  # fmt: skip
FALLBACK = 96.0


def choose_tempo(score: Score, rules: Rules, bars: Sequence[Bar]) -> tuple[tuple[Tempo, ...], tuple[Decision, ...]]:
    """The tempi of the kept bars, at source ticks, each with the source's words and the level's speed, and one decision.

    A tempo without a number is read from its words (common practice).  Speeds outside the level's ``tempo_min``..``tempo_max`` are brought
    inside; inner changes keep part of their proportion (setting ``tempo.mark.keep-proportion``).
    """
    if not bars:
        return (), ()
    start, end = bars[0].start, bars[-1].end
    before = [tempo for tempo in score.tempos if tempo.onset <= start]
    inside = list({(tempo.onset, tempo.text): tempo for tempo in score.tempos if start < tempo.onset < end}.values())
    numbered = [tempo for tempo in before if tempo.quarters]
    first = before[-1] if before else Tempo(onset=start, quarters=None)
    if first.quarters is None and numbered and not first.text:
        first = replace(first, quarters=numbered[-1].quarters)
    meter = bars[0].meter
    marks = [replace(first, onset=start), *inside]
    source = [mark.quarters or read_words(mark.text, meter.beat_ticks(12) / 12 if meter.compound else 1.0) for mark in marks]
    known = [speed for speed in source if speed]
    main = source[0] or (known[0] if known else FALLBACK)
    step = rules.number("tempo.mark.step")
    share = rules.number("tempo.mark.keep-proportion")
    least, most, beat = _bounds(marks[0], meter, main, rules)
    chosen = _inside(main, least, most, step * beat)
    out = []
    for mark, speed in zip(marks, source, strict=True):
        if mark is marks[0]:
            unit, dots = (mark.unit, mark.dots) if mark.quarters else counted(mark, meter, chosen)[:2]
            out.append(replace(mark, quarters=chosen, unit=unit, dots=dots))
        elif speed is None:
            out.append(replace(mark, quarters=None))
        else:
            kept = chosen * speed / main if chosen == main else chosen * (speed / main) ** share
            low, high, own = _bounds(mark, meter, speed, rules)  # each mark in its own beat
            kept = _inside(kept, low, high, step * own)
            out.append(replace(mark, quarters=max(kept, chosen) if speed >= main else min(kept, chosen)))
    out = [_by_quarters(mark, meter, rules) for mark in out]
    words = next((text for mark in marks if (text := _plain_words(mark.text))), "")
    return tuple(out), (_told(words, main, chosen, bool(source[0]), bool(marks[0].quarters), bars, rules, out[0]),)


def _by_quarters(mark: Tempo, meter: Meter, rules: Rules) -> Tempo:
    """A mark counted in quarters: for a beginner, and for who reads alla breve in quarters (its metre is written so)."""
    level = rules.level
    alla_breve = mark.unit == "half" and not mark.dots and bool(level.meters) and "2/2" not in level.meters
    plain = meter.unit == 4 and (alla_breve or level.eighths != "free") and mark.unit in ("half", "whole")
    return replace(mark, unit="quarter", dots=0) if plain else mark


def _bounds(mark: Tempo, meter: Meter, speed: float, rules: Rules) -> tuple[float, float, float]:
    """The slowest and the fastest tempo of the level in quarters a minute, counted in the beat of a mark, and that beat in quarters."""
    level = rules.level
    beat = felt_beat(mark, meter, speed)
    most = level.tempo_max * beat
    leeway = rules.number("rhythm.pace.leeway")
    if beat > 1.5:  # felt in halves or in whole bars: the quarters themselves must stay in hand
        most = min(most, 60 * level.notes_per_second_both * leeway)
        if level.eighths != "free":  # who reads eighths only in pairs counts quarters, whatever the metre's own beat
            most = min(most, level.tempo_max, 30 * level.notes_per_second_one * leeway)
    elif level.eighths != "never":  # beginners' eighths stay inside one hand's speed
        most = min(most, 30 * level.notes_per_second_one * leeway * max(1.0, beat))
    return min(level.tempo_min * beat, most), most, beat


_UNITS = {0.5: ("eighth", 0), 1.5: ("quarter", 1), 2.0: ("half", 0), 3.0: ("half", 1)}


def counted(mark: Tempo, meter: Meter, quarters: float) -> tuple[str, int, float]:
    """The note value that a speed is counted in, its dots, and how many quarters it has."""
    beat = felt_beat(mark, meter, quarters)
    unit, dots = _UNITS.get(beat, ("quarter", 0))
    return unit, dots, beat if beat in _UNITS else 1.0


def spoken(unit: str, dots: int) -> str:
    """A note value in words."""
    return "dotted " * dots + unit


def shown(tempos: Sequence[Tempo], source: Sequence[Tempo], meter: Meter) -> tuple[Tempo, ...]:
    """The tempi with every number on the page that is not the source's: a pupil must see the speed that was chosen.

    A speed that the source has only for playing back stays unseen where it is kept, or where it stands without a tempo word inside the
    piece.  It is counted in the beat that is felt.
    """
    known = {(tempo.onset, tempo.quarters) for tempo in source}
    played = [tempo.quarters for tempo in source if tempo.quarters]
    out = []
    for place, tempo in enumerate(tempos):
        own = (tempo.onset, tempo.quarters) in known or (place == 0 and tempo.quarters in played)
        if tempo.sounding and tempo.quarters and not own and (place == 0 or read_words(tempo.text) is not None):
            unit, dots, _ = counted(tempo, meter, tempo.quarters)
            tempo = replace(tempo, sounding=False, unit=unit, dots=dots)
        out.append(tempo)
    return tuple(out)


def _inside(speed: float, least: float, most: float, step: float) -> float:
    """A speed inside the level's bounds; one that had to move is rounded to ``step`` and stays inside."""
    if least <= speed <= most:
        return float(round(speed, 2))
    if speed < least:
        return float(least)
    rounded = most - most % step
    return float(rounded if rounded >= least else most)


def read_words(text: str, beat: float = 1.0) -> float | None:
    """Quarters a minute that tempo words usually mean, or None; ``beat`` quarters make a beat.  Source: common practice."""
    plain = text.lower()
    found = [(plain.find(word), -len(word), speed) for word, speed in WORDS.items() if word in plain]
    return min(found)[2] * beat if found else None


def _plain_words(text: str) -> str:
    """Tempo words without the metronome mark that some files write into them."""
    return re.sub(r"[\[(].*?[\])]|[=♩♪]\s*\d*|\s+", " ", text).strip()


def _told(words: str, main: float, chosen: float, read: bool, numbered: bool, bars: Sequence[Bar], rules: Rules, mark: Tempo) -> Decision:
    value, dots, beat = counted(mark, bars[0].meter, chosen)
    unit = spoken(value, dots)
    name = words or "no tempo word"
    source = f"{name}, {unit} = {main / beat:.0f}" if read and numbered else f"{name}, read as about {unit} = {main / beat:.0f}"
    if not read:
        source = f"{name}; taken as about {unit} = {main / beat:.0f}"
    level = rules.level
    if chosen == main:
        sentence = f"Tempo of the source kept: {source}."
    else:
        limit = f"from {level.tempo_min:g}" if chosen > main else f"up to {chosen / beat:.0f}"
        because = f"this level plays {limit} beats a minute"
        sentence = f"Tempo proposed: {unit} = {chosen / beat:.0f}, because {because}; the source has {source}."
    return Decision(
        id="tempo-1",
        kind="tempo",
        bars=(bars[0].index, bars[-1].index),
        sentence=sentence,
        onset=bars[0].start,
        weight="big" if chosen != main else "medium",
        certainty=1.0 if numbered else 0.6,
        rule="tempo.mark",
        setting="level.tempo-max" if chosen < main else "level.tempo-min",
        measured=main / beat,
        limit=chosen / beat,
        unit=f"{unit}s a minute",
    )
