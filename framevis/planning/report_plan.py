"""`framevis shims` for the person at the machine, as JSON, and as entries for frame.toml.

The JSON is section 6 of the design to the letter; what is added comes beside. Takes a plan.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from rich.console import Console
from rich.table import Table

from framevis.comparing.report_compare import block_object, expected_rows, reading_said
from framevis.comparing.say_compare import amount
from framevis.expected import ExpectedSweep, expected
from framevis.frame import Frame, RailSpot
from framevis.plan import Plan
from framevis.planning.handling import handling
from framevis.planning.plan_runs import (
    legend_lines,
    proof,
    push_runs,
    push_said,
    runs,
    screws_said,
    todo,
    where,
)
from framevis.report import indented, mark_of, plain_table, shown
from framevis.report_json import FORMAT
from framevis.say import CAUTION, length, thickness
from framevis.study import Study

TOLD_UM, TOLD_MRAD = 2.0, 0.05  # smaller changes of a reading aren't told
NO_WORK = "Nothing to fit."


def plan_object(plan: Plan) -> dict[str, Any]:
    """The object that `shims --json` prints. A spot's layers are those that lie there afterwards."""
    return {
        "format": FORMAT,
        "frame": plan.before.frame.name,
        "stage": plan.before.stage,
        "spots": [
            {
                "spot": str(fitting.spot),
                "layers_um": list(fitting.layers_um),
                "total_um": fitting.total_um,
                "now_um": list(fitting.now_um),
            }
            for fitting in plan.fittings
        ],
        "pieces": plan.pieces,
        "pushes": [{"rail": push.rail, "screw": push.screw, "push_um": push.push_um} for push in plan.pushes],
        "used": [{"thickness_um": size, "count": count} for size, count in plan.used],
        "left": [{"thickness_um": size, "count": count} for size, count in plan.left],
        "before": {"blocks": _blocks(plan.before)},
        "after": {"blocks": _blocks(plan.after)},
        "worst_misfit_um": {"before": plan.worst_um[0], "after": plan.worst_um[1], "bound": plan.bound_um},
        "optimal": plan.optimal,
        "expected": expected_rows(readings_after(plan)),
        "says": [*plan.says, *handling(plan), CAUTION],
    }


def _blocks(study: Study) -> list[dict[str, Any]]:
    return [
        {"carriage": carriage.name, **block_object(block)} for carriage in study.carriages for block in carriage.blocks
    ]


def readings_after(plan: Plan) -> tuple[ExpectedSweep, ...]:
    """What every sweep of the stage should read after the plan."""
    return expected(plan.before, plan.after.deviations.known)


def entries(plan: Plan, stage: str) -> str:
    """The `[[shim]]` and `[[push]]` entries that enter a plan into frame.toml as done by a stage."""
    parts = []
    for fitting in plan.fittings:
        if fitting.now_um:
            parts.append(f'# {fitting.spot}: add out_at = "{stage}" to its entries so far')
        if fitting.layers_um:
            parts.append(f'[[shim]]\nstage = "{stage}"\nspot = "{fitting.spot}"\nthickness_um = {fitting.total_um:g}')
    parts += [
        f'[[push]]\nstage = "{stage}"\nspot = "{push.rail}@{push.screw}"\npush_um = {push.push_um:g}'
        for push in plan.pushes
    ]
    return "\n\n".join(parts)


def print_plan(plan: Plan, console: Console) -> None:
    frame = plan.before.frame
    console.print(f"[bold]{shown(frame.name)} · stage {shown(plan.before.stage)} · shim plan[/bold]\n")
    if plan.fittings or plan.pushes:
        for line in legend_lines(frame, plan):
            console.print(f"[bold]{shown(line)}.[/bold]")
        console.print(shown(proof(frame, plan)) + "\n")
    for text in plan.says:
        console.print(f"[bold]{shown(text)}[/bold]")
    if plan.fittings or plan.pushes:
        _work(plan, console)
        console.print(_verdicts(plan))
        console.print(_pieces(plan))
        _readings(plan, console)
    console.print(f"\n[bold]{CAUTION}[/bold]")


def _work(plan: Plan, console: Console) -> None:
    frame = plan.before.frame
    table = plain_table("In the order of work", ("", "under", "screws", "from", "to", "what", "spots"), 6)
    step = 0
    for run in runs(plan.fittings):
        step += 1
        under, screws, edge = where(run)
        spot = run.first.spot
        ends = _ends(frame, spot.rail, run.screws) if isinstance(spot, RailSpot) else ("", "")
        what = f"{todo(frame, run)}, {edge}"
        table.add_row(f"{step}", shown(under), screws, *ends, shown(what), f"{len(run.fittings)}")
    for pushed in push_runs(plan.pushes):
        step += 1
        what = f"push up to {push_said(frame, pushed.largest_um)}"
        ends = _ends(frame, pushed.rail, pushed.screws)
        table.add_row(f"{step}", shown(pushed.rail), screws_said(pushed.screws), *ends, what, f"{len(pushed.pushes)}")
    console.print(table)
    for text in handling(plan):
        indented(console, shown(text))
    for rail in dict.fromkeys(push.rail for push in plan.pushes):
        pushes = "  ".join(f"{p.screw}: {push_said(frame, p.push_um)}" for p in plan.pushes if p.rail == rail)
        indented(console, f"Rail {shown(rail)}, screw by screw: {pushes}")
    console.print()


def _ends(frame: Frame, rail: str, screws: tuple[int, int]) -> tuple[str, str]:
    at = frame.rail(rail).screw_stations_mm
    low, high = (length(frame, float(at[screw - 1])) for screw in screws)
    return low, high


def _verdicts(plan: Plan) -> Table:
    names = ("block", "before", "after", "drag × before", "after", "tight before", "after")
    table = plain_table("Blocks before and after, the same draws", names, 3)
    for was, will in zip(plan.before.carriages, plan.after.carriages, strict=True):
        for one, other in zip(was.blocks, will.blocks, strict=True):
            table.add_row(
                shown(f"{was.name}/{one.name}"),
                *(mark_of(block.verdict) for block in (one, other)),
                *(f"{block.drag_ratio.max():.1f}" for block in (one, other)),
                *(f"{100 * block.p_tight:.0f} %" for block in (one, other)),
            )
    return table


def _pieces(plan: Plan) -> str:
    frame, used = plan.before.frame, dict(plan.used)
    told = [
        f"{used[size]} of {thickness(frame, size)} in the machine"
        + ("" if left is None else f", {left} left in the box")
        for size, left in plan.left
    ]
    return f"\n[bold]Pieces after it:[/bold] {shown('; '.join(told))}. Count what is left on the bench."


@dataclass(frozen=True)
class Told:
    """The reading of a sweep that changes most."""

    sweep: ExpectedSweep
    at: int
    now: float


def _readings(plan: Plan, console: Console) -> None:
    """Of every sweep that notices, the reading that changes most."""
    frame = plan.before.frame
    told = changed_most(plan)
    if not told:
        console.print("\nNo reading of this stage's sweeps would notice: block shims show in how the carriage runs.")
        return
    table = plain_table(
        "What the sweeps should read afterwards, where they change most", ("sweep", "at", "now", "then", "± (1 u)"), 1
    )
    for each in told:
        sweep = each.sweep.sweep
        table.add_row(
            shown(sweep.name),
            length(frame, float(each.sweep.station_mm[each.at])),
            reading_said(frame, sweep, each.now),
            reading_said(frame, sweep, float(each.sweep.reading[each.at])),
            amount(frame, sweep, float(each.sweep.u[each.at])),
        )
    console.print()
    console.print(table)
    console.print("Instruments set up as before. All stations are in the JSON and on the page.")


def changed_most(plan: Plan) -> list[Told]:
    found = []
    for now, then in zip(expected(plan.before, plan.before.deviations.known), readings_after(plan), strict=True):
        at = int(np.argmax(np.abs(then.reading - now.reading)))
        least = TOLD_MRAD if then.sweep.is_angle else TOLD_UM
        if abs(then.reading[at] - now.reading[at]) >= least:
            found.append(Told(then, at, float(now.reading[at])))
    return found
