"""The teaching pack of a draft folder: its files read again, the lesson made of them, printed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from reduce import notate, rulebook, teach
from reduce.accompanying import accompanied
from reduce.analyse.harmony import harmony_of_draft
from reduce.engrave.booklet import Press
from reduce.hands.check import check
from reduce.model.booklet import Booklet, Ensemble, HeadsSheet, Music, Reader, Rhythm
from reduce.model.errors import UsageError
from reduce.model.record import dataclass, replace
from reduce.model.texture import LocalKey
from reduce.notate.ensemble import Stave, ensemble
from reduce.notate.heads import heads_xml
from reduce.notate.rhythm import rhythm_xml
from reduce.reviewing import facts_in, read_draft, rows_in, rules_of, source_in

if TYPE_CHECKING:
    from reduce.model.draft import Draft
    from reduce.model.rules import Rules

PACK = "pack"
READERS: tuple[Reader, ...] = ("pupil", "teacher")


@dataclass(frozen=True, kw_only=True)
class Wishes:
    """How the pack is wanted: ``paper`` a4 or letter, ``language`` of the words, ``numerals`` asked beside the letter names."""

    paper: str = "a4"
    language: str = "en"
    numerals: bool = False


def pack(folder: Path, wishes: Wishes) -> dict[str, bytes]:
    """The files of the pack of a draft folder by name: one PDF a reader, one with all, and the music as MusicXML.

    Everything is read from the folder, so that choices and a person's edits are in it.

    Raises:
        UsageError: where the folder is no draft folder, the draft has no notes, or a wish cannot be met.
    """
    lesson = lesson_in(folder, wishes)
    if not lesson.draft.notes:
        raise UsageError(f"The draft in {folder} has no notes: there is nothing to teach.")
    return printed(lesson, wishes)


def printed(lesson: teach.Lesson, wishes: Wishes) -> dict[str, bytes]:
    """The files of one lesson."""
    made = teach.booklet(lesson)
    press = Press(made, lesson.rules.level, lesson.rules, lambda sheet: written(sheet, lesson.rules), wishes.paper)
    files = {f"{reader}.pdf": press.pdf(reader) for reader in READERS}
    return {**files, "all.pdf": press.pdf(), **music_files(made, press)}


def music_files(made: Booklet, press: Press) -> dict[str, bytes]:
    """The music of a set that has a file of its own, as MusicXML."""
    blocks = (*(block for section in made.sections for block in section.blocks), *made.files)
    return {f"{block.name}.musicxml": press.musicxml(block) for block in blocks if isinstance(block, Music) and block.name}


def lesson_in(folder: Path, wishes: Wishes) -> teach.Lesson:
    """The lesson of a draft folder.  Raises as `pack`."""
    facts = facts_in(folder)
    rules = rules_of(facts)
    draft = replace(read_draft(folder, rules), transposed=int(facts.get("draft", {}).get("transposed_semitones", 0)))
    _, _, source = source_in(folder, draft, rules)
    log = {"fates": rows_in(folder, "notes.jsonl"), "decisions": rows_in(folder, "decisions.jsonl")}
    return accompanied(lesson_of(draft, rules, wishes, facts=facts, source=source, **log))


def _keys_of(rows: Sequence[Mapping[str, Any]], draft: Draft) -> tuple[LocalKey, ...]:
    """The keys that a report tells, from bar to bar; none where it tells of none, or of bars that the draft has not."""
    starts = [draft.bars[row["bar"]].start for row in rows if row["bar"] < len(draft.bars)]
    if not starts or starts[0] or len(starts) < len(rows):
        return ()
    return tuple(
        LocalKey(start=start, end=end, tonic=row["tonic"], mode=row["mode"])
        for row, start, end in zip(rows, starts, [*starts[1:], draft.end], strict=True)
    )


def lesson_of(draft: Draft, rules: Rules, wishes: Wishes, *, facts: Mapping[str, Any] | None = None, **known: Any) -> teach.Lesson:
    """What a draft teaches: its chords, its hard spots; ``known`` as in `reduce.teach.Lesson`.

    Raises:
        UsageError: where numerals are asked of a level that does not read them, or the language has no words.
    """
    level = rules.level
    if wishes.numerals and level.order < rules.whole("teach.chords-to-name.numerals-from"):
        raise UsageError(f"Roman numerals come later than {level.name}: leave --numerals out, or change the rule teach.chords-to-name.")
    told = facts or {}
    span = told.get("settings", {}).get("hand_span_mm")
    own = float(span) if span is not None and float(span) != level.hand_span else None
    rows = told.get("draft", {}).get("keys", ())
    if level.order <= rules.whole("teach.chords-to-name.one-key-up-to"):
        rows = rows[:1]
    chords, keys = harmony_of_draft(draft, rules, _keys_of(rows, draft))
    return teach.Lesson(
        draft=draft,
        chords=chords,
        keys=keys,
        report=check(draft, level, rules, own),
        rules=rules,
        easier=_easier(rules),
        words=teach.words(wishes.language),
        facts=told,
        span=own,
        numerals=wishes.numerals,
        **known,
    )


def written(sheet: Any, rules: Rules) -> bytes:
    """A sheet of the pack as MusicXML."""
    if isinstance(sheet, HeadsSheet):
        return heads_xml(sheet, rules.level, rules)
    if isinstance(sheet, Ensemble):
        staves = [
            Stave(name=player.name, short=player.short, size=player.size, musicxml=written(player.draft, _rules_for(player.draft, rules)))
            for player in sheet.players
        ]
        return ensemble(staves)
    if isinstance(sheet, Rhythm):
        return rhythm_xml(sheet, rules.level, rules)
    return notate.musicxml(sheet, rules.level, rules)


def _rules_for(draft: Draft, rules: Rules) -> Rules:
    """The rules that a player's part is written by: those at hand, or those of its own level."""
    known = draft.level not in ("", rules.level.name) and draft.level in [page.name for page in rulebook.levels()]
    return rulebook.load(draft.level) if known else rules


def _easier(rules: Rules) -> Rules:
    """The rules of the level below; the easiest level has none below itself."""
    below = [page for page in rulebook.levels() if page.order < rules.level.order]
    return rulebook.load(below[-1].name) if below else rules
