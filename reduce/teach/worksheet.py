"""The chord worksheet: the piece's chords as note heads, a way to find their names, and the answers apart."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from itertools import pairwise
from math import ceil

from reduce.model.booklet import Block, Heading, Heads, HeadsBar, HeadsSheet, Items, Keyboards, Keys, Music, Section, Table, Text
from reduce.model.record import replace
from reduce.teach.answers import Answer, asked_in
from reduce.teach.excerpts import Bars, excerpts
from reduce.teach.lesson import Lesson
from reduce.teach.naming import note_name, quality, symbol

BLANK = "\u2007" + "." * 11  # no underscores: in words under notes they are drawn as slurs
GOES_ON = "="
BARS = 6  # a line, at most
_SIZE = 0.85  # share of the level's staff
_TIMES = (1.0, 0.25)  # what a chord's first and second time on the sheet are worth, against how often it stands in the piece
_CADENCE = 0.5  # what one cadence in a line is worth
_DOMINANTS = ("major", "dominant-seventh")


def worksheet(lesson: Lesson, found: Sequence[Answer]) -> tuple[Section, ...]:
    """The pupil's worksheet and the teacher's answers; nothing where no chord can be asked.

    Of a piece with more chords than a lesson has time for, the bars that teach most: see `lines`.
    """
    if not any(answer.asked for answer in found):
        return ()
    shown = lines(lesson, found)
    told = asked_in(found, {k for first, last in shown for k in range(first, last + 1)})
    say = lesson.words.say
    pupil: list[Block] = [name_line(lesson), Text(text=say("worksheet.lead"), look="bold"), *_how_to(lesson, told), *_signs(lesson)]
    pupil += _music(lesson, told, shown, answered=False)
    pupil += _chart(lesson, told, shown, named=False)
    answers: list[Block] = _music(lesson, told, shown, answered=True)
    answers.append(_table(lesson, told))
    answers.append(Text(text=say("answers.small-print"), look="small"))
    if _partly(lesson, shown):
        answers.append(Text(text=say("answers.rest"), look="small"))
    answers += _chart(lesson, told, shown, named=True)
    return (
        Section(name="worksheet", title=say("worksheet.title"), readers=("pupil",), blocks=tuple(pupil)),
        Section(name="answers", title=say("answers.title"), readers=("teacher",), blocks=tuple(answers)),
    )


def name_line(lesson: Lesson) -> Text:
    """Room for the pupil's name and the day, for sheets that are handed out."""
    return Text(text=lesson.words.say("page.name", name="_" * 30, day="_" * 14), look="small")


def whole_sheet(lesson: Lesson, found: Sequence[Answer]) -> tuple[Music, ...]:
    """Sheet and answers of the whole piece, for a file each, where the printed ones have only a part of it."""
    if not any(answer.asked for answer in found) or not _partly(lesson, lines(lesson, found)):
        return ()
    names = ((False, "worksheet-whole"), (True, "worksheet-whole-answers"))
    return tuple(Music(sheet=sheet(lesson, found, answered=answered), name=name) for answered, name in names)


def lines(lesson: Lesson, found: Sequence[Answer]) -> tuple[Bars, ...]:
    """The bars (indices) of the printed sheet: all, or as many lines as a lesson has time for.

    The lines are those with the chords that the piece has most, and with cadences; each chord counts twice at most.
    """
    most = lesson.rules.whole("teach.worksheet-length.questions")
    size = lesson.rules.whole("teach.worksheet-length.line")
    whole = (0, len(lesson.draft.bars) - 1)
    by_bar: dict[int, list[Answer]] = {}
    for answer in found:
        by_bar.setdefault(answer.bar, []).append(answer)
    if len(_asked(by_bar, (whole,))) <= most:
        return (whole,)

    often = Counter(_kind(answer) for answer in _asked(by_bar, (whole,)))
    main = max(often.values())

    def gain(bars: Bars, taken: Sequence[Bars]) -> float:
        here, there = _asked(by_bar, (bars,)), _asked(by_bar, taken)
        if taken and len(here) + len(there) > most:
            return 0.0
        known = [_kind(answer) for answer in there]
        worth = 0.0
        for answer in here:
            kind = _kind(answer)
            times = known.count(kind)
            sounds = 1 - len(answer.silent) / len(answer.thirds)
            worth += (_TIMES[times] if times < len(_TIMES) else 0.0) * often[kind] / main * sounds
            known.append(kind)
        return worth + (_CADENCE if any(_closes(a, b) for a, b in pairwise(here)) else 0.0)

    return excerpts(lesson, size, gain)


def _asked(by_bar: Mapping[int, Sequence[Answer]], bars: Sequence[Bars]) -> list[Answer]:
    """What is asked in some bars, each stretch for itself, the example among it."""
    found: list[Answer] = []
    for first, last in bars:
        here = [answer for k in range(first, last + 1) for answer in by_bar.get(k, ())]
        found += [answer for answer in asked_in(here, range(first, last + 1)) if answer.asked or answer.example]
    return found


def _kind(answer: Answer) -> tuple[int, str]:
    return answer.chord.root, answer.chord.quality


def _closes(before: Answer, after: Answer) -> bool:
    """Whether a fifth falls from a dominant to the chord after it."""
    return before.end == after.start and before.chord.quality in _DOMINANTS and (before.chord.root - after.chord.root) % 12 == 7


def _partly(lesson: Lesson, shown: Sequence[Bars]) -> bool:
    return shown[0] != (0, len(lesson.draft.bars) - 1)


def _music(lesson: Lesson, told: Sequence[Answer], shown: Sequence[Bars], *, answered: bool) -> list[Block]:
    """The sheet, whole or line by line; the file has all bars."""
    paper = sheet(lesson, told, answered=answered)
    name = "worksheet-answers" if answered else "worksheet"
    if not _partly(lesson, shown):
        count = len(lesson.draft.bars)
        return [Music(sheet=paper, size=_SIZE, bars_a_line=ceil(count / ceil(count / BARS)), name=name)]
    return [
        Music(
            sheet=paper,
            first=first,
            last=last,
            size=_SIZE,
            bars_a_line=last - first + 1,
            label=_named(lesson, first, last),
            name="" if k else name,
        )
        for k, (first, last) in enumerate(shown)
    ]


def _named(lesson: Lesson, first: int, last: int) -> str:
    name = lesson.bars_named(first, last)
    return name[:1].upper() + name[1:]


def _signs(lesson: Lesson) -> list[Block]:
    """What the signs on the sheet mean."""
    names = ("worksheet.signs", *(("worksheet.numerals",) if lesson.numerals else ()))
    return [Text(text=lesson.words.say(name), look="small") for name in names]


def sheet(lesson: Lesson, found: Sequence[Answer], *, answered: bool) -> HeadsSheet:
    """The chords of every bar as note heads, with blanks or with names under them."""
    by_bar: dict[int, list[Answer]] = {}
    for answer in found:
        by_bar.setdefault(answer.bar, []).append(answer)
    draft = lesson.draft
    return HeadsSheet(
        about=replace(draft, title=f"{draft.title} – {lesson.words.say('answers.title' if answered else 'worksheet.title')}"),
        names=(lesson.words.say("worksheet.staves-played"), lesson.words.say("worksheet.staves-thirds")),
        bars=tuple(
            HeadsBar(
                number=bar.number,
                key=bar.key,
                pickup=bar.pickup,
                last=k == len(draft.bars) - 1,
                heads=tuple(_heads(lesson, answer, answered) for answer in by_bar.get(k, ())),
            )
            for k, bar in enumerate(draft.bars)
        ),
    )


def _heads(lesson: Lesson, answer: Answer, answered: bool) -> Heads:
    named = answered or answer.example
    number = f"{answer.number}" if answer.asked else ""
    if answer.asked or answer.example:
        first = f"{number} {symbol_of(lesson, answer)}".strip() if named else f"{number}{BLANK}"
    else:
        first = GOES_ON if answer.goes_on else ""
    under = [first]
    if lesson.numerals and (answer.asked or answer.example):
        under.append(answer.chord.roman if named else BLANK)
    plain = answer.asked or answer.example or answer.goes_on
    return Heads(
        upper=answer.upper,
        lower=answer.lower,
        thirds=answer.thirds if plain else (),
        silent=answer.silent,
        under=tuple(under),
    )


def symbol_of(lesson: Lesson, answer: Answer) -> str:
    """The chord's symbol; the bass behind the stroke from the level on that reads it."""
    bass = lesson.rules.level.order >= lesson.rules.whole("teach.chords-to-name.bass-from")
    return symbol(answer.chord, lesson.words, bass=bass)


def _how_to(lesson: Lesson, found: Sequence[Answer]) -> list[Block]:
    """Rearrange in thirds, find the root, name the kind; with the first complete chord of the piece."""
    say, words = lesson.words.say, lesson.words
    blocks: list[Block] = [Items(items=tuple(say(f"worksheet.step-{k}") for k in (1, 2, 3, 4)), mark="number")]
    example = next((answer for answer in found if answer.example), None)
    if example is not None:
        lying = (*example.lower, *example.upper)
        blocks.append(
            Text(
                text=say(
                    "worksheet.example",
                    bar=lesson.bars_named(example.bar, example.bar),
                    played=" ".join(note_name(pitch, words) for pitch in lying),
                    thirds="–".join(note_name(pitch, words) for pitch in example.thirds),
                    root=note_name(example.thirds[0], words),
                    third=say(f"third.{'major' if (example.thirds[1].midi - example.thirds[0].midi) == 4 else 'minor'}"),
                    quality=quality(example.chord, words),
                    name=symbol_of(lesson, example),
                )
            )
        )
    kinds = {answer.chord.quality for answer in found if answer.asked or answer.example}
    rows = tuple(
        (say(f"quality.{kind}"), say(f"build.{kind}"), say(f"sign.{kind}"))
        for kind in ("major", "minor", *sorted(kinds - {"major", "minor"}))
    )
    blocks.append(Table(head=(say("worksheet.kind"), say("worksheet.built"), say("worksheet.written")), rows=rows, shares=(3, 6, 2)))
    return blocks


def _table(lesson: Lesson, found: Sequence[Answer]) -> Table:
    say, words = lesson.words.say, lesson.words
    rows = []
    for answer in found:
        if not answer.asked:
            continue
        notes = "–".join(f"({note_name(p, words)})" if p in answer.silent else note_name(p, words) for p in answer.thirds)
        named = (symbol_of(lesson, answer), answer.chord.roman, quality(answer.chord, words))
        rows.append((f"{answer.number}", lesson.number(answer.bar), *named, notes))
    head = tuple(say(f"answers.{name}") for name in ("number", "bar", "name", "numeral", "kind", "notes"))
    return Table(head=head, rows=tuple(rows), shares=(1, 1, 2, 2, 3, 4))


def _chart(lesson: Lesson, found: Sequence[Answer], shown: Sequence[Bars], *, named: bool) -> list[Block]:
    """Every chord that is asked once, on a keyboard: with room for its name for the pupil, named for the teacher."""
    chords: dict[tuple[int, str], Answer] = {}
    for answer in found:
        if answer.asked or answer.example:
            chords.setdefault((answer.chord.root, answer.chord.quality), answer)
    say = lesson.words.say
    part = "-part" if _partly(lesson, shown) else ""
    lead = [] if named else [Text(text=say(f"chart.lead{part}"))]
    return [Heading(text=say(f"chart.title{part}")), *lead, Keyboards(pictures=tuple(_picture(lesson, a, named) for a in chords.values()))]


def _picture(lesson: Lesson, answer: Answer, named: bool) -> Keys:
    pressed = tuple((pitch.midi, note_name(pitch, lesson.words)) for pitch in answer.thirds)
    return Keys(pressed=pressed, caption=symbol(answer.chord, lesson.words, bass=False) if named else "", blank=not named)
