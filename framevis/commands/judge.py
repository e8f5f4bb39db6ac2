"""Commands that judge: assess a stage, compare two, the check before final torque."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

from cyclopts import Parameter

from framevis.commands.common import AsJson, Draws, Seed, Stage, app, console, load, print_json
from framevis.errors import BadInput, problem


@app.command
def assess(
    folder: Path,
    /,
    *,
    stage: Stage = None,
    as_json: AsJson = False,
    calibrated: Annotated[
        bool, Parameter(negative="", help="Fit friction, seal drag and seats to the pull readings, and use them.")
    ] = False,
    draws: Draws = 1000,
    seed: Seed = 0,
) -> None:
    """Say of every bearing block whether it binds, where, and what it suffers from."""
    calibration = None
    if calibrated:
        from framevis.pulls.calibrate import calibrated_study
        from framevis.reading.frame_file import read_frame

        study, calibration = calibrated_study(read_frame(folder), stage, draws, seed)
    else:
        study = load(folder, stage, draws, seed)
    if as_json:
        from framevis.report_json import assessment

        print_json(assessment(study, calibration))
        return
    from framevis.report import print_assessment

    print_assessment(study, console(), calibration)


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
