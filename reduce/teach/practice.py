"""The page of practice steps: hands apart, the left hand in stages, together, slow before fast."""

from __future__ import annotations

from collections.abc import Sequence

from reduce.hands.touch import HANDS
from reduce.model.booklet import Block, Boxes, Heading, Music, Section, Text
from reduce.teach.excerpts import Bars, excerpts
from reduce.teach.lesson import Lesson
from reduce.teach.steps import PRACTICE, Step, steps
from reduce.teach.tempi import BEATS, beat_quarters, ladder

_SIZE = 0.8  # share of the level's staff
_FOUR = 4  # bars of a line, where a phrase is printed


def practice(lesson: Lesson) -> Section:
    """The way from the tune alone to both hands as printed; each stage on the bars of the piece."""
    say = lesson.words.say
    tempi = ladder(lesson)
    made = steps(lesson)
    parts = printed_bars(lesson, made) if made else ()
    blocks: list[Block] = [Text(text=say("practice.lead"))]
    number = 1
    blocks += [_head(lesson, number, "right"), Text(text=say("practice.right-how")), tempo_boxes(lesson, tempi)]
    for step in made:
        number += 1
        how = say(f"practice.{step.kind}-how")
        if step.right != "printed":
            how = f"{how} {say(f'practice.with-{step.right}')}"
        blocks += [_head(lesson, number, step.kind), Text(text=how), tempo_boxes(lesson, tempi[:-1] or tempi)]
        blocks += _music(lesson, step, parts, f"step-{number}")
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


def printed_bars(lesson: Lesson, made: Sequence[Step]) -> tuple[Bars, ...]:
    """The bars (indices) of the steps that are printed, the same of each: of a long piece those that ask most, of bars alike only one."""
    rules, bars = lesson.rules, lesson.draft.bars
    most, size = rules.whole("teach.practice-length.bars"), rules.whole("teach.practice-length.phrase")
    if len(bars) <= most:
        return ((0, len(bars) - 1),)
    shapes = []
    for bar in bars:
        struck = [note for hand in HANDS for note in lesson.struck(hand, bar.start, bar.end)]
        shapes.append(tuple((note.hand, note.onset - bar.start, note.midi) for note in struck))
    changed = [{lesson.bar_at(note.onset) for note in step.draft.notes if note.decision == PRACTICE} for step in made]
    simpler = set.intersection(*changed) or set.union(*changed)
    heavy = {load.bar: load.total for load in lesson.report.load}

    def gain(here: Bars, taken: Sequence[Bars]) -> float:
        if (len(taken) + 1) * size > most:
            return 0.0
        known = {shapes[k] for first, last in taken for k in range(first, last + 1)}
        return sum(heavy.get(k, 0.0) for k in range(here[0], here[1] + 1) if k in simpler and shapes[k] not in known)

    return excerpts(lesson, size, gain)


def _music(lesson: Lesson, step: Step, parts: Sequence[Bars], name: str) -> list[Block]:
    """A step, whole or in parts; the file has all bars."""
    if len(parts) == 1:
        return [Music(sheet=step.draft, size=_SIZE, name=name)]
    words = lesson.words
    told = words.several([lesson.range_of(*part) for part in parts])
    blocks: list[Block] = [Text(text=words.say("practice.part", bars=told), look="small")]
    for k, (first, last) in enumerate(parts):
        place = lesson.bars_named(first, last)
        label = place[:1].upper() + place[1:]
        blocks.append(Music(sheet=step.draft, first=first, last=last, size=_SIZE, bars_a_line=_FOUR, label=label, name="" if k else name))
    return blocks


def _head(lesson: Lesson, number: int, name: str) -> Heading:
    return Heading(text=f"{number}  {lesson.words.say(f'practice.{name}')}")


def metronome_mark(lesson: Lesson, tempo: int) -> str:
    """A tempo with the sign of the felt beat: '♩ = 60'."""
    return f"{BEATS.get(beat_quarters(lesson.draft), '')}\u2009=\u2009{tempo}"


def tempo_boxes(lesson: Lesson, tempi: tuple[int, ...]) -> Boxes:
    """Tempi to tick off."""
    return Boxes(items=tuple(metronome_mark(lesson, tempo) for tempo in tempi))
