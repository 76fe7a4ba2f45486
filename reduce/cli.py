"""The command line: arguments, exit status, progress.  Nothing musical happens here.

Results go to stdout, progress and errors to stderr; an error is one sentence.  Libraries and stages are imported where a
command needs them, so that ``reduce --help`` answers at once.
"""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import click

from reduce import __version__
from reduce.cli_pack import pack
from reduce.model.errors import InputError, ReduceError, UsageError, own_fault

LEVEL = "late-beginner"
FOLDER = click.Path(path_type=Path)


def run(arguments: Sequence[str]) -> int:
    """Runs one command and returns the exit status: 0 done, 1 done with failures, 2 wrong usage or rules, 3 unreadable input."""
    try:
        status = cli.main(args=list(arguments), prog_name="reduce", standalone_mode=False)
        sys.stdout.flush()
        return status if isinstance(status, int) else 0
    except ReduceError as error:
        _say(str(error))
        return error.status
    except click.ClickException as error:
        _say(f"{error.format_message().rstrip('.')}. See 'reduce --help'.")
        return 2
    except (click.Abort, KeyboardInterrupt):
        _say("Stopped.")
        return 130
    except BrokenPipeError:  # the reader of our output has seen enough
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except Exception as error:
        _say(_fault(error))
        return 1


def _fault(error: Exception) -> str:
    """Our own mistake, as one sentence; ``REDUCE_DEBUG=1`` shows where it happened in full."""
    if os.environ.get("REDUCE_DEBUG"):
        raise error
    return own_fault(error)


def _say(sentence: str) -> None:
    click.echo(sentence, err=True)


def _progress(sentence: str) -> None:
    if sys.stderr.isatty():
        _say(sentence)


def _width() -> int:
    """Characters a line: the terminal's, at most 100; 88 where output goes to a file."""
    return min(100, shutil.get_terminal_size((88, 24)).columns) if sys.stdout.isatty() else 88


def _echo_json(value: Any) -> None:
    click.echo(json.dumps(value, ensure_ascii=False, indent=2))


@click.group(context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(__version__, prog_name="reduce")
def cli() -> None:
    """Orchestral score in, two-staff piano draft out, with a reason for every choice."""


@cli.command()
@click.argument("scores", metavar="SCORE...", nargs=-1, required=True, type=FOLDER)
@click.option("--level", default=LEVEL, metavar="NAME", show_default=True, help="For whom; 'reduce levels' lists the names.")
@click.option("--together", is_flag=True, help="Several levels, as in --level first-year,intermediate: drafts to be played together.")
@click.option("--bars", metavar="A-B", help="Only these bars, as printed.")
@click.option("--movement", type=click.IntRange(min=1), metavar="N", help="Which movement, if the file holds several.")
@click.option("--key", default="keep", metavar="keep|auto|NAME", show_default=True, help="Keep the key, let the level choose, or name one.")
@click.option("--length", metavar="full|level|A-B", help="How much of the piece; the level may ask for an excerpt.")
@click.option("--span", type=float, metavar="MM", help="Reach of the hand in millimetres, middle of a key to middle of another.")
@click.option("--rules", "rules_dir", type=FOLDER, metavar="DIR", help="Folder with rules of your own, laid over the book's.")
@click.option("--profile", type=FOLDER, metavar="FILE", help="A pupil's profile (TOML), laid over the level.")
@click.option("--choices", type=FOLDER, metavar="FILE", help="Your choices (TOML); without it choices.toml in the draft folder, if there.")
@click.option("--edited", type=FOLDER, metavar="FILE", help="An edited copy of the draft in --out: its changes become your choices.")
@click.option("--out", type=FOLDER, metavar="DIR", help="Folder for the draft; several scores get a folder each inside it.")
@click.option("--replace", is_flag=True, help="Write over a draft that was edited by hand.")
@click.option("--no-review", is_flag=True, help="Leave out the review page and the printed sheet, which have to be engraved.")
@click.option("--paper", type=click.Choice(["a4", "letter"]), default="a4", show_default=True, help="Paper of the printed sheet.")
@click.option("--strict", is_flag=True, help="Exit status 1 where a draft breaks a hard limit of its level.")
@click.option("--jobs", type=click.IntRange(min=1), metavar="N", help="Several scores: how many at a time; else one a core.")
@click.option("--cluster", metavar="ADDRESS", help="Several scores: draft them on the Dask cluster whose scheduler is there.")
@click.option("--anew", is_flag=True, help="Several scores: draft those too that have not changed since the last run.")
@click.option("--json", "as_json", is_flag=True, help="Answer with the reports as JSON.")
def draft(
    scores: tuple[Path, ...], out: Path | None, level: str, replace: bool, strict: bool, as_json: bool,
    jobs: int | None, cluster: str | None, anew: bool, together: bool, **wishes: Any,
) -> int:  # fmt: skip
    """Make piano drafts of one or more scores.

    Of several scores, those that have not changed since the last run (source, rules, choices, wishes, version) are left as they are.

    With --together, one score is drafted for several levels with the bars, tempo and key of the easiest of them, so that a class can play
    all drafts at once; each goes into a folder named after its level.
    """
    from reduce.drafting import DRAFT, Wishes, draft_into, same_file
    from reduce.report import check_folder, draft_folder, verdict

    wishes["reviewed"] = not wishes.pop("no_review")
    if together:
        if len(scores) > 1 or cluster is not None or wishes["edited"] is not None:
            raise UsageError("--together makes drafts of one score: leave out the other scores, --cluster and --edited.")
        asked = Wishes(level="", replace=replace, **wishes)
        return _together(scores[0], out or draft_folder(scores[0], "together"), asked, level, strict, as_json)
    if "," in level:
        raise UsageError(f"--level {level}: several levels of one score need --together.")
    if len(scores) > 1 or cluster is not None:
        if wishes["edited"] is not None:
            raise UsageError("--edited belongs to one draft: name one score.")
        asked = Wishes(level=level, replace=replace, **wishes)
        return _batch(scores, out, asked, strict, as_json, jobs=jobs, cluster=cluster, anew=anew)
    score, target = scores[0], out or draft_folder(scores[0], level)
    replace = replace or (wishes["edited"] is not None and same_file(wishes["edited"], target / DRAFT))  # the edit is read first
    check_folder(target, replace=replace)
    _progress(f"{score.name}: drafting at {level}")
    facts = draft_into(target, score, Wishes(level=level, replace=replace, **wishes), _say)
    if as_json:
        _echo_json({"drafts": [{"folder": str(target), **facts}], "failed": []})
    else:
        click.echo(f"{target}: {verdict(facts)}")
        if "since_last_run" in facts:
            click.echo(f"  Since the last run: {facts['since_last_run']['sentence']}")
    return 1 if strict and facts["counts"]["breaches"]["hard"] else 0


def _together(score: Path, target: Path, wishes: Any, levels: str, strict: bool, as_json: bool) -> int:
    from reduce.drafting import draft_together
    from reduce.report import verdict

    names = [name.strip() for name in levels.split(",")]
    made = draft_together(target, score, wishes, names, _progress)
    folders = [target / facts["settings"]["level"] for facts in made]
    if as_json:
        _echo_json({"drafts": [{"folder": str(folder), **facts} for folder, facts in zip(folders, made, strict=True)], "failed": []})
    else:
        for folder, facts in zip(folders, made, strict=True):
            click.echo(f"{folder}: {verdict(facts)}")
    return 1 if strict and any(facts["counts"]["breaches"]["hard"] for facts in made) else 0


def _batch(scores: tuple[Path, ...], out: Path | None, wishes: Any, strict: bool, as_json: bool, **how: Any) -> int:
    from reduce import batch, batch_shown
    from reduce.report import draft_folder

    tasks = [batch.Task(score=score, folder=(out or Path()) / draft_folder(score, wishes.level)) for score in scores]
    targets = [task.folder for task in tasks]
    twice = {target for target in targets if targets.count(target) > 1}
    if twice:
        raise UsageError(f"Two scores would be written to {sorted(twice)[0]}: draft them one by one with --out.")
    made = {one.task: one for one in batch_shown.progress(batch.draft_all(tasks, wishes, **how), tasks, sys.stderr)}
    outcomes = [made[task] for task in tasks]
    if as_json:
        _echo_json(batch_shown.as_json(outcomes))
    else:
        for line in batch_shown.table(outcomes, _width()):
            click.echo(line)
        for one in outcomes:
            if one.why:
                _say(one.why if one.task.score.name in one.why else f"{one.task.score}: {one.why}")
    broken = any(one.facts and one.facts["counts"]["breaches"]["hard"] for one in outcomes)
    return 1 if any(one.facts is None for one in outcomes) or (strict and broken) else 0


@cli.command()
@click.argument("score", type=FOLDER)
@click.option("--movement", type=click.IntRange(min=1), metavar="N", help="Which movement, if the file holds several.")
@click.option("--rules", "rules_dir", type=FOLDER, metavar="DIR", help="Folder with rules of your own (instruments).")
@click.option("--json", "as_json", is_flag=True, help="Answer as JSON.")
def parts(score: Path, movement: int | None, rules_dir: Path | None, as_json: bool) -> None:
    """Tell what was read: the parts, how each sounds, what was not understood."""
    from reduce import read, rulebook
    from reduce.drafting import naming
    from reduce.report import intake, intake_text

    instruments = rulebook.load(LEVEL, overlay=rules_dir).instruments
    with naming(score):
        heard = read.load(score, instruments, movement=movement)
    if as_json:
        _echo_json(intake(heard))
    else:
        names = {key: instrument.name for key, instrument in instruments.items()}
        click.echo(intake_text(heard, names, _width()), nl=False)


@cli.command()
@click.argument("score", metavar="DRAFT", type=FOLDER)
@click.option("--level", default=LEVEL, metavar="NAME", show_default=True, help="The level to judge by.")
@click.option("--span", type=float, metavar="MM", help="Reach of the hand in millimetres, middle of a key to middle of another.")
@click.option("--rules", "rules_dir", type=FOLDER, metavar="DIR", help="Folder with rules of your own, laid over the book's.")
@click.option("--profile", type=FOLDER, metavar="FILE", help="A pupil's profile (TOML), laid over the level.")
@click.option("--strict", is_flag=True, help="Exit status 1 where a hard limit is broken.")
@click.option("--json", "as_json", is_flag=True, help="Answer as JSON.")
def check(score: Path, level: str, span: float | None, rules_dir: Path | None, profile: Path | None, strict: bool, as_json: bool) -> int:
    """Judge any two-staff piano score against a level: breaches, hard spots, load."""
    from reduce import read, rulebook
    from reduce.drafting import checked, naming
    from reduce.read.piano import as_draft
    from reduce.report import judgement, judgement_text

    rules = rulebook.load(level, overlay=rules_dir, profile=profile, span_mm=span)
    with naming(score):
        sheet = as_draft(read.load(score, rules.instruments))
    if sheet is None:
        raise InputError(f"{score.name} is no piano piece on two staves: check judges drafts, 'reduce draft' makes them.")
    facts = judgement(checked(sheet, rules, span))
    if as_json:
        _echo_json(facts)
    else:
        click.echo(judgement_text(facts, _width()), nl=False)
    return 1 if strict and any(breach["hard"] for breach in facts["breaches"]) else 0


@cli.command()
@click.argument("name", required=False)
@click.option("--rules", "rules_dir", type=FOLDER, metavar="DIR", help="Folder with rules of your own, laid over the book's.")
@click.option("--profile", type=FOLDER, metavar="FILE", help="A pupil's profile (TOML), laid over the level NAME.")
@click.option("--json", "as_json", is_flag=True, help="Answer as JSON.")
def levels(name: str | None, rules_dir: Path | None, profile: Path | None, as_json: bool) -> None:
    """List the levels, or every setting of one with unit, meaning and source."""
    from reduce import rulebook
    from reduce.rulebook import shown

    if name is None:
        if profile is not None:
            raise UsageError("A profile lies over one level: name it, as in 'reduce levels intermediate --profile FILE'.")
        pages = rulebook.levels(rules_dir)
        if as_json:
            _echo_json([shown.level_values(page) for page in pages])
        else:
            click.echo(shown.levels_text(pages, _width()), nl=False)
        return
    page = rulebook.level_page(name, overlay=rules_dir, profile=profile)
    if as_json:
        _echo_json(shown.level_values(page))
    else:
        click.echo(shown.level_text(page, _width()), nl=False)


@cli.command()
@click.argument("folder", metavar="DIR", type=FOLDER)
@click.option("--bar", metavar="N", help="Only what touches this bar, as printed.")
@click.option("--kind", metavar="K", help="Only this kind of decision (melody, bass, chord, rhythm ...).")
@click.option("--full", is_flag=True, help="Add figures, what was refused, the rule and the setting that would change it.")
@click.option("--all", "everything", is_flag=True, help="Small decisions too.")
@click.option("--json", "as_json", is_flag=True, help="Answer as JSON.")
def why(folder: Path, bar: str | None, kind: str | None, full: bool, everything: bool, as_json: bool) -> None:
    """Tell the reasons behind a draft, the doubtful ones first."""
    from reduce.report import read_log, select, why_text

    rows = select(read_log(folder), bar, kind)
    if as_json:
        _echo_json(rows)
    else:
        click.echo(why_text(rows, _width(), full=full, everything=everything or bar is not None or kind is not None), nl=False)


@cli.command()
@click.argument("before", metavar="DIR_A", type=FOLDER)
@click.argument("after", metavar="DIR_B", type=FOLDER)
@click.option("--page", type=FOLDER, metavar="FILE", help="Also write a page (HTML) with both drafts under each other.")
@click.option("--json", "as_json", is_flag=True, help="Answer as JSON.")
def compare(before: Path, after: Path, page: Path | None, as_json: bool) -> None:
    """Tell what differs between two drafts, bar by bar, and what caused it."""
    from reduce.report import comparison_text, write_file
    from reduce.reviewing import compare_folders, compare_page

    told, sides = compare_folders(before, after)
    if page is not None:
        write_file(page, compare_page(told, sides, before, after).encode())
    if as_json:
        _echo_json(told)
    else:
        click.echo(comparison_text(told, _width()), nl=False)


@cli.command()
@click.argument("folder", metavar="DIR", type=FOLDER)
@click.option("--serve", is_flag=True, help="Show the page from a server on this machine, so that it can write your choices.")
@click.option("--port", type=click.IntRange(0, 65535), default=0, metavar="N", help="With --serve: which port (any that is free).")
def review(folder: Path, serve: bool, port: int) -> None:
    """Make the review page of a draft folder again, or serve it."""
    from reduce.report import refresh
    from reduce.reviewing import review_page, review_server

    if not serve:
        refresh(folder, "review.html", review_page(folder).encode())
        click.echo(str(folder / "review.html"))
        return
    with review_server(folder, port) as server:
        click.echo(server.url)
        sys.stdout.flush()
        _say("Open this address in a browser of this machine; Ctrl-C ends it.")
        with contextlib.suppress(KeyboardInterrupt):
            server.serve_forever()


cli.add_command(pack)
