"""The command line: the only place that prints, exits or writes. What draws is imported where it is needed."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Annotated

from cyclopts import App, Parameter
from cyclopts.validators import Number

from framevis import __version__
from framevis.errors import BadInput, problem

app = App(
    name="framevis",
    version=__version__,
    help="Shows where measured deviations of a gantry's frame make its carriages bind.",
    help_format="plaintext",
)
app["--help"].group = app["--version"].group = "Other"
Stage = Annotated[str | None, Parameter(help="Stage to look at; default: the latest that has readings.")]
Draws = Annotated[int, Parameter(help="Posterior draws behind every chance.", validator=Number(gte=20, lte=100_000))]
Seed = Annotated[int, Parameter(help="Seed of the draws.", validator=Number(gte=0))]


def load(folder: Path, stage: str | None, draws: int, seed: int):  # type: ignore[no-untyped-def]
    """Read a frame folder and work one stage through."""
    from framevis.frame_file import read_frame
    from framevis.readings import read_stage, stages_present
    from framevis.study import work_through

    frame = read_frame(folder)
    present = stages_present(frame)
    if stage is None and not present:
        raise BadInput(problem("readings", "no stage has readings yet", "put CSV files into readings/STAGE/"))
    return work_through(frame, read_stage(frame, stage or present[-1]), draws, seed)


@app.command
def assess(
    folder: Path,
    *,
    stage: Stage = None,
    as_json: Annotated[bool, Parameter(name="--json", negative="", help="Print one JSON object.")] = False,
    draws: Draws = 1000,
    seed: Seed = 0,
) -> None:
    """Say of every bearing block whether it binds, where, and what it suffers from."""
    study = load(folder, stage, draws, seed)
    if as_json:
        from framevis.report_json import assessment

        print(json.dumps(assessment(study), ensure_ascii=False))
        return
    from rich.console import Console

    from framevis.report import print_assessment

    print_assessment(study, Console(highlight=False, soft_wrap=not sys.stdout.isatty()))


def main() -> None:
    """Run a command; bad input ends with exit code 2 and one sentence a problem on standard error."""
    try:
        app()
    except BadInput as bad:
        for line in bad.problems:
            print(f"framevis: {line}", file=sys.stderr)
        sys.exit(2)
