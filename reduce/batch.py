"""Many scores: drafted side by side, each in its own folder; what has not changed since the last run is left as it is."""

from __future__ import annotations

import gc
import hashlib
import json
import tempfile
import time
import zipfile
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any, Literal

from reduce import __version__, rulebook
from reduce.drafting import CHOICES, Wishes, draft_into
from reduce.model.errors import ReduceError, UsageError, own_fault
from reduce.model.record import dataclass, replace
from reduce.report import check_folder, intact, tidy

Ending = Literal["drafted", "unchanged", "refused", "failed"]

AHEAD = 2  # scores handed out for each job, so that none waits for work
PAGES = ("review.html", "draft.pdf")
_SHORTEST, _LONGEST = 2_000, 300_000_000  # bytes; even an empty score takes its time, and what is longer is no score
_PATIENCE = 30.0  # seconds to wait for a cluster or for its first worker


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """One score and the folder its draft goes to."""

    score: Path
    folder: Path

    @property
    def weight(self) -> int:
        """How much there is to read, in bytes unpacked: what the estimated end of a batch goes by."""
        if not self.score.is_file():
            return _SHORTEST
        try:
            with zipfile.ZipFile(self.score) as archive:
                size = sum(member.file_size for member in archive.infolist())
        except (OSError, ValueError, NotImplementedError, zipfile.BadZipFile):
            size = self.score.stat().st_size
        return min(max(size, _SHORTEST), _LONGEST)


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What became of a score: ``facts`` is the report of its draft, ``why`` the sentence where there is none."""

    task: Task
    ending: Ending
    seconds: float
    facts: dict[str, Any] | None = None
    why: str = ""


def draft_all(
    tasks: Sequence[Task], wishes: Wishes, *, jobs: int | None = None, cluster: str | None = None, anew: bool = False
) -> Iterator[Outcome]:
    """Drafts every score and yields each outcome as soon as it is there, in no fixed order.

    ``jobs`` processes of this machine work side by side (None: as many as it has cores), or the workers of the Dask scheduler at
    ``cluster``, which must see the same files under the same names.  ``anew`` drafts what has not changed too.  A score that fails,
    or takes its process down, does not stop the others.

    Raises:
        UsageError, RuleError: where level, rules or profile are wrong, or the cluster does not answer.
    """
    rules = rulebook.load(wishes.level, overlay=wishes.rules_dir, profile=wishes.profile, span_mm=wishes.span)
    known = None if anew else rules.fingerprint
    if cluster is not None:
        return _on_cluster(cluster, tasks, wishes, known)
    return _here(tasks, wishes, known, jobs)


def draft_one(task: Task, wishes: Wishes, fingerprint: str | None = None, room: str | None = None) -> Outcome:
    """One score of a batch.

    ``fingerprint`` of the rules, where a draft that they would make again may stay as it is; ``room`` is a folder for unfinished files
    of this process, which whoever started it clears away.
    """
    began, collecting = time.perf_counter(), gc.isenabled()
    tempfile.tempdir = room or tempfile.tempdir

    def outcome(ending: Ending, facts: dict[str, Any] | None = None, why: str = "") -> Outcome:
        return Outcome(task=task, ending=ending, seconds=time.perf_counter() - began, facts=facts, why=why)

    gc.disable()  # as for a single score: collecting costs a fifth of a run
    try:
        tidy(task.folder)
        facts = up_to_date(task, wishes, fingerprint) if fingerprint is not None else None
        if facts is not None:
            return outcome("unchanged", facts)
        check_folder(task.folder, replace=wishes.replace)
        return outcome("drafted", draft_into(task.folder, task.score, wishes, lambda _: None))
    except ReduceError as error:
        return outcome("refused", why=str(error))
    except MemoryError:
        return outcome("failed", why=f"{task.score.name}: there is not enough memory; name fewer --jobs.")
    except Exception as error:
        return outcome("failed", why=own_fault(error))
    finally:
        if collecting:
            gc.enable()
        gc.collect()


def up_to_date(task: Task, wishes: Wishes, fingerprint: str) -> dict[str, Any] | None:
    """The report in the folder, where a run would make the same again: same source, rules, wishes, choices and version, no file touched."""
    try:
        facts = json.loads((task.folder / "report.json").read_bytes())
        settings = dict(facts["settings"])
        choices = wishes.choices or task.folder / CHOICES
        was = (facts["tool"]["version"], settings["level"], settings["rules_sha256"], settings.get("choices_sha256"))
        now = (__version__, wishes.level, fingerprint, _sha256(choices) if choices.exists() else None)
        same = (
            was == now
            and all(settings.get(name) == wish for name, wish in wishes.told.items())
            and (not wishes.reviewed or settings.get("paper") == wishes.paper)
            and intact(task.folder, ("draft.musicxml", "report.json", *(PAGES if wishes.reviewed else ())))
            and task.score.is_file()
            and facts["source"]["sha256"] == _sha256(task.score)
        )
    except (OSError, ValueError, KeyError, TypeError):
        return None
    return facts if same else None


def _sha256(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def _here(tasks: Sequence[Task], wishes: Wishes, known: str | None, jobs: int | None) -> Iterator[Outcome]:
    """The processes of this machine."""
    from joblib import Parallel, cpu_count, delayed
    from joblib.externals.loky import get_reusable_executor
    from joblib.externals.loky.process_executor import BrokenProcessPool

    jobs = min(jobs or cpu_count(), len(tasks))
    if jobs <= 1:
        yield from (draft_one(task, wishes, known) for task in tasks)
        return
    waiting = {task.folder: task for task in tasks}
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as room:
        try:
            while waiting:
                made = Parallel(n_jobs=jobs, backend="loky", batch_size=1, pre_dispatch=AHEAD * jobs, return_as="generator_unordered")
                outcomes = made(delayed(draft_one)(task, wishes, known, room) for task in [*waiting.values()])
                try:
                    for outcome in outcomes:
                        del waiting[outcome.task.folder]
                        yield outcome
                except BrokenProcessPool:  # one of the scores handed out took its process down: find it, then go on
                    get_reusable_executor(kill_workers=True).shutdown(wait=True)  # none of the others writes any more
                    for task in list(waiting.values())[: AHEAD * jobs]:
                        del waiting[task.folder]
                        yield _alone(task, wishes, known)
        finally:
            for folder in waiting:  # stopped on the way: nothing half-done stays
                tidy(folder)


def _alone(task: Task, wishes: Wishes, known: str | None) -> Outcome:
    """A score in a process of its own, which it may take down."""
    from joblib.externals.loky import ProcessPoolExecutor
    from joblib.externals.loky.process_executor import BrokenProcessPool

    began = time.perf_counter()
    try:
        with ProcessPoolExecutor(max_workers=1) as process:
            outcome: Outcome = process.submit(draft_one, task, wishes, known).result()
            return outcome
    except BrokenProcessPool:
        tidy(task.folder)
        why = f"{task.score.name}: the process that drafted it was ended from outside, perhaps for want of memory; try it by itself."
        return Outcome(task=task, ending="failed", seconds=time.perf_counter() - began, why=why)


def _on_cluster(address: str, tasks: Sequence[Task], wishes: Wishes, known: str | None) -> Iterator[Outcome]:
    """The workers of a Dask scheduler; what a lost worker had in hand, another one drafts."""
    try:
        import distributed
    except ImportError:
        raise UsageError("--cluster needs the extra 'cluster': pip install 'orchestral-reduction-assistant[cluster]'.") from None
    try:
        connect: Any = distributed.Client
        client = connect(address, timeout=_PATIENCE, set_as_default=False)
    except (OSError, ValueError, TypeError):
        raise UsageError(f"No cluster answers at {address}: name the address of its scheduler, such as tcp://192.168.1.5:8786.") from None
    try:
        client.wait_for_workers(1, timeout=_PATIENCE)
    except TimeoutError:
        client.close()
        raise UsageError(f"The cluster at {address} has no worker: start one, as in 'dask worker {address}'.") from None
    return _through(client, tasks, wishes, known)


def _through(client: Any, tasks: Sequence[Task], wishes: Wishes, known: str | None) -> Iterator[Outcome]:
    from joblib import Parallel, delayed, parallel_config

    wishes = replace(wishes, **{name: path.absolute() for name in ("rules_dir", "profile", "choices") if (path := getattr(wishes, name))})
    absolute = [Task(score=task.score.absolute(), folder=task.folder.absolute()) for task in tasks]
    named = dict(zip((task.folder for task in absolute), tasks, strict=True))
    with client, parallel_config(backend="dask", client=client, wait_for_workers_timeout=_PATIENCE):
        made = Parallel(batch_size=1, return_as="generator_unordered", pre_dispatch="all")
        for outcome in made(delayed(draft_one)(task, wishes, known) for task in absolute):
            yield replace(outcome, task=named[outcome.task.folder])
