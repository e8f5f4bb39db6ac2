"""Whole processes with a clock: seconds of the wall, of all cores (not part of the test run).

Byte code is kept, as it is for a user, but in a folder of the benchmark's own; `warm` fills it.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from tempfile import TemporaryDirectory
from time import perf_counter

import numpy as np

BYTE_CODE = TemporaryDirectory(prefix="framevis_benchmark_")
KEPT = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
ENVIRONMENT = {**KEPT, "OPENBLAS_NUM_THREADS": "1", "PYTHONPYCACHEPREFIX": BYTE_CODE.name}
DEMO = str(Path(__file__).parents[2] / "demo_frames" / "glazing_table")


@dataclass(frozen=True)
class Ran:
    """A process that ended well: seconds until it had, seconds of all cores, what it said on standard output."""

    wall_s: float
    cpu_s: float
    said: str


def run(*words: str) -> Ran:
    """Run Python with some words."""
    before, start = resource.getrusage(resource.RUSAGE_CHILDREN), perf_counter()
    done = subprocess.run([sys.executable, *words], capture_output=True, encoding="utf-8", check=True, env=ENVIRONMENT)
    wall, after = perf_counter() - start, resource.getrusage(resource.RUSAGE_CHILDREN)
    return Ran(wall, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime, done.stdout)


@lru_cache
def warm() -> None:
    """Have all byte code there before anything is measured, that of the command's text and of its JSON."""
    for word in ("--json", "--draws=1"):
        run("-m", "framevis", "assess", DEMO, word)


def in_turns(rounds: int, **works: Callable[[], Ran]) -> dict[str, list[Ran]]:
    """Everything once, then again, so that a busy spell of the machine falls on all alike."""
    runs: dict[str, list[Ran]] = {name: [] for name in works}
    for _ in range(rounds):
        for name, work in works.items():
            runs[name].append(work())
    return runs


def least(runs: Sequence[Ran], of: str = "wall_s") -> float:
    return float(min(getattr(each, of) for each in runs))


def median(runs: Sequence[Ran], of: str = "wall_s") -> float:
    return float(np.median([getattr(each, of) for each in runs]))


def table(heads: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """A table in Markdown."""
    return "\n".join("| " + " | ".join(cells) + " |" for cells in (heads, ["---"] * len(heads), *rows))
