"""A draft from a score file to its folder, or several that are played together: the run, its report and page, choices and edits."""

from __future__ import annotations

import contextlib
import hashlib
import tempfile
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from reduce import pipeline, rulebook
from reduce.hands.check import check
from reduce.model.errors import InputError, UsageError
from reduce.model.record import as_values, dataclass, replace
from reduce.report import (
    breach_row,
    check_folder,
    decisions_jsonl,
    load_row,
    notes_jsonl,
    report,
    report_json,
    spot_row,
    tidy,
    write_file,
    write_folder,
    write_folders,
)

if TYPE_CHECKING:
    from reduce.arrange import Frame
    from reduce.model.draft import Draft
    from reduce.model.rules import Rules
    from reduce.pipeline import Result
    from reduce.report.compare import Side

CHOICES = "choices.toml"
DRAFT = "draft.musicxml"
TOGETHER = "together.json"


@dataclass(frozen=True, kw_only=True)
class Wishes:
    """What is asked of a draft; names and meaning as in `reduce.draft`.

    ``choices`` is the arranger's file (without it the draft folder's own, if there), ``edited`` a changed copy of the draft in the
    folder, ``reviewed`` whether page and sheet are made, ``replace`` whether a folder edited by hand may be written over.
    """

    level: str
    bars: str | None = None
    movement: int | None = None
    key: str = "keep"
    length: str | None = None
    span: float | None = None
    rules_dir: Path | None = None
    profile: Path | None = None
    choices: Path | None = None
    edited: Path | None = None
    reviewed: bool = True
    paper: str = "a4"
    replace: bool = False

    @property
    def told(self) -> dict[str, Any]:
        """The wishes that stand in the report."""
        return {name: getattr(self, name) for name in ("bars", "movement", "key", "length")}


def draft_into(target: Path, score: Path, wishes: Wishes, tell: Callable[[str], None]) -> dict[str, Any]:
    """Makes the draft of a score in the folder ``target``; returns its report, with what changed since the last run.

    ``tell`` is given sentences about edits on the way.  Raises the errors of `reduce.draft` and of the draft folder.
    """
    tidy(target)
    made = _made(target, score, wishes, tell)
    if made.entries:
        write_file(wishes.choices or target / CHOICES, made.entries)
    write_folder(target, made.files, replace=wishes.replace)
    return made.facts


def draft_together(target: Path, score: Path, wishes: Wishes, levels: Sequence[str], tell: Callable[[str], None]) -> list[dict[str, Any]]:
    """Drafts of one excerpt that can be played together, each in a folder named after its level inside ``target``, all or none.

    Bars, metre, tempo and key are those of the easiest level's draft.  Returns their reports, the easiest first; ``target`` gets a file
    that names what they share.  Raises the errors of `draft_into`.
    """
    known = [page.name for page in rulebook.levels(wishes.rules_dir)]
    ordered = sorted(dict.fromkeys(levels), key=lambda name: rulebook.load(name, overlay=wishes.rules_dir).level.order)
    if len(ordered) < 2:
        raise UsageError(f"--together needs two levels or more, as in --level {known[0]},{known[-1]}.")
    for name in ordered:
        check_folder(target / name, replace=wishes.replace)
        tidy(target / name)
    made: list[_Made] = []
    for name in ordered:
        tell(f"{score.name}: drafting at {name}")
        frame = made[0].result.frame if made else None
        made.append(_made(target / name, score, replace(wishes, level=name), tell, together=True, frame=frame))
    write_folders({target / name: one.files for name, one in zip(ordered, made, strict=True)}, replace=wishes.replace)
    write_file(target / TOGETHER, _shared(made[0].result, ordered))
    return [one.facts for one in made]


def _shared(result: Result, levels: Sequence[str]) -> bytes:
    """What drafts that are played together share, as a file."""
    bars, frame = result.draft.bars, result.frame
    assert frame is not None
    facts = {
        "source": result.score.file_name, "levels": [*levels], "bars": [bars[0].number, bars[-1].number], "metre": str(bars[-1].meter),
        "key_fifths": bars[0].key.fifths, "transposed_semitones": frame.shift, "quarters_a_minute": frame.quarters,
    }  # fmt: skip
    return report_json(facts)


@dataclass(frozen=True, kw_only=True)
class _Made:
    """A draft before it is written: its files, its report, what goes into the choices file ('' = nothing new)."""

    result: Result
    files: dict[str, bytes]
    facts: dict[str, Any]
    entries: bytes


def _made(
    target: Path, score: Path, wishes: Wishes, tell: Callable[[str], None], *, together: bool = False, frame: Frame | None = None
) -> _Made:
    """The draft that belongs into ``target``, as far as it can be made without writing there."""
    own = wishes.choices or target / CHOICES
    known = own if wishes.choices is not None or own.exists() else None
    before = _before(target)
    with _aside() as fresh:
        entries = b""
        if wishes.edited is not None:
            entries = _with_edits(wishes.edited, target, known, wishes, lambda: _run(score, target, wishes, known), tell)
            write_file(fresh / CHOICES, entries)
        chosen = fresh / CHOICES if entries else known
        result = _run(score, target, wishes, chosen, together=together, frame=frame)
        facts = _report(result, wishes, chosen)
        files = {**_files(result), "report.json": report_json(facts)}
        if wishes.reviewed or before is not None:
            for file, content in files.items():
                write_file(fresh / file, content)
        if wishes.reviewed:
            files["draft.pdf"] = result.pdf(wishes.paper)
            from reduce.reviewing import review_page

            # made from the very files that will lie beside it
            files["review.html"] = review_page(fresh).encode()
        return _Made(result=result, files=files, facts={**facts, **_since(before, fresh)}, entries=entries)


def _before(target: Path) -> Side | None:
    """The draft that is there, to tell what changes; the way back into a folder is loaded only where there is one."""
    if not (target / "report.json").exists():
        return None
    from reduce.reviewing import last_run

    return last_run(target)


def _since(before: Side | None, fresh: Path) -> dict[str, Any]:
    if before is None:
        return {}
    from reduce.reviewing import since_last_run

    return since_last_run(before, fresh)


@contextlib.contextmanager
def _aside() -> Iterator[Path]:
    """A folder for what is not finished.  Raises `UsageError` where there is no room."""
    try:
        made = tempfile.TemporaryDirectory(ignore_cleanup_errors=True)
    except OSError as error:
        raise UsageError(f"Cannot write into the folder for temporary files ({error.strerror}): make room, or set TMPDIR.") from None
    with made as name:
        yield Path(name)


def _run(score: Path, target: Path, wishes: Wishes, choices: Path | None, *, together: bool = False, frame: Frame | None = None) -> Result:
    """The pipeline; locked bars come from the draft that is in the folder."""
    with naming(score):
        return pipeline.draft(
            score,
            level=wishes.level,
            bars=wishes.bars,
            movement=wishes.movement,
            key=wishes.key,
            length=wishes.length,
            span_mm=wishes.span,
            rules_dir=wishes.rules_dir,
            profile=wishes.profile,
            choices=choices,
            earlier=target / DRAFT if choices is not None else None,
            together=together,
            frame=frame,
        )


@contextlib.contextmanager
def naming(score: Path) -> Iterator[None]:
    """A score that cannot be read is named in the sentence."""
    try:
        yield
    except InputError as error:
        if score.name in str(error):
            raise
        raise InputError(f"{score.name}: {error}") from None


def same_file(one: Path, other: Path) -> bool:
    """Whether two paths lead to one file that is there."""
    return one.exists() and other.exists() and one.samefile(other)


def _with_edits(
    copy: Path, target: Path, choices: Path | None, wishes: Wishes, again: Callable[[], Result], tell: Callable[[str], None]
) -> bytes:
    """The choices file with the edits of a copy of the draft behind what it says already.

    A draft that was edited in its own place is compared with what the tool wrote, which ``again`` makes once more.
    """
    said = choices.read_text(encoding="utf-8") if choices is not None else ""
    names = [page.name for page in rulebook.levels(wishes.rules_dir)]
    first = 1 + len(rulebook.read_choices(choices, names)) if choices is not None else 1
    with tempfile.TemporaryDirectory() as name:
        base = target / DRAFT
        if same_file(copy, base):
            base = Path(name, DRAFT)
            base.write_bytes(again().musicxml)
        from reduce.reviewing import copy_edits

        found = copy_edits(base, copy, target, level=wishes.level, first=first)
    slurs = sum(choice.action in ("slur", "no-slur") for choice in found.choices)
    notes = len(found.choices) - slurs
    tell(f"{copy.name}: {notes} edited note{'s' * (notes != 1)} and {slurs} slur{'s' * (slurs != 1)} are now among your choices.")
    for sentence in found.left_behind:
        tell(sentence)
    return "\n".join(filter(None, (said.rstrip("\n") + "\n" if said else "", *map(rulebook.choice_text, found.choices)))).encode()


def _report(result: Result, wishes: Wishes, choices: Path | None) -> dict[str, Any]:
    judged = checked(result.draft, result.rules, wishes.span)
    made_from = {
        "choices_sha256": hashlib.sha256(choices.read_bytes()).hexdigest() if choices is not None else None,
        "paper": wishes.paper if wishes.reviewed else None,
    }
    return report(
        result.score,
        result.draft,
        result.rules,
        result.decisions,
        result.fates,
        result.problems,
        wishes={**wishes.told, **made_from},
        breaches=[breach_row(breach) for breach in judged["breaches"]],
        load=[load_row(bar) for bar in judged["load"]],
        spots=[spot_row(spot) for spot in judged["spots"]],
        keys=result.texture.keys,
    )


def checked(sheet: Draft, rules: Rules, span: float | None) -> dict[str, Any]:
    """What the hands say to a piano piece, as plain values."""
    return as_values(check(sheet, rules.level, rules, span))


def _files(result: Result) -> dict[str, bytes]:
    return {
        DRAFT: result.musicxml,
        "condensed.musicxml": result.condensed,
        "decisions.jsonl": decisions_jsonl(result.decisions, result.score, result.draft.notes),
        "notes.jsonl": notes_jsonl(result.fates, result.score, result.texture.roles),
        "draft.mid": result.midi,
    }
