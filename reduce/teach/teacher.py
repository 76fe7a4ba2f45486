"""The teacher's page: what was decided for the whole piece, how fast, for whom, where it is heavy, what hands must not be forced to."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from itertools import groupby
from typing import Any

from reduce.hands.report import Breach
from reduce.model.booklet import Block, Curve, Heading, Items, Section, Table, Text
from reduce.model.score import Bar
from reduce.teach.lesson import Lesson, ranges
from reduce.teach.tempi import BEATS, beat_quarters, final_beats
from reduce.teach.words import Words

MOST = 8  # big decisions
_RUNS = 4  # stretches told one by one
_MANY = 8  # from so many stretches on a line is told by its players
_MAJORS = ("C♭", "G♭", "D♭", "A♭", "E♭", "B♭", "F", "C", "G", "D", "A", "E", "B", "F♯", "C♯")
_MINORS = ("A♭", "E♭", "B♭", "F", "C", "G", "D", "A", "E", "B", "F♯", "C♯", "G♯", "D♯", "A♯")
_SHOWN = 8  # places of one kind of breach
_REPEATED = ("octaves", "repeated-chord", "repeated-note")
Row = Mapping[str, Any]


def teachers_page(lesson: Lesson) -> Section:
    """At most eight decisions, then level, load and cautions."""
    say = lesson.words.say
    decided = big_decisions(lesson)
    blocks: list[Block] = []
    if decided:
        blocks += [Text(text=say("teacher.lead")), Table(head=(say("teacher.what"), say("teacher.decided")), rows=decided, shares=(2, 9))]
    blocks += [Heading(text=say("teacher.level")), Text(text=_level(lesson)), *_load(lesson)]
    blocks += [Heading(text=say("teacher.care")), Items(items=_cautions(lesson))]
    return Section(name="teacher", title=say("teacher.title"), readers=("teacher",), blocks=tuple(blocks))


def big_decisions(lesson: Lesson) -> tuple[tuple[str, str], ...]:
    """Topic and sentence of the decisions about the whole piece, as far as the log tells them."""
    if not lesson.decisions:
        return ()
    told = (
        ("choices", _choices(lesson)), ("key", _key(lesson)), ("length", _length(lesson)), ("tempo", _tempo(lesson)),
        ("tune", _carried(lesson, "melody")), ("bass", _carried(lesson, "bass")), ("left", _figures(lesson)),
        ("left-out", _left_out(lesson)),
    )  # fmt: skip
    return tuple((lesson.words.say(f"topic.{topic}"), sentence) for topic, sentence in told if sentence)[:MOST]


def key_named(fifths: int, mode: str, words: Words) -> str:
    """'A minor', 'a-Moll', by the signature."""
    name = (_MINORS if mode == "minor" else _MAJORS)[fifths + 7]
    named = words.get(f"note.{name}", name)
    lower = mode == "minor" and words.say("key.case") == "lower"
    return words.say(f"key.{mode}", root=named.lower() if lower else named)


def home_mode(lesson: Lesson) -> str:
    """Major or minor: as the file says, where it says minor, else by the key that the first signature's bars are heard in for longest."""
    if lesson.draft.bars[0].key.mode == "minor":
        return "minor"  # programs write 'major' where they do not know
    tonic = 7 * lesson.draft.bars[0].key.fifths % 12
    heard: Counter[str] = Counter()
    for local in lesson.keys:
        if (local.tonic - tonic) % 12 == (9 if local.mode == "minor" else 0):
            heard[local.mode] += local.end - local.start
    return heard.most_common(1)[0][0] if heard else lesson.draft.bars[0].key.mode or "major"


def _rows(lesson: Lesson, kind: str) -> list[Row]:
    return [row for row in lesson.decisions if row["kind"] == kind and row["rule"] != "choices"]


def _number(value: Any) -> str:
    return f"{float(value):g}"


def _choices(lesson: Lesson) -> str:
    """What she chose herself: how many entries, about what, in which bars."""
    hers = [row for row in lesson.decisions if row["by"] == "arranger" and row["rule"] == "choices"]
    if not hers:
        return ""
    words = lesson.words
    named = [f"{words.say('kind.' + row['kind'])} ({_between(words, *row['bars'])})" for row in hers]
    shown = named[:_RUNS] + ([words.say("teacher.others", n=len(named) - _RUNS)] if len(named) > _RUNS else [])
    return words.count("teacher.choices", len(hers), what=", ".join(shown))


def _between(words: Words, first: str, last: str) -> str:
    return words.say("place.bar", bar=first) if first == last else words.say("place.bars", first=first, last=last)


def _key(lesson: Lesson) -> str:
    """The key, and the source's where it is another."""
    words, mode, bars = lesson.words, home_mode(lesson), lesson.draft.bars
    here = key_named(bars[0].key.fifths, mode, words)
    source = lesson.source.bars if lesson.source is not None else ()
    if not source or not lesson.draft.transposed:
        level, signs = lesson.rules.level, max(abs(bar.key.fifths) for bar in bars)
        more = words.count("teacher.signs-kept", signs, most=level.signature_max) if signs > level.signature_max else ""
        return words.say("teacher.key-kept", key=here, more=more).strip()
    told = next((row for row in _rows(lesson, "key") if row["weight"] == "big"), None)
    before = key_named(source[0].key.fifths, mode, words)
    why = _class(lesson, told)
    if not why and told is not None and told["unit"] == "sharps or flats" and float(told["measured"]) > float(told["limit"]):
        why = words.say("teacher.signs", n=_number(told["measured"]), most=_number(told["limit"]))
    return words.say("teacher.key-moved", key=here, source=before, why=why).strip()


def _class(lesson: Lesson, row: Row | None) -> str:
    """That a class plays together, where the row says so."""
    return lesson.words.say("teacher.class") if row is not None and row["rule"] == "together" else ""


def _length(lesson: Lesson) -> str:
    words, level, bars = lesson.words, lesson.rules.level, lesson.draft.bars
    usual = words.say("teacher.usual", least=level.bars_min, most=level.bars_max) if level.bars_max else words.say("teacher.any-length")
    count, whole = _full(bars), lesson.facts.get("source", {}).get("bars")
    if whole is None or whole == len(bars):
        return words.say("teacher.whole", n=count, usual=usual)
    told = next((row for row in _rows(lesson, "cut") if row["weight"] != "small"), None)
    why = _class(lesson, told) or usual
    place = lesson.bars_named(0, len(bars) - 1)
    return words.say("teacher.part", place=place[:1].upper() + place[1:], n=count, all=whole, usual=why)


def _full(bars: Sequence[Bar]) -> int:
    """Bars of the source without the pick-up."""
    return sum(not bar.pickup and not bar.parent for bar in bars)


def _tempo(lesson: Lesson) -> str:
    """The tempo, with the source's where the level needs a slower or quicker one."""
    words, beat, now = lesson.words, beat_quarters(lesson.draft), final_beats(lesson)
    mark = f"{BEATS.get(beat, '')}\u2009=\u2009{now:.0f}"
    rows = [row for row in _rows(lesson, "tempo") if row["measured"] is not None]
    told = rows[0] if rows else None
    source_bars = lesson.source.bars if lesson.source is not None else ()
    meter = lesson.draft.bars[-1].meter
    if any(bar.parent for bar in source_bars):
        mark = f"{words.say('teacher.metre-parted', meter=meter)} {mark}"
    elif source_bars and source_bars[-1].meter != meter:
        mark = f"{words.say('teacher.metre', meter=meter, source=source_bars[-1].meter)} {mark}"
    if told is None or (told["measured"] == told["limit"] and len(rows) == 1 and lesson.factor == 1):
        return words.say("teacher.tempo-kept", mark=mark)
    unit = {"eighth": 0.5, "quarter": 1.0, "dotted quarter": 1.5, "half": 2.0, "dotted half": 3.0}
    source = float(told["measured"]) * unit.get(str(told["unit"]).removesuffix("s a minute"), 1.0) / beat
    name = "tempo-other" if lesson.factor == 1 else "tempo-scaled"
    return words.say(f"teacher.{name}", mark=mark, source=f"{source:.0f}", why=_class(lesson, told)).strip()


def carriers(lesson: Lesson, role: str) -> list[tuple[str, int, int]]:
    """Who plays tune or bass in the orchestra: part, first and last bar (indices)."""
    place = {bar.number: k for k, bar in enumerate(lesson.draft.bars)}
    by_bar: dict[int, Counter[str]] = {}
    for row in lesson.fates:
        if row.get("role") == role and row["bar"] in place:
            by_bar.setdefault(place[row["bar"]], Counter())[row["part"]] += 1
    owners = [(bar, max(counts, key=lambda part: (counts[part], part))) for bar, counts in sorted(by_bar.items())]
    runs = []
    for part, stretch in groupby(owners, key=lambda item: item[1]):
        bars = [bar for bar, _ in stretch]
        runs.append((part, bars[0], bars[-1]))
    return runs


def _carried(lesson: Lesson, role: str) -> str:
    runs = carriers(lesson, role)
    if len(runs) > _MANY:
        return _in_all(lesson, runs)
    told = [lesson.words.say("teacher.carrier", part=part, place=lesson.bars_named(first, last)) for part, first, last in runs[:_RUNS]]
    if len(runs) > _RUNS:
        told.append(lesson.words.count("teacher.changes", len(runs) - _RUNS))
    return "; ".join(told) + "." if told else ""


def _in_all(lesson: Lesson, runs: Sequence[tuple[str, int, int]]) -> str:
    """Who plays a line that often changes hands: those who have it in most bars, with how many."""
    words = lesson.words
    bars: Counter[str] = Counter()
    for part, first, last in runs:
        bars[part] += last - first + 1
    most = bars.most_common(_RUNS)
    told = [words.count("teacher.bars", count, part=part) for part, count in most]
    if len(bars) > len(most):
        told.append(words.count("teacher.others-bars", sum(bars.values()) - sum(count for _, count in most)))
    return words.say("teacher.in-all", what=words.several(told), n=len(runs) - 1)


def _figures(lesson: Lesson) -> str:
    """What the left hand plays, stretch by stretch; figures are known by their words in the log."""
    words = lesson.words
    spoken = sorted(((lesson.log_words.texts[name], name) for name in lesson.log_words.texts if name.startswith("figure.")), key=_longest)
    told: dict[str, list[int]] = {}
    place = {bar.number: k for k, bar in enumerate(lesson.draft.bars)}
    for row in _rows(lesson, "figure"):
        name = next((name for text, name in spoken if f": {text}" in row["sentence"]), "")
        if name and row["bars"][0] in place and row["bars"][1] in place:
            told.setdefault(name, []).extend(range(place[row["bars"][0]], place[row["bars"][1]] + 1))
    parts = []
    for name, bars in list(told.items())[:_RUNS]:
        where = words.several([lesson.bars_named(first, last) for first, last in ranges(bars)])
        parts.append(words.say("teacher.carrier", part=words.say(name), place=where))
    if not parts:
        return words.say("teacher.own-figures")
    text = "; ".join(parts) + "."
    return text[:1].upper() + text[1:]


def _longest(item: tuple[str, str]) -> int:
    return -len(item[0])


def _left_out(lesson: Lesson) -> str:
    numbers = {bar.number for bar in lesson.draft.bars}
    here = [row for row in lesson.fates if row["bar"] in numbers]
    if not here:
        return ""
    gone = Counter(str(row["part"]) for row in here if row["fate"] == "dropped")
    merged = sum(row["fate"] == "merged" for row in here)
    most = ", ".join(f"{part} ({count})" for part, count in gone.most_common(3)) or "–"
    return lesson.words.say("teacher.gone", gone=sum(gone.values()), all=len(here), most=most, merged=merged)


def _level(lesson: Lesson) -> str:
    words, level, report = lesson.words, lesson.rules.level, lesson.report
    name = words.get(f"level.{level.name}", level.title)
    told = [words.say("teacher.made-for", level=name, span=f"{report.span:g}")]
    if report.estimate.level != level.name:
        told.append(words.say("teacher.estimate", level=words.get(f"level.{report.estimate.level}", report.estimate.level)))
    hard = [breach for breach in report.breaches if breach.hard]
    soft = [breach for breach in report.breaches if not breach.hard]
    for kind, found in (("hard", hard), ("soft", soft)):
        if found:
            told.append(words.say(f"teacher.{kind}", what=_by_kind(lesson, found)))
    if not hard and not soft:
        told.append(words.say("teacher.kept"))
    return " ".join(told)


def _by_kind(lesson: Lesson, found: Sequence[Breach]) -> str:
    """'key signature (bars 0–8); wide steps (bars 6 and 10)'."""
    words = lesson.words
    kinds: dict[str, set[int]] = {}
    for breach in found:
        kinds.setdefault(breach.what, set()).add(breach.bar)
    parts = []
    for kind, bars in kinds.items():
        runs = [_run(lesson, *run) for run in ranges(sorted(bars))]
        shown = runs[:_SHOWN] + ([words.say("teacher.others", n=len(runs) - _SHOWN)] if len(runs) > _SHOWN else [])
        place = words.say("place.bar" if len(bars) == 1 else "place.bars-listed", bar=runs[0], bars=words.several(shown))
        parts.append(words.say(f"breach.{kind}") + ("" if kind == "length" else f" ({place})"))
    return "; ".join(parts)


def _run(lesson: Lesson, first: int, last: int) -> str:
    return lesson.number(first) if first == last else f"{lesson.number(first)}–{lesson.number(last)}"


def _load(lesson: Lesson) -> list[Block]:
    """The curve of the load, and what makes its highest bars high."""
    load, words = lesson.report.load, lesson.words
    if not load:
        return []
    black = frozenset(bar.bar for bar in load if bar.outlier or bar.over_budget)
    peak = max(load, key=lambda bar: (bar.total, -bar.bar))
    heaviest = sorted(peak.parts, key=lambda part: -part[1])[:2]
    why = words.several([words.say(f"load.{name.replace(' ', '-')}") for name, share in heaviest if share > 0])
    curve = Curve(
        heights=tuple(round(bar.total, 3) for bar in load),
        labels=tuple(bar.number for bar in load),
        black=black,
        line=lesson.report.median,
    )
    text = words.say("teacher.load-lead") + (f" {words.say('teacher.peak', bar=peak.number, why=why)}" if why else "")
    return [Heading(text=words.say("teacher.load")), Text(text=text), curve]


def _cautions(lesson: Lesson) -> tuple[str, ...]:
    """What can strain a hand here, by bar, and the rule for every piece."""
    words = lesson.words
    wide = sorted({spot.bar for spot in lesson.report.spots if spot.kind == "stretch" and spot.caution})
    again = sorted({spot.bar for spot in lesson.report.spots if spot.kind in _REPEATED and spot.caution})
    told = []
    for name, bars in (("wide", wide), ("repeated", again)):
        if bars:
            told.append(words.say(f"teacher.{name}", bars=words.several([_run(lesson, *run) for run in ranges(bars)])))
    return (*told, words.say("teacher.always"))
