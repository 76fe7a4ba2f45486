"""The stages of a draft one by one, as they are measured: nothing is remembered from one run to the next."""

from __future__ import annotations

import functools
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from lxml import etree

from reduce import analyse, arrange, rulebook
from reduce.model.rules import Rules
from reduce.read import load
from reduce.read.opening import open_score

ROOT = Path(__file__).parents[2]
LEVEL = "advanced"


def forget() -> None:
    """Empty every memory of the package, so that a second run is no quicker than a first."""
    for name, module in list(sys.modules.items()):
        if name.startswith("reduce."):
            for value in list(vars(module).values()):
                if isinstance(value, functools._lru_cache_wrapper):
                    value.cache_clear()


class Stages:
    """The work of each stage on one score, as calls without arguments; each gets what the ones before it made."""

    def __init__(self, path: Path, level: str = LEVEL) -> None:
        from reduce.hands.check import check
        from reduce.notate import condensed, midi, musicxml

        self.path = path
        self.rules: Rules = rulebook.load(level)
        self.data = open_score(path).data
        self.score = load(path, self.rules.instruments)
        self.texture, _ = analyse.texture(self.score, self.rules)
        self.made = arrange.arrange(self.score, self.texture, self.rules, arrange.Request(key="keep"))
        self.acts: dict[str, Callable[[], Any]] = {
            "bare parse": lambda: etree.fromstring(self.data, etree.XMLParser(huge_tree=True)),
            "read": lambda: load(path, self.rules.instruments),
            "analyse": lambda: analyse.texture(self.score, self.rules),
            "fold": lambda: arrange.arrange(self.score, self.texture, self.rules, arrange.Request(key="keep")),
            "check": lambda: check(self.made.draft, self.rules.level, self.rules),
            "notate": lambda: (
                musicxml(self.made.draft, self.rules.level, self.rules),
                condensed(self.score, self.texture),
                midi(self.made.draft),
            ),
        }

    def seconds(self, act: str, times: int = 3) -> float:
        """Processor seconds, the fewest of some runs."""
        best = float("inf")
        for _ in range(times):
            forget()
            began = time.process_time()
            self.acts[act]()
            best = min(best, time.process_time() - began)
        return best


def whole(path: Path, times: int = 3, level: str = LEVEL) -> tuple[float, float]:
    """Processor seconds of a whole process, start to end (the fewest of some), and the most memory it took, in million bytes."""
    best, most = float("inf"), 0.0
    settings = {key: value for key, value in os.environ.items() if key != "PYTHONDONTWRITEBYTECODE"}
    settings["PYTHONPATH"] = str(ROOT)
    for _ in range(times):
        with tempfile.TemporaryDirectory() as folder:
            command = [sys.executable, "-m", "reduce", "draft", str(path), "--level", level, "--no-review", "--out", f"{folder}/draft"]
            # a small process starts it and tells, since a child's memory counts its parent's
            told = subprocess.run([sys.executable, "-c", USED, *command], env=settings, check=True, capture_output=True, text=True)
        seconds, memory = told.stdout.split()[-2:]
        best, most = min(best, float(seconds)), max(most, float(memory))
    return best, most * (1 if sys.platform == "darwin" else 1024) / 1e6


USED = """
import resource, subprocess, sys
subprocess.run(sys.argv[1:], check=True, stdout=subprocess.DEVNULL)
used = resource.getrusage(resource.RUSAGE_CHILDREN)
print(used.ru_utime + used.ru_stime, used.ru_maxrss)
"""


def by_music21(path: Path) -> float:
    """Processor seconds that music21 takes to parse the file and to turn it into chords (Stream.chordify), in a process of its own."""
    code = (
        "import sys, time, warnings; warnings.simplefilter('ignore'); from music21 import converter; began = time.process_time(); "
        "converter.parse(sys.argv[1], forceSource=True).chordify(); print(time.process_time() - began)"
    )
    told = subprocess.run([sys.executable, "-c", code, str(path)], check=True, capture_output=True, text=True)
    return float(told.stdout.split()[-1])
