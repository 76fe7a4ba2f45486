"""The stages in their order: read, analyse, arrange, notate."""

from __future__ import annotations

import json
from functools import cached_property
from pathlib import Path

from reduce import analyse, arrange, rulebook
from reduce.model.choice import Choice
from reduce.model.decision import Decision, Fate
from reduce.model.draft import Draft
from reduce.model.problem import Problem
from reduce.model.record import dataclass, replace
from reduce.model.rules import Rules
from reduce.model.score import Score
from reduce.model.texture import Texture
from reduce.read import as_draft, load

TOP_LEVEL = 6  # from here on a playable piano piece comes through as it is


@dataclass(frozen=True, kw_only=True)
class Result:
    """A finished draft with everything that explains it.  The written forms are made when they are asked for."""

    score: Score
    texture: Texture
    draft: Draft
    decisions: tuple[Decision, ...]
    fates: tuple[Fate, ...]
    problems: tuple[Problem, ...]
    rules: Rules
    frame: arrange.Frame | None = None  # bars, metre, tempo and key, which other drafts may share

    @cached_property
    def musicxml(self) -> bytes:
        """The draft as MusicXML 4.0."""
        from reduce.notate import musicxml

        return musicxml(self.draft, self.rules.level, self.rules)

    @cached_property
    def condensed(self) -> bytes:
        """The source at sounding pitch on few staves, as MusicXML 4.0."""
        from reduce.notate import condensed

        return condensed(self.score, self.texture)

    @cached_property
    def midi(self) -> bytes:
        """The draft as a standard MIDI file."""
        from reduce.notate import midi

        return midi(self.draft)

    def pdf(self, paper: str = "a4") -> bytes:
        """The draft as a printed sheet, 'a4' or 'letter'."""
        from reduce.engrave import pdf

        return pdf(self.musicxml, self.rules.level, paper, self.rules)


def draft(
    path: str | Path,
    *,
    level: str = "late-beginner",
    bars: str | None = None,
    movement: int | None = None,
    key: str = "keep",
    length: str | None = None,
    span_mm: float | None = None,
    rules_dir: str | Path | None = None,
    profile: str | Path | None = None,
    choices: str | Path | None = None,
    earlier: str | Path | None = None,
    together: bool = False,
    frame: arrange.Frame | None = None,
) -> Result:
    """Make a piano draft of a score.

    Args:
        path: the score file.
        level: a level of the rule book.
        bars: printed bar numbers, 'A-B'.
        movement: which of several movements in one file, from 1.
        key: 'keep', 'auto' or a key name such as 'G' or 'a minor'.
        length: 'full', 'level' or 'A-B'.
        span_mm: the pupil's hand, millimetres between thumb and little finger.
        rules_dir: rules laid over the book's own.
        profile: a pupil's profile.
        choices: the arranger's choices file.
        earlier: the draft (MusicXML) that locked bars are taken from; transposition as in the report beside it.
        together: the draft is one of several that are played together.
        frame: what they share, from the draft of the easiest of their levels.

    Raises:
        InputError, RuleError, UsageError: as `reduce.model.errors` tells.
    """
    rules = rulebook.load(
        level,
        overlay=Path(rules_dir) if rules_dir is not None else None,
        profile=Path(profile) if profile is not None else None,
        span_mm=span_mm,
    )
    score = load(path, rules.instruments, movement=movement)
    texture, heard = analyse.texture(score, rules)
    decided = _choices(Path(choices), rules_dir) if choices is not None else ()
    before = _earlier(Path(earlier), rules) if earlier is not None else None
    request = arrange.Request(bars=bars, key=key, length=length, choices=decided, earlier=before, together=together, frame=frame)
    made = None
    if not together and not decided and rules.level.order >= TOP_LEVEL and key == "keep" and bars is None and length in (None, "full"):
        piano = as_draft(score)
        made = arrange.unchanged(piano, score, rules) if piano is not None else None
    if made is None:
        written = arrange.version(score, heard, texture, rules, request)
        score, heard, made = written.score, written.heard, written.made
    return Result(
        score=score,
        texture=texture,
        draft=made.draft,
        decisions=arrange.foremost((*made.decisions, *arrange.told_inside(heard, score, made)), rules),
        fates=made.fates,
        problems=(*score.problems, *made.problems),
        rules=rules,
        frame=made.frame,
    )


def _choices(path: Path, rules_dir: str | Path | None) -> tuple[Choice, ...]:
    names = [page.name for page in rulebook.levels(Path(rules_dir) if rules_dir is not None else None)]
    return rulebook.read_choices(path, names)


def _earlier(path: Path, rules: Rules) -> Draft | None:
    """A draft made before, read back with the transposition that its report tells."""
    if not path.exists():
        return None
    found = as_draft(load(path, rules.instruments))
    report = path.with_name("report.json")
    if found is None or not report.exists():
        return found
    facts = json.loads(report.read_text(encoding="utf-8"))
    level = str(facts.get("settings", {}).get("level", ""))
    return replace(found, level=level, transposed=int(facts.get("draft", {}).get("transposed_semitones", 0)))
