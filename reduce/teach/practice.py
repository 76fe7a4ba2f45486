"""The page of practice steps: hands apart, the left hand in stages, together, slow before fast."""

from __future__ import annotations

from reduce.model.booklet import Block, Boxes, Heading, Music, Section, Text
from reduce.teach.lesson import Lesson
from reduce.teach.steps import steps
from reduce.teach.tempi import BEATS, beat_quarters, ladder


def practice(lesson: Lesson) -> Section:
    """The way from the tune alone to both hands as printed; each stage on the bars of the piece."""
    say = lesson.words.say
    tempi = ladder(lesson)
    made = steps(lesson)
    blocks: list[Block] = [Text(text=say("practice.lead"))]
    number = 1
    blocks += [_head(lesson, number, "right"), Text(text=say("practice.right-how")), tempo_boxes(lesson, tempi)]
    for step in made:
        number += 1
        how = say(f"practice.{step.kind}-how")
        if step.right != "printed":
            how = f"{how} {say(f'practice.with-{step.right}')}"
        blocks += [_head(lesson, number, step.kind), Text(text=how), tempo_boxes(lesson, tempi[:-1] or tempi)]
        blocks.append(Music(sheet=step.draft, size=0.8, name=f"step-{number}"))
    blocks += [
        _head(lesson, number + 1, "left"),
        Text(text=say(f"practice.left-{'after' if made else 'only'}")),
        tempo_boxes(lesson, tempi),
    ]
    blocks += [_head(lesson, number + 2, "together"), Text(text=say("practice.together-how")), tempo_boxes(lesson, tempi)]
    if made:
        level = lesson.words.get(f"level.{made[0].level}", made[0].level)
        blocks.append(Text(text=say("practice.checked", level=level, tempo=metronome_mark(lesson, tempi[0])), look="small"))
    return Section(name="practice", title=say("practice.title"), readers=("pupil",), blocks=tuple(blocks))


def _head(lesson: Lesson, number: int, name: str) -> Heading:
    return Heading(text=f"{number}  {lesson.words.say(f'practice.{name}')}")


def metronome_mark(lesson: Lesson, tempo: int) -> str:
    """A tempo with the sign of the felt beat: '♩ = 60'."""
    return f"{BEATS.get(beat_quarters(lesson.draft), '')}\u2009=\u2009{tempo}"


def tempo_boxes(lesson: Lesson, tempi: tuple[int, ...]) -> Boxes:
    """Tempi to tick off."""
    return Boxes(items=tuple(metronome_mark(lesson, tempo) for tempo in tempi))
