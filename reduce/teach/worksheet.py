"""The chord worksheet: the piece's chords as note heads, a way to find their names, and the answers apart."""

from __future__ import annotations

from collections.abc import Sequence

from reduce.model.booklet import Block, Heading, Heads, HeadsBar, HeadsSheet, Items, Keyboards, Keys, Music, Section, Table, Text
from reduce.model.record import replace
from reduce.teach.answers import Answer
from reduce.teach.lesson import Lesson
from reduce.teach.naming import note_name, quality, symbol

BLANK = "\u2007" + "." * 14  # no underscores: in words under notes they are drawn as slurs
GOES_ON = "="
BARS = 6  # a line


def worksheet(lesson: Lesson, found: Sequence[Answer]) -> tuple[Section, ...]:
    """The pupil's worksheet and the teacher's answers; nothing where no chord can be asked."""
    if not any(answer.asked for answer in found):
        return ()
    say = lesson.words.say
    numerals = lesson.numerals
    pupil: list[Block] = [Text(text=say("worksheet.lead"), look="bold"), *_how_to(lesson, found)]
    pupil.append(Music(sheet=sheet(lesson, found, answered=False), size=0.85, bars_a_line=BARS, name="worksheet"))
    pupil.append(Text(text=say("worksheet.signs"), look="small"))
    if numerals:
        pupil.append(Text(text=say("worksheet.numerals"), look="small"))
    pupil += _chart(lesson, found, named=False)
    told: list[Block] = [Music(sheet=sheet(lesson, found, answered=True), size=0.85, bars_a_line=BARS, name="worksheet-answers")]
    told.append(_table(lesson, found))
    told.append(Text(text=say("answers.small-print"), look="small"))
    told += _chart(lesson, found, named=True)
    return (
        Section(name="worksheet", title=say("worksheet.title"), readers=("pupil",), blocks=tuple(pupil)),
        Section(name="answers", title=say("answers.title"), readers=("teacher",), blocks=tuple(told)),
    )


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


def _chart(lesson: Lesson, found: Sequence[Answer], *, named: bool) -> list[Block]:
    """Every chord of the piece once, on a keyboard: with room for its name for the pupil, named for the teacher."""
    chords: dict[tuple[int, str], Answer] = {}
    for answer in found:
        if answer.asked or answer.example:
            chords.setdefault((answer.chord.root, answer.chord.quality), answer)
    say = lesson.words.say
    lead = [] if named else [Text(text=say("chart.lead"))]
    return [Heading(text=say("chart.title")), *lead, Keyboards(pictures=tuple(_picture(lesson, a, named) for a in chords.values()))]


def _picture(lesson: Lesson, answer: Answer, named: bool) -> Keys:
    pressed = tuple((pitch.midi, note_name(pitch, lesson.words)) for pitch in answer.thirds)
    return Keys(pressed=pressed, caption=symbol(answer.chord, lesson.words, bass=False) if named else "", blank=not named)
