"""`framevis compare` for the person at the machine, and as JSON; and what sweeps should read, as JSON.

The JSON is section 6 of the design to the letter; what is added comes beside.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy as np
from rich.console import Console
from rich.table import Table

from framevis.comparing.cause_search import Explanation
from framevis.comparing.compare import Comparison, HeldSweep
from framevis.comparing.say_compare import amount, sentences
from framevis.expected import ExpectedSweep
from framevis.frame import Frame, Sweep
from framevis.report import mark_of, plain_table, shown
from framevis.report_json import FORMAT
from framevis.say import CAUTION, length
from framevis.verdicts import BlockAssessment


def comparison_object(comparison: Comparison) -> dict[str, Any]:
    """The object that `compare --json` prints."""
    return {
        "format": FORMAT,
        "stages": [comparison.before.stage, comparison.after.stage],
        "as_expected": comparison.as_expected,
        "blocks": [
            {
                "carriage": change.carriage,
                "name": change.after.name,
                "before": block_object(change.before),
                "after": block_object(change.after),
            }
            for change in comparison.blocks
        ],
        "readings": [row for sweep in comparison.sweeps for row in _reading_rows(sweep)],
        "sweeps": [
            {
                "sweep": sweep.readings.sweep.name,
                "readings": sweep.readings.values.size,
                "chi2": round(sweep.fit.chi2, 4),
                "freedom": sweep.fit.freedom,
                "p": sweep.fit.p,
                "as_expected": sweep.as_expected,
            }
            for sweep in comparison.sweeps
        ],
        "cause": None if comparison.explanation is None else _cause_object(comparison.explanation),
        "says": [*sentences(comparison), CAUTION],
    }


def _cause_object(found: Explanation) -> dict[str, Any]:
    """The single cause that explains most; `settles`: all that isn't as expected."""
    cause = found.cause
    screws = {"first_screw": cause.first, "last_screw": cause.last, "part": cause.part} if cause.first else {}
    function = {} if cause.function is None else {"function": cause.function}
    return {"kind": cause.kind, "where": cause.where, **screws, **function, "settles": found.settles}


def block_object(block: BlockAssessment) -> dict[str, Any]:
    """A block in short, as before and after a correction."""
    return {
        "name": block.name,
        "verdict": block.verdict,
        "p_tight": block.p_tight,
        "p_binding": block.p_binding,
        "drag_ratio_max": round(float(block.drag_ratio.max()), 6),
    }


def _reading_rows(sweep: HeldSweep) -> list[dict[str, Any]]:
    """Every reading; of a level in mrad, with null for µm."""
    rows, readings = [], sweep.readings
    for i in np.argsort(readings.line, kind="stable"):
        values = {"expected": sweep.expected[i], "expected_u": sweep.u[i], "found": readings.values[i]}
        rows.append(
            {
                "sweep": readings.sweep.name,
                "station_mm": round(float(readings.station_mm[i]), 6),
                **_in_unit(readings.sweep, values),
                "agrees": bool(sweep.agrees[i]),
                "standardised": round(float(sweep.standardised[i]), 4),
                "aside": bool(sweep.aside[i]),
                "line": int(readings.line[i]),
            }
        )
    return rows


def expected_rows(sweeps: Iterable[ExpectedSweep]) -> list[dict[str, Any]]:
    """What every sweep should read after a plan: `expected` of `shims --json`."""
    return [
        {
            "sweep": each.sweep.name,
            "station_mm": round(float(each.station_mm[i]), 6),
            **_in_unit(each.sweep, {"reading": each.reading[i], "u": each.u[i]}),
            **({"from_first_station": True} if each.from_first else {}),
        }
        for each in sweeps
        for i in range(each.station_mm.size)
    ]


def _in_unit(sweep: Sweep, values: dict[str, float]) -> dict[str, float | None]:
    """Values by names that carry their unit: `_um`, null for levels, whose `_mrad` stand beside."""
    rounded = {name: round(float(value), 6) + 0.0 for name, value in values.items()}
    in_um = {f"{name}_um": None if sweep.is_angle else value for name, value in rounded.items()}
    return in_um | ({f"{name}_mrad": value for name, value in rounded.items()} if sweep.is_angle else {})


def print_comparison(comparison: Comparison, console: Console) -> None:
    frame = comparison.after.frame
    stages = f"{shown(comparison.before.stage)} → {shown(comparison.after.stage)}"
    console.print(f"[bold]{shown(frame.name)}[/bold] · {stages}\n")
    first, *rest = sentences(comparison)
    console.print(f"[bold]{shown(first)}[/bold]")
    for text in rest:
        console.print(shown(text))
    console.print()
    for carriage in comparison.after.carriages:
        console.print(f"[bold]Carriage {shown(carriage.name)}[/bold]")
        console.print(_blocks(comparison, carriage.name))
        console.print()
    console.print(_sweeps(comparison))
    console.print(
        f"\nExpected: what the readings of {shown(comparison.before.stage)} and the shims and pushes since say, with "
        "each sweep's own zero; ± one standard uncertainty, the reading's own included. A reading agrees within two."
    )
    console.print(f"\n[bold]{CAUTION}[/bold]")


def _blocks(comparison: Comparison, carriage: str) -> Table:
    before, after = shown(comparison.before.stage), shown(comparison.after.stage)
    table = plain_table(None, ("block", before, after, "drag × before", "after", "tight before", "after"), 3)
    for change in comparison.blocks:
        if change.carriage == carriage:
            one, other = change.before, change.after
            table.add_row(
                shown(other.name),
                *(mark_of(block.verdict) for block in (one, other)),
                *(f"{block.drag_ratio.max():.1f}" for block in (one, other)),
                *(f"{100 * block.p_tight:.0f} %" for block in (one, other)),
            )
    return table


def _sweeps(comparison: Comparison) -> Table:
    frame = comparison.after.frame
    names = ("sweep", "", "agree", "rms off", "worst at", "expected", "± (1 u)", "found", "off, in u")
    table = plain_table("Readings against what was expected", names, 2)
    for sweep in comparison.sweeps:
        at, kind = sweep.worst, sweep.readings.sweep
        off = sweep.readings.values - sweep.expected
        table.add_row(
            shown(kind.name),
            "as expected" if sweep.as_expected else "[bold reverse]✗ disagrees[/]",
            f"{int(sweep.agrees.sum())} of {sweep.agrees.size}",
            amount(frame, kind, float(np.sqrt(np.mean(off**2)))),
            length(frame, float(sweep.readings.station_mm[at])),
            reading_said(frame, kind, float(sweep.expected[at])),
            amount(frame, kind, float(sweep.u[at])),
            reading_said(frame, kind, float(sweep.readings.values[at])),
            f"{sweep.standardised[at]:+.1f}".replace("-", "−"),
        )
    return table


def reading_said(frame: Frame, sweep: Sweep, value: float) -> str:
    """A reading as the instrument would show it; across a channel's mouth in mm."""
    if sweep.kind == "mouth" and frame.length_unit == "mm":
        return f"{value / 1000.0:.3f} mm"
    text = amount(frame, sweep, value)
    return text.removeprefix("-") if float(text.split()[0]) == 0.0 else text.replace("-", "−")
