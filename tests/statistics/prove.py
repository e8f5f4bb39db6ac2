"""The statistics of framevis over random frames: `python tests/statistics/prove.py [FRAMES] [--seed N] [--out FOLDER]`.

Draws frames, measures them, lets framevis assess them and holds what it says against what is true: coverage of its
intervals, calibration of its chances, wrong verdicts. Prints tables; with --out writes RESULTS.md and calibration.png.
500 frames take about six minutes on two cores that have nothing else to do.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from datetime import date
from functools import partial
from pathlib import Path
from time import perf_counter

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
sys.path.append(str(Path(__file__).parents[1]))

from draw_results import draw
from results import MEANING, Table, all_tables, mixture
from rich.console import Console
from rich.progress import track
from rich.table import Table as RichTable
from trial import Trial, run_trial

FRAMES, DRAWS, CHUNK = 500, 400, 5


def trials_of(frames: int, seed: int) -> list[Trial]:
    """All trials, on all cores, one process a core and some frames at a time."""
    run = partial(run_trial, seed, draws=DRAWS)
    with ProcessPoolExecutor(os.cpu_count()) as pool:
        return list(track(pool.map(run, range(frames), chunksize=CHUNK), "Frames", total=frames))


def shown(table: Table) -> RichTable:
    made = RichTable(title=table.title, title_justify="left")
    for number, heading in enumerate(table.heading):
        made.add_column(heading, justify="right" if number else "left")
    for row in table.rows:
        made.add_row(*row)
    return made


def commit() -> str:
    """The commit that was tried, as far as git tells."""
    command = ["git", "-C", str(Path(__file__).parent), "rev-parse", "--short", "HEAD"]
    done = subprocess.run(command, check=False, capture_output=True, text=True)
    return done.stdout.strip() or "unknown"


def markdown(trials: Sequence[Trial], tables: Sequence[Table], seed: int, tried: str, seconds: float) -> str:
    """The results as one Markdown file."""
    lines = [
        "# Is framevis calibrated? Random frames against their true shapes",
        f"`python tests/statistics/prove.py {len(trials)} --seed {seed}`, {date.today():%Y-%m-%d}, commit {tried}, "
        f"{DRAWS} draws a frame, {seconds:.0f} s. Written by the command; all values computed, none published.",
        "![Reliability curves and coverage](calibration.png)",
        MEANING,
        f"Frames: {mixture(trials)}.",
    ]
    return "\n\n".join([*lines, *(table.markdown() for table in tables)])


def main() -> None:
    parser = argparse.ArgumentParser(description="Statistics of framevis over random frames with known true shapes.")
    parser.add_argument("frames", nargs="?", type=int, default=FRAMES)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--out", type=Path, help="folder for RESULTS.md and calibration.png")
    given = parser.parse_args()
    start, tried = perf_counter(), commit()
    trials = trials_of(given.frames, given.seed)
    tables = all_tables(trials)
    console = Console(width=200)
    for table in tables:
        console.print(shown(table))
    console.print(mixture(trials))
    if given.out is not None:
        given.out.mkdir(parents=True, exist_ok=True)
        text = markdown(trials, tables, given.seed, tried, perf_counter() - start)
        (given.out / "RESULTS.md").write_text(text, encoding="utf-8")
        draw(trials, given.out / "calibration.png")


if __name__ == "__main__":
    main()
