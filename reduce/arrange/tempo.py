"""The tempo: the source's mark and the tempo that the level can play."""

from __future__ import annotations

import re
from collections.abc import Sequence

from reduce.model.decision import Decision, Rejected
from reduce.model.level import Level
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


def choose_tempo(score: Score, rules: Rules, bars: Sequence[Bar], marked: str = "") -> tuple[tuple[Tempo, ...], tuple[Decision, ...]]:
    """The tempi of the kept bars, at source ticks, each with the source's words and the level's speed, and one decision.

    A tempo without a number is read from its words (common practice).  Speeds outside the level's ``tempo_min``..``tempo_max`` are brought
    inside; inner changes keep part of their proportion (setting ``tempo.mark.keep-proportion``).  ``marked``: what the source has, as
    `spoken_tempo` says it, where its values have been rewritten.
    """
    if not bars:
        return (), ()
    start, end = bars[0].start, bars[-1].end
    inside = list({(tempo.onset, tempo.text): tempo for tempo in score.tempos if start < tempo.onset < end}.values())
    marks = [replace(_at(score, start), onset=start), *inside]
    meter = bars[0].meter
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
            unit, dots = (mark.unit, mark.dots) if mark.quarters else _value(beat_named(mark, meter, chosen)[0])
            out.append(replace(mark, quarters=chosen, unit=unit, dots=dots))
        elif speed is None:
            out.append(replace(mark, quarters=None))
        else:
            kept = chosen * speed / main if chosen == main else chosen * (speed / main) ** share
            low, high, own = _bounds(mark, meter, speed, rules)  # each mark in its own beat
            kept = _inside(kept, low, high, step * own)
            out.append(replace(mark, quarters=max(kept, chosen) if speed >= main else min(kept, chosen)))
    out = [_by_quarters(mark, meter, rules) for mark in out]
    sure = 1.0 if marks[0].quarters else 0.6
    return tuple(out), (_told(marked or spoken_tempo(score, bars[0]), out[0], main, chosen, bars, rules, sure),)


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


def spoken_tempo(score: Score, bar: Bar) -> str:
    """The tempo at the start of a bar as the source has it: "Allegro, half = 72"; words without a number with what they usually mean."""
    mark, meter = _at(score, bar.start), bar.whole or bar.meter
    read = mark.quarters or read_words(mark.text, meter.beat_ticks(12) / 12 if meter.compound else 1.0)
    quarters = read or FALLBACK
    unit, beat = beat_named(mark, meter, quarters)
    how = "" if mark.quarters else "read as about " if read else "taken as about "
    return f"{_plain_words(mark.text) or 'no tempo word'}{', ' if read else '; '}{how}{unit} = {quarters / beat:.0f}"


def rewritten_tempo(marked: str, score: Score, bar: Bar) -> str:
    """The source's tempo, ``marked`` before its values were rewritten, and what that is in those of the page."""
    here = spoken_tempo(score, bar)
    return marked if here == marked else f"{marked}, here {here.rsplit(', ', 1)[-1]}"


def beat_named(mark: Tempo, meter: Meter, quarters: float) -> tuple[str, float]:
    """The beat that is felt at a speed: its name, and its length in quarter-notes; odd beats are counted in quarters."""
    beat = felt_beat(mark, meter, quarters)
    return (_BEATS[beat], beat) if beat in _BEATS else ("quarter", 1.0)


def _value(name: str) -> tuple[str, int]:
    """A note value of that name, and its dots: "dotted half" is ("half", 1)."""
    return name.removeprefix("dotted "), int(name.startswith("dotted "))


def _at(score: Score, start: int) -> Tempo:
    """The tempo mark that holds at a tick; one without number and words goes on as fast as the last number said."""
    before = [tempo for tempo in score.tempos if tempo.onset <= start]
    first = before[-1] if before else Tempo(onset=start, quarters=None)
    if first.quarters is None and not first.text:
        numbered = [tempo for tempo in before if tempo.quarters]
        return replace(first, quarters=numbered[-1].quarters) if numbered else first
    return first


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
            unit, dots = _value(beat_named(tempo, meter, tempo.quarters)[0])
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
    return re.sub(r"[\[(].*?[\])]|[=♩♪]\s*\d*|\s+", " ", text).strip(" .")


def _told(marked: str, mark: Tempo, main: float, chosen: float, bars: Sequence[Bar], rules: Rules, sure: float) -> Decision:
    unit, beat = beat_named(mark, bars[0].meter, chosen)
    level = rules.level
    sentence = f"Tempo of the source kept: {marked}."
    if chosen != main:
        limit = f"from {level.tempo_min:g}" if chosen > main else f"up to {chosen / beat:.0f}"
        proposed = f"{unit} = {chosen / beat:.0f}"
        sentence = f"Tempo proposed: {proposed}, because this level plays {limit} beats a minute; the source has {marked}."
    return Decision(
        id="tempo-1",
        kind="tempo",
        bars=(bars[0].index, bars[-1].index),
        sentence=sentence,
        onset=bars[0].start,
        weight="big" if chosen != main else "medium",
        certainty=sure,
        rule="tempo.mark",
        setting="level.tempo-max" if chosen < main else "level.tempo-min",
        measured=main / beat,
        limit=chosen / beat,
        unit=f"{unit}s a minute",
    )


def slowed(
    proposed: Decision,
    marked: str,
    before: Sequence[Tempo],
    after: Sequence[Tempo],
    bars: Sequence[Bar],
    level: Level,
    figures: Sequence[tuple[float, int]] = (),
) -> Decision:
    """The one decision on the tempo: the one ``proposed``, or that it was slowed from ``before`` to ``after`` for the hands' sake.

    ``figures``: tempi (quarters a minute) that were given up because so many bars would have left the left hand's figure.
    """
    old = next((t.quarters for t in before if t.quarters), None)
    new = next((t for t in after if t.quarters), None)
    if not old or new is None or not new.quarters or new.quarters >= old:
        return proposed
    unit, beat = beat_named(new, bars[0].meter, new.quarters)
    strict = " or stand at it with something else" if level.at_limit_per_bar <= 1 else ""
    quick = f"some bars pass this level's {level.notes_per_second_both:g} notes a second{strict}"
    left = {quarters: f"{count} bars" if count > 1 else "one bar" for quarters, count in figures}
    for_figures = old in left
    why = f"{left[old]} would have to leave the left hand's figure" if for_figures else quick
    kept = tuple(
        Rejected(f"{unit} = {quarters / beat:g}", f"{count} would have to leave the left hand's figure") for quarters, count in left.items()
    )
    return Decision(
        id="tempo-1",
        kind="tempo",
        bars=(bars[0].index, bars[-1].index),
        onset=bars[0].start,
        weight="big",
        certainty=0.8,
        sentence=(
            f"The tempo is {unit} = {new.quarters / beat:.0f}, because at {old / beat:.0f} {why}; the source has {marked}, the piece loses "
            "some drive."
        ),
        rule="easing.figures" if for_figures else "easing.tempo",
        setting="level.at-limit-per-bar" if for_figures else "level.notes-per-second-both",
        measured=(proposed.measured or 0.0) * next(b for b, name in _BEATS.items() if proposed.unit == f"{name}s a minute") / beat,
        limit=new.quarters / beat,
        unit=f"{unit}s a minute",
        rejected=kept if for_figures else (Rejected(f"{unit} = {old / beat:g}", "too fast for the level"), *kept),
    )


_BEATS = {0.5: "eighth", 1.0: "quarter", 1.5: "dotted quarter", 2.0: "half", 3.0: "dotted half"}
