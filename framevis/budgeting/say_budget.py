"""The uncertainty budget in words, and as a JSON object. Takes a study and its budgets, prints to a rich console."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from rich.console import Console
from rich.table import Table

from framevis.budgeting.risk_shares import Shares
from framevis.budgeting.sweep_budget import Budget, Component
from framevis.frame import Frame
from framevis.report import indented, shown
from framevis.say import CAUTION, length, small
from framevis.study import Study
from framevis.units import UM_PER_UNIT

FORMAT = 1
MOST_SWEEPS = 4
OFF = 0.05  # how far weight, tension or stiffness may be out, to say what would be left of a sag
SOURCES = (
    "u: standard uncertainty of one reading. Repeatability: pooled scatter of repeats (GUM 4.2); resolution: step / √12"
    " (GUM F.2.2.1), counted where it is more than the repeatability; found: root sum of squares (GUM 5.1.2). "
    "Drift over the run, and what else is taken out of the readings or isn't known, doesn't count."
)


def print_budget(study: Study, budgets: Sequence[Budget], found: Sequence[Shares], console: Console) -> None:
    frame = study.frame
    console.print(f"[bold]{shown(frame.name)} · stage {shown(study.stage)}: where uncertainty comes from[/bold]\n")
    console.print(_table(frame, budgets))
    said = {budget.readings.sweep.name: sentences(frame, budget) for budget in budgets}
    for line, names in _alike(said).items():
        console.print(f"\n[bold]{shown(', '.join(names))}[/bold]")
        indented(console, shown(line))
    console.print("\n[bold]What dominates the risk's uncertainty[/bold]")
    for line in dominance(frame, found):
        indented(console, shown(line))
    console.print(f"\n{SOURCES}")
    console.print(f"\n[bold]{CAUTION}[/bold]")


def _alike(said: dict[str, list[str]]) -> dict[str, list[str]]:
    """Every sentence once, with the sweeps that it is said of; those of one sweep alone joined."""
    names: dict[str, list[str]] = {}
    for name, lines in said.items():
        for line in lines:
            names.setdefault(line, []).append(name)
    alone = {name: "\n".join(line for line in lines if len(names[line]) == 1) for name, lines in said.items()}
    own = {lines: [name] for name, lines in alone.items() if lines}
    return own | {line: each for line, each in names.items() if len(each) > 1}


def _table(frame: Frame, budgets: Sequence[Budget]) -> Table:
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    table.add_column("sweep", overflow="fold")
    for name in ("u stated", "found", "repeatability", "resolution", "temperature", "drift", "out and back"):
        table.add_column(name, justify="right", no_wrap=True)
    for budget in budgets:
        closure = budget.closure
        worst = "–" if closure is None else amount(frame, budget, abs(float(closure.difference[closure.worst])))
        parts = [_cell(frame, budget, name) for name in ("repeatability", "resolution", "temperature")]
        known = "–" if budget.found is None else amount(frame, budget, budget.found)
        name = shown(budget.readings.sweep.name)
        drift = budget.component("drift")
        moved = "–" if drift is None or drift.size is None else amount(frame, budget, drift.size)
        table.add_row(name, amount(frame, budget, budget.stated), known, *parts, moved, worst)
    return table


def _cell(frame: Frame, budget: Budget, name: str) -> str:
    part = budget.component(name)
    return "–" if part is None or part.u is None else amount(frame, budget, part.u)


def amount(frame: Frame, budget: Budget, value: float) -> str:
    """An uncertainty in µm or thou, of levels in mrad."""
    if budget.readings.sweep.is_angle:
        return f"{value:.3f} mrad"
    return f"{value:.1f} µm" if frame.length_unit == "mm" else f"{value / UM_PER_UNIT['thou']:.2f} thou"


def sentences(frame: Frame, budget: Budget) -> list[str]:
    """What should be done or known about a sweep's u."""
    said = [text for part in budget.components if (text := _says(frame, budget, part))]
    found = "" if budget.found is None else amount(frame, budget, budget.found)
    stated = amount(frame, budget, budget.stated)
    repeats = f"{budget.freedom} repeat{'s' if budget.freedom > 1 else ''}"
    judged = {
        "more": f"stated {stated}, found {found} from {repeats}: state more",
        "less": f"stated {stated}, found {found} from {repeats}: less may be stated",
        "fits": "",
        "unknown": "no repeats: read some stations twice, or go out and back, to see how far they scatter",
    }[budget.advice]
    closure = budget.closure
    if closure is not None and abs(float(closure.difference[closure.worst])) > closure.bad:
        at = length(frame, float(closure.station_mm[closure.worst]))
        bad = amount(frame, budget, closure.bad)
        judged += f"{'; ' if judged else ''}out and back differ by more than {bad} at {at}: a bad run, take it again"
    many = "1 suspect reading is" if budget.aside == 1 else f"{budget.aside} suspect readings are"
    aside = (
        [f"{many} set aside, and not counted here: framevis assess names what to take again"] if budget.aside else []
    )
    return [*([judged] if judged else []), *aside, *said]


def _says(frame: Frame, budget: Budget, part: Component) -> str:
    """What a component needs said beside its number in the table."""
    size = "" if part.size is None else amount(frame, budget, part.size)
    if part.name == "go / no-go":
        assert part.u is not None
        return f"go and no-go lie apart by up to {amount(frame, budget, part.u)} (1 u, interval / √12), counted besides"
    if part.name == "straightedge, by reversal":
        return f"the straightedge's own error, up to {size}, is taken out by the run with it turned over"
    if part.name == "straightedge, calibrated":
        return f"the straightedge's calibrated error, up to {size}, is taken out"
    if part.name == "straightedge":
        return "the straightedge's own error is not known: run it turned over too (reversed = true), or give error_csv"
    if part.name == "sag" and part.size is None:
        return "the wire's sag is not known: give wire_n_per_m and wire_tension_n, or error_csv"
    if part.name == "sag" and part.size is not None:
        left = small(frame, OFF * part.size) if OFF * part.size >= 1.0 else amount(frame, budget, OFF * part.size)
        return f"sag of {size} is taken out; data that are {100 * OFF:.0f} % off would leave {left}"
    if part.name == "temperature" and part.u is None:
        return "temperature not noted (column temperature_c)"
    return ""


def dominance(frame: Frame, found: Sequence[Shares]) -> list[str]:
    if not found:
        return ["every verdict stands: no uncertainty decides any"]
    return [_dominates(frame, each) for each in found]


def _dominates(frame: Frame, each: Shares) -> str:
    about = each.about
    lengths = about.component in ("lateral", "height")
    u = small(frame, about.u) if lengths else f"{about.u:.2f} mrad"
    listed = [f"{name} {_share(share)}" for name, share in list(each.by_sweep.items())[:MOST_SWEEPS]]
    halves = (
        f"half of u would take: {', '.join(listed)}; all sweeps {_share(each.by_all)}"
        if listed
        else ("no sweep's u matters")
    )
    rest = "" if each.by_all >= 0.5 else "; what is left hangs on places that no reading looks at: framevis advise"
    where = f"{each.carriage.name}/{each.block.name} ({each.block.verdict})"
    return f"{where}: {about.component} of its misfit known to ± {u}; of its variance, {halves}{rest}"


def _share(share: float) -> str:
    return f"{100.0 * share:.0f} %"


def budget_object(study: Study, budgets: Sequence[Budget], found: Sequence[Shares]) -> dict[str, Any]:
    return {
        "format": FORMAT,
        "frame": study.frame.name,
        "stage": study.stage,
        "sweeps": [_sweep_object(study.frame, budget) for budget in budgets],
        "risk": [
            {
                "carriage": each.carriage.name,
                "name": each.block.name,
                "verdict": each.block.verdict,
                "component": each.about.component,
                f"u_{'um' if each.about.component in ('lateral', 'height') else 'mrad'}": each.about.u,
                "half_u_takes": each.by_sweep,
                "all_halved_take": each.by_all,
            }
            for each in found
        ],
    }


def _sweep_object(frame: Frame, budget: Budget) -> dict[str, Any]:
    unit = "mrad" if budget.readings.sweep.is_angle else "um"
    closure = budget.closure
    return {
        "sweep": budget.readings.sweep.name,
        f"u_stated_{unit}": budget.stated,
        f"u_found_{unit}": budget.found,
        "repeats": budget.freedom,
        "set_aside": budget.aside,
        "advice": budget.advice,
        "components": [
            {"name": part.name, f"u_{unit}": part.u, f"size_{unit}": part.size, "counts": part.counts}
            for part in budget.components
        ],
        f"closure_mean_{unit}": None if closure is None else closure.mean,
        f"closure_worst_{unit}": None if closure is None else float(abs(closure.difference[closure.worst])),
        "says": sentences(frame, budget),
    }
