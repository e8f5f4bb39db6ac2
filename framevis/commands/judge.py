"""Commands that judge: assess a stage, compare two, the check before final torque."""

from __future__ import annotations

import sys
from collections.abc import Generator, Sequence
from contextlib import closing, nullcontext
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter

from framevis.commands.common import AsJson, Draws, Seed, Stage, app, console, load, print_json, progress
from framevis.errors import BadInput, problem
from framevis.reading.door import one_line

if TYPE_CHECKING:
    from framevis.archive import Refused, Summary, Task


@app.command
def assess(
    folder: Path,
    /,
    *more: Annotated[Path, Parameter(help="Further frames; of an archive, a folder that holds frames, all in it.")],
    stage: Stage = None,
    as_json: Annotated[
        bool, Parameter(name="--json", negative="", help="Print one JSON object; for many frames a line each.")
    ] = False,
    calibrated: Annotated[
        bool, Parameter(negative="", help="Fit friction, seal drag and seats to the pull readings, and use them.")
    ] = False,
    draws: Draws = 1000,
    seed: Seed = 0,
) -> None:
    """Say of every bearing block whether it binds, where, and what it suffers from; of many frames a row each."""
    from framevis.archive import Task, frames_in, studied

    folders = frames_in((folder, *more))
    if folders != [folder]:
        _assess_many([Task(each, stage, as_json, calibrated, draws, seed) for each in folders], as_json)
        return
    study, calibration = studied(folder, stage, draws, seed, calibrated)
    if as_json:
        from framevis.report_json import assessment

        print_json(assessment(study, calibration))
        return
    from framevis.report import print_assessment

    print_assessment(study, console(), calibration)


def _assess_many(tasks: Sequence[Task], as_json: bool) -> None:
    """Each frame in a process of its own: JSON as soon as it is there, the table at the end. Exit code 2 where a frame
    can't be used, once all others are done; 130 after Ctrl-C."""
    from framevis.archive import Refused, Summary

    summaries, refused = [], 0
    try:
        for answer in _answers(tasks, as_json):
            if isinstance(answer, Summary):
                summaries.append(answer)
            elif isinstance(answer, Refused):
                refused += 1
    except KeyboardInterrupt:
        sys.exit(130)
    if not as_json:
        from framevis.report_archive import print_archive

        print_archive(summaries, refused, console())
    sys.stdout.flush()
    if refused:
        sys.exit(2)


def _answers(tasks: Sequence[Task], as_json: bool) -> Generator[Summary | Refused | str]:
    """The answers in the order of the tasks; lines of JSON and problems are printed as they come."""
    from framevis.archive import Refused, lost, work_on
    from framevis.processes import in_processes

    out = sys.stdout  # a bar on standard error takes prints to itself
    bar = nullcontext() if as_json and out.isatty() else progress("assessing")
    with closing(in_processes(work_on, tasks, lost)) as answers, bar as tell:
        for done, answer in enumerate(answers, start=1):
            if isinstance(answer, str):
                print(answer, file=out, flush=True)
            elif isinstance(answer, Refused):
                for sentence in answer.problems:
                    print(f"framevis: {one_line(answer.folder)}: {sentence}", file=sys.stderr)
            if tell is not None:
                tell(done, len(tasks))
            yield answer


@app.command
def compare(
    folder: Path, stage_a: str, stage_b: str, /, *, as_json: AsJson = False, draws: Draws = 1000, seed: Seed = 0
) -> None:
    """Say whether a correction between two stages did what it should, and if not, what that may mean."""
    if stage_a == stage_b:
        what = f"{stage_b!r} is named twice"
        raise BadInput(problem("STAGE_B", what, "name the stage before and the stage after"))
    from framevis.comparing.compare import compare as held_against
    from framevis.comparing.report_compare import comparison_object, print_comparison
    from framevis.job import study_of
    from framevis.reading.frame_file import read_frame

    frame = read_frame(folder)
    before, after = (study_of(frame, stage, draws, seed) for stage in (stage_a, stage_b))
    comparison = held_against(before, after)
    if as_json:
        print_json(comparison_object(comparison))
    else:
        print_comparison(comparison, console())


@app.command
def torque(
    folder: Path,
    /,
    *,
    stage: Stage = None,
    as_json: AsJson = False,
    sheet: Annotated[Path | None, Parameter(help="Also write an HTML sheet to print and sign.")] = None,
    draws: Draws = 1000,
    seed: Seed = 0,
) -> None:
    """Say whether the frame is fit for final torque, in which order, to which torques. Exit code 1: not fit."""
    study = load(folder, stage, draws, seed)
    from framevis.torque.check import is_fit
    from framevis.torque.readiness import readiness
    from framevis.torque.report_torque import WIDTH, print_torque, torque_json

    checks = readiness(study)
    if sheet is not None:
        from framevis.page.torque_sheet import write_sheet

        print(write_sheet(study, checks, sheet), file=sys.stderr)
    if as_json:
        print_json(torque_json(study, checks))
    else:
        print_torque(study, checks, console(WIDTH))
    sys.stdout.flush()
    if not is_fit(checks):
        sys.exit(1)
