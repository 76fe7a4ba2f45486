"""The whole set in the order in which it is handed out."""

from __future__ import annotations

from reduce.model.booklet import Booklet, Music, Section
from reduce.teach.answers import answers
from reduce.teach.lesson import Lesson
from reduce.teach.practice import practice
from reduce.teach.worksheet import worksheet


def booklet(lesson: Lesson) -> Booklet:
    """Every page for pupil and teacher, in the order of use: the piece, the way to play it, its chords."""
    draft, words = lesson.draft, lesson.words
    found = answers(lesson)
    level = lesson.rules.level
    return Booklet(
        title=draft.title or words.say("sheet.title"),
        author=draft.composer,
        line=words.say(
            "page.line", bars=_sentence(lesson.bars_named(0, len(draft.bars) - 1)), level=words.get(f"level.{level.name}", level.title)
        ),
        foot=" · ".join(text for text in (draft.composer, draft.source, draft.rights) if text),
        caution=words.say("page.caution"),
        language=words.language,
        page_word=words.say("page.word"),
        sections=(_sheet(lesson), practice(lesson), *worksheet(lesson, found)),
    )


def _sheet(lesson: Lesson) -> Section:
    draft = lesson.draft
    music = Music(sheet=draft, bars_a_line=lesson.rules.level.bars_a_line)
    return Section(name="sheet", title=lesson.words.say("sheet.title"), readers=("pupil", "teacher"), blocks=(music,))


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]
