"""A batch on a cluster: a scheduler and two workers on this machine, one of them killed in the middle."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from reduce.cli import run
from tests.batch.test_batch import OWN, held, until
from tests.safety.families import many_bars

pytest.importorskip("distributed", reason="the extra 'cluster' is not installed")
pytestmark = pytest.mark.skipif(os.name != "posix", reason="signals of POSIX")

COUNT = 8


@pytest.fixture
def cluster(tmp_path: Path) -> Iterator[tuple[str, list[subprocess.Popen[bytes]]]]:
    """The address of a scheduler, and two workers of one thread each."""
    told = tmp_path / "scheduler.json"
    quiet = {"env": OWN, "stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL, "cwd": tmp_path}
    place = ("--host", "127.0.0.1", "--no-dashboard")
    scheduler = subprocess.Popen(
        [sys.executable, "-m", "distributed.cli.dask_scheduler", "--port", "0", *place, "--scheduler-file", str(told)], **quiet
    )
    started = [scheduler]
    try:
        until(lambda: told.exists() and told.stat().st_size > 0)
        address = json.loads(told.read_text(encoding="utf-8"))["address"]
        work = [sys.executable, "-m", "distributed.cli.dask_worker", address, "--nthreads", "1", "--no-nanny", *place]
        workers = [subprocess.Popen(work, **quiet) for _ in range(2)]
        started += workers
        yield address, workers
    finally:
        for process in started:
            process.kill()
            process.wait()


def test_every_score_is_drafted_once(cluster: tuple[str, list[subprocess.Popen[bytes]]], tmp_path: Path) -> None:
    """One of two workers is killed when the first draft is there: the other does its work; the bytes are those of a run here."""
    address, workers = cluster
    scores = []
    for number in range(COUNT):
        scores.append(f"score-{number}.musicxml")
        (tmp_path / scores[-1]).write_text(many_bars(40 + number, 3), encoding="utf-8")
    how = ("--out", "all", "--no-review", "--json", "--level", "advanced", "--cluster", address)
    command = [sys.executable, "-m", "reduce", "draft", *scores, *how]
    process = subprocess.Popen(command, env=OWN, cwd=tmp_path, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    until(lambda: len(list((tmp_path / "all").glob("score-*"))) >= 2)
    workers[0].send_signal(signal.SIGKILL)
    told, faults = process.communicate(timeout=120)
    assert (0, []) == (process.returncode, [line for line in faults.decode().splitlines() if "mistake" in line or "Traceback" in line])
    answer = json.loads(told)
    assert [] == answer["failed"]
    assert [f"all/score-{number}-advanced" for number in range(COUNT)] == [row["folder"] for row in answer["drafts"]]
    assert len(list((tmp_path / "all").glob("score-*"))) == COUNT
    assert 0 == run(["draft", str(tmp_path / scores[0]), "--out", str(tmp_path / "here"), "--no-review", "--level", "advanced"])
    assert held(tmp_path / "here") == held(tmp_path / "all" / "score-0-advanced")


def test_no_cluster_answers(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    """A wrong address is a sentence."""
    monkeypatch.setattr("reduce.batch._PATIENCE", 0.5)
    (tmp_path / "a.musicxml").write_text(many_bars(1), encoding="utf-8")
    for address in ("tcp://127.0.0.1:9", "nowhere at all"):
        assert 2 == run(["draft", str(tmp_path / "a.musicxml"), "--out", str(tmp_path / "x"), "--cluster", address])
        told = capsys.readouterr()
        assert ("", 1) == (told.out, told.err.count("\n"))
        assert f"No cluster answers at {address}" in told.err


def test_a_cluster_without_workers(
    cluster: tuple[str, list[subprocess.Popen[bytes]]], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Nobody to do the work is a sentence too."""
    address, workers = cluster
    for worker in workers:
        worker.kill()
        worker.wait()
    monkeypatch.setattr("reduce.batch._PATIENCE", 2.0)
    (tmp_path / "a.musicxml").write_text(many_bars(1), encoding="utf-8")
    assert 2 == run(["draft", str(tmp_path / "a.musicxml"), "--out", str(tmp_path / "x"), "--cluster", address])
    assert f"The cluster at {address} has no worker" in capsys.readouterr().err
