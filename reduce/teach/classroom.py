"""The class set: who plays what, what holds for all, how to bring the players together, and the score of all."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from reduce.model.booklet import Block, Booklet, Ensemble, Heading, Items, Music, Player, Section, Table, Text
from reduce.model.draft import Draft
from reduce.model.record import dataclass
from reduce.model.texture import Chord
from reduce.teach.company import Clash, clashes, strong_beats, united
from reduce.teach.lesson import Lesson
from reduce.teach.naming import note_name, symbol
from reduce.teach.pack import bound
from reduce.teach.practice import metronome_mark
from reduce.teach.teacher import home_mode, key_named
from reduce.teach.tempi import final_beats, ladder

_STAFF, _SMALLER = 5.0, 4.0  # millimetres of a staff in the score: up to three players, and more of them
_FEW = 3


@dataclass(frozen=True, kw_only=True)
class Company:
    """Lessons of one excerpt, the easiest first, and where they clash."""

    lessons: tuple[Lesson, ...]
    beats: int
    found: tuple[Clash, ...]

    @classmethod
    def of(cls, lessons: Sequence[Lesson], harmony: Callable[[Draft], Sequence[Chord]]) -> Company:
        """``harmony`` finds the chords of a draft.  Raises ValueError where the drafts have other bars, keys or tempi."""
        whole = united([lesson.draft for lesson in lessons])
        return cls(
            lessons=tuple(lessons),
            beats=sum(1 for _ in strong_beats(whole)),
            found=clashes(whole, harmony(whole), lessons[-1].source),
        )


def class_booklet(group: Company) -> Booklet:
    """What the teacher of the class needs, the score of all players in it."""
    hardest = group.lessons[-1]
    return bound(hardest, hardest.words.say("class.title"), (_plan(group),))


def _plan(group: Company) -> Section:
    """Who plays what, the way together, what to listen for, the score."""
    first, words = group.lessons[0], group.lessons[0].words
    say = words.say
    rows = []
    for lesson in group.lessons:
        hands = [lesson.hand("right"), lesson.hand("left")]
        told = [_range(lesson, [note.midi for note in notes]) for notes in hands]
        rows.append((_level(lesson), *told, ""))
    key = key_named(first.draft.bars[0].key.fifths, home_mode(group.lessons[-1]), words)
    tempi = ladder(first)
    place = first.bars_named(0, len(first.draft.bars) - 1)
    shared = say("class.shared", bars=place[:1].upper() + place[1:], key=key, tempo=metronome_mark(first, round(final_beats(first))))
    blocks: list[Block] = [
        Text(text=shared),
        Table(head=tuple(say(f"class.{name}") for name in ("level", "right", "left", "who")), rows=tuple(rows), shares=(4, 4, 4, 6)),
        Heading(text=say("class.rehearse")),
        Items(items=tuple(say(f"class.step-{k}", tempo=metronome_mark(first, tempi[0])) for k in range(1, 6)), mark="number"),
        Heading(text=say("class.sound")),
        Text(text=say("class.clean", n=group.beats) if not group.found else words.count("class.clash", len(group.found), of=group.beats)),
    ]
    if group.found:
        blocks.append(Items(items=tuple(_told(group, clash) for clash in group.found)))
    return Section(name="class", title=say("class.title"), readers=("teacher",), blocks=(*blocks, *_score(group)))


def _level(lesson: Lesson) -> str:
    level = lesson.rules.level
    return lesson.words.get(f"level.{level.name}", level.title)


def _range(lesson: Lesson, keys: Sequence[int]) -> str:
    """'C4–G5', lowest and highest note of a hand."""
    if not keys:
        return "–"
    by_key = {note.midi: note.pitch for note in lesson.draft.notes}
    ends = [by_key[min(keys)], by_key[max(keys)]]
    return "–".join(f"{note_name(pitch, lesson.words)}{pitch.octave}" for pitch in ends)


def _told(group: Company, clash: Clash) -> str:
    lesson = group.lessons[clash.player]
    return lesson.words.say(
        "class.against",
        bar=lesson.number(clash.bar),
        beat=clash.beat,
        level=_level(lesson),
        hand=lesson.words.say(f"hand.{clash.note.hand}"),
        note=note_name(clash.note.pitch, lesson.words),
        chord=symbol(clash.chord, lesson.words, bass=False),
    )


def _score(group: Company) -> tuple[Block, ...]:
    """All drafts under each other, the easiest on top."""
    hardest = group.lessons[-1]
    players = tuple(Player(name=_level(lesson), short=str(k), draft=lesson.draft) for k, lesson in enumerate(group.lessons, 1))
    staff = _STAFF if len(players) <= _FEW else _SMALLER
    music = Music(sheet=Ensemble(players=players), size=staff / hardest.rules.level.staff_height, name="class")
    say = hardest.words.say
    return (Heading(text=say("class.score")), Text(text=say("class.score-lead")), music)
