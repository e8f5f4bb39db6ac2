"""The command that plans a correction."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

from cyclopts import Parameter

from framevis.commands.common import AsJson, Draws, Seed, Stage, app, console, load, print_json, progress
from framevis.errors import BadInput, problem


@app.command
def shims(
    folder: Path,
    /,
    *,
    stage: Stage = None,
    only: Annotated[
        Literal["blocks", "rails"] | None, Parameter(help="Shim only at the blocks, or only under the rails.")
    ] = None,
    anyway: Annotated[bool, Parameter(negative="", help="Plan for the least misfit even where all runs free.")] = False,
    entries: Annotated[
        str | None, Parameter(help="Print the plan as entries for frame.toml, as done by this stage.")
    ] = None,
    as_json: AsJson = False,
    draws: Draws = 1000,
    seed: Seed = 0,
) -> None:
    """Plan which shims go where, out of those at hand, how far to push rails, and what to read afterwards."""
    if entries is not None and as_json:
        raise BadInput(problem("--entries", "goes not with --json", "ask for one of the two"))
    study = load(folder, stage, draws, seed)
    stages = study.frame.stages
    if entries is not None and (entries not in stages or stages.index(entries) <= stages.index(study.stage)):
        todo = f"name one that is listed in frame.toml after {study.stage!r}, or add it there"
        raise BadInput(problem("--entries", f"{entries!r} is no later stage", todo))
    from framevis.planning.plan_limits import plan_for
    from framevis.planning.report_plan import entries as as_entries
    from framevis.planning.report_plan import plan_object, print_plan

    with progress("choosing shims") as tell:
        plan = plan_for(study, only, anyway=anyway, tell=tell)
    if as_json:
        print_json(plan_object(plan))
    elif entries is not None:
        print(as_entries(plan, entries))
    else:
        print_plan(plan, console())
