"""The whole set in the order in which it is handed out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from reduce.model.booklet import Block, Booklet, Music, Section
from reduce.teach.answers import answers
from reduce.teach.duet import duet_page, hint
from reduce.teach.left_out import left_out
from reduce.teach.lesson import Lesson
from reduce.teach.listening import task, told
from reduce.teach.makings import named
from reduce.teach.practice import practice
from reduce.teach.spots import hard_spots
from reduce.teach.teacher import teachers_page
from reduce.teach.warmups import warm_ups
from reduce.teach.worksheet import name_line, whole_sheet, worksheet


def booklet(lesson: Lesson) -> Booklet:
    """Every page for pupil and teacher, in the order of use: the piece, warm-ups, the way to play it, hard spots, chords."""
    found = answers(lesson)
    sections = (
        _sheet(lesson),
        warm_ups(lesson),
        practice(lesson),
        hard_spots(lesson),
        teachers_page(lesson),
        *duet_page(lesson),
        *worksheet(lesson, found),
        *_orchestra(lesson),
    )
    ready = _handed_out(_with_answers(lesson, sections, (*named(lesson), *told(lesson))))
    return replace(bound(lesson, level_of(lesson), ready), files=whole_sheet(lesson, found))


def level_of(lesson: Lesson) -> str:
    """The name of the level, as it stands on the pages."""
    level = lesson.rules.level
    return lesson.words.get(f"level.{level.name}", level.title)


def bound(lesson: Lesson, level: str, sections: Sequence[Section]) -> Booklet:
    """Sections as a set whose pages tell title, bars, ``level``, people, source and the caution."""
    draft, words = lesson.draft, lesson.words
    return Booklet(
        title=draft.title or words.say("sheet.title"),
        author=draft.composer,
        line=words.say("page.line", bars=_sentence(lesson.bars_named(0, len(draft.bars) - 1)), level=level),
        foot=" · ".join(text for text in (draft.composer, draft.source, draft.rights) if text),
        caution=words.say("page.caution"),
        language=words.language,
        page_word=words.say("page.word"),
        sections=tuple(sections),
    )


def _handed_out(sections: Sequence[Section]) -> tuple[Section, ...]:
    """The pupil's pages first, then those for the teacher alone."""
    return tuple(sorted(sections, key=lambda section: section.readers == ("teacher",)))


def _with_answers(lesson: Lesson, sections: Sequence[Section], more: Sequence[Block]) -> tuple[Section, ...]:
    """The sections with further answers on the answer page, or on one of their own where the worksheet has none."""
    if not more:
        return tuple(sections)
    if not any(section.name == "answers" for section in sections):
        sections = (*sections, Section(name="answers", title=lesson.words.say("answers.title"), readers=("teacher",), blocks=()))
    return tuple(replace(one, blocks=(*one.blocks, *more)) if one.name == "answers" else one for one in sections)


def _orchestra(lesson: Lesson) -> tuple[Section, ...]:
    """Listening, and what was left out; nothing where the folder has no log."""
    blocks = (*task(lesson), *left_out(lesson))
    return (Section(name="orchestra", title=lesson.words.say("orchestra.title"), readers=("pupil",), blocks=blocks),) if blocks else ()


def _sheet(lesson: Lesson) -> Section:
    draft = lesson.draft
    music = Music(sheet=draft, bars_a_line=lesson.rules.level.bars_a_line)
    blocks = (name_line(lesson), music, *hint(lesson))
    return Section(name="sheet", title=draft.title or lesson.words.say("sheet.title"), readers=("pupil", "teacher"), blocks=blocks)


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]
