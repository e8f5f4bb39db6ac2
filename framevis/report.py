"""The text form of `framevis assess`, for the person at the machine. Takes a study, prints to a rich console."""

from __future__ import annotations

from rich.console import Console
from rich.markup import escape
from rich.padding import Padding
from rich.table import Table

from framevis.assumptions import assumptions, by_side
from framevis.curves import rail_curves
from framevis.explain import reason
from framevis.frame import Rail
from framevis.pulls.calibrate import Calibration
from framevis.pulls.pull import hold
from framevis.pulls.say_calibration import calibration_lines
from framevis.pulls.say_pull import says
from framevis.say import (
    CAUTION,
    headline,
    length,
    next_step,
    printable,
    small,
    suffers,
    suspects,
    unmeasured,
    unsolved,
)
from framevis.study import Study
from framevis.verdicts import CarriageAssessment, Verdict

STYLES = {"binding": "bold reverse", "tight": "bold", "unsure": "italic", "free": ""}
MARKS = {"binding": "■ binding", "tight": "▲ tight", "unsure": "? unsure", "free": "○ free"}


def mark_of(verdict: Verdict) -> str:
    """A verdict as the console shows it."""
    style = STYLES[verdict]
    return f"[{style}]{MARKS[verdict]}[/]" if style else MARKS[verdict]


def plain_table(title: str | None, names: tuple[str, ...], left: int) -> Table:
    """A plain table whose first columns are texts, the rest numbers."""
    table = Table(title=title, title_justify="left", title_style="bold", box=None, pad_edge=False, padding=(0, 2, 0, 0))
    for i, name in enumerate(names):
        table.add_column(name, justify="left" if i < left else "right", overflow="fold", no_wrap=i >= left)
    return table


def shown(text: str) -> str:
    """A text that may hold names from files, safe for the console."""
    return escape(printable(text))


def print_assessment(study: Study, console: Console, calibration: Calibration | None = None) -> None:
    """`calibration`: what the study's guides and seats were fitted to, if they were."""
    count = sum(readings.values.size for readings in study.readings.sweeps)
    title = f"{shown(study.frame.name)} · stage {shown(study.stage)}"
    console.print(f"[bold]{title}[/bold] · {count} readings in {len(study.readings.sweeps)} sweeps\n")
    for carriage in study.carriages:
        _carriage(study, carriage, console)
    console.print(_straightness(study))
    _pull(study, calibration, console)
    _notes(study, console)
    console.print("\n".join([_how(study), *by_side(assumptions(study))]))
    console.print(f"\n[bold]{CAUTION}[/bold]")


def _carriage(study: Study, carriage: CarriageAssessment, console: Console) -> None:
    console.print(f"[bold]Carriage {shown(carriage.name)}: {headline(study, carriage)}[/bold]")
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    for name in ("block", "rail", "verdict"):
        table.add_column(name, overflow="fold")
    for name in ("tight", "binds", "drag ×", "at", "safety"):
        table.add_column(name, justify="right", no_wrap=True)
    for block in carriage.blocks:
        table.add_row(
            shown(block.name),
            shown(block.block.rail.name),
            mark_of(block.verdict),
            f"{100 * block.p_tight:.0f} %",
            f"{100 * block.p_binding:.0f} %",
            f"{block.drag_ratio.max():.1f}",
            length(study.frame, block.worst_station_mm),
            f"{block.static_safety.min():.1f}",
        )
    console.print(table)
    for block in carriage.blocks:
        if block.verdict != "free":
            indented(console, f"{shown(block.name)}: {shown(suffers(study, reason(study, carriage, block)))}")
        if block.verdict == "unsure":
            indented(console, f"{shown(block.name)}: {shown(next_step(study, carriage, block))}")
    console.print()


def indented(console: Console, text: str) -> None:
    console.print(Padding(text, (0, 0, 0, 2), expand=False))


def _straightness(study: Study) -> Table:
    """Every rail by the three reference lines, under its name in the standard where the rail lies along an axis."""
    table = Table(
        title="Rails: straightness by end points / least squares / minimum zone",
        title_justify="left",
        title_style="bold",
        box=None,
        pad_edge=False,
        padding=(0, 2, 0, 0),
    )
    for name in ("rail", "lateral", "height", "± (1 u)"):
        table.add_column(name, justify="left" if name == "rail" else "right")
    for rail in study.frame.rails:
        curves = rail_curves(study, rail)
        symbols = iso_symbols(rail)
        cells = []
        for component, curve, symbol in (
            ("lateral", curves.lateral, symbols[0]),
            ("height", curves.height, symbols[1]),
        ):
            lines = curves.straightness(component)  # type: ignore[arg-type]
            three = (lines.end_point, lines.least_squares, lines.minimum_zone)
            values = " / ".join(small(study.frame, line.straightness).split(" ")[0] for line in three)
            unit = small(study.frame, 0.0).split(" ")[1]
            cells.append(f"{symbol} {values} {unit}" if curve.is_measured else "not measured")
        u = f"{small(study.frame, float(curves.lateral.u.max()))}, {small(study.frame, float(curves.height.u.max()))}"
        table.add_row(shown(rail.name), *cells, u)
    return table


def iso_symbols(rail: Rail) -> tuple[str, str]:
    """Names of lateral and height in ISO 230-1 for a rail along a machine axis (E, direction, axis); else blank."""
    letters = []
    for axis in rail.axes[[1, 2, 0]]:
        main = int(abs(axis).argmax())
        if abs(axis[main]) < 0.999:
            return "", ""
        letters.append("XYZ"[main])
    return f"E{letters[0]}{letters[2]}", f"E{letters[1]}{letters[2]}"


def _pull(study: Study, calibration: Calibration | None, console: Console) -> None:
    """Pull forces held against the prediction, and what was fitted to them."""
    for held in hold(study):
        carriage = shown(held.mechanism.carriage.name)
        console.print(f"\n[bold]Pull, carriage {carriage}[/bold] ({shown(held.name)})")
        for line in says(study, held):
            indented(console, shown(line))
    if calibration is not None:
        console.print("\n[bold]Fitted to the pull, and used for all of the above[/bold]")
        for line in calibration_lines(study.frame, calibration):
            indented(console, shown(line))


def _notes(study: Study, console: Console) -> None:
    for title, lines in (
        ("Suspect readings", suspects(study)),
        ("Not measured", [text.removeprefix("not measured: ") for text in unmeasured(study)]),
        ("Mind", [*unsolved(study), *study.frame.warnings, *study.readings.warnings]),
    ):
        if lines:
            console.print(f"\n[bold]{title}[/bold]")
            for line in lines:
                indented(console, shown(line))
    console.print()


def _how(study: Study) -> str:
    limits = study.frame.limits
    error = 50.0 / study.draws**0.5
    return (
        f"Limits: tight from {limits.tight_drag_ratio:g}, binding from {limits.binding_drag_ratio:g} times the drag on "
        f"a perfect frame, static safety {limits.static_safety:g}. Chances from {study.draws} draws, seed {study.seed} "
        f"(± {error:.1f} points at 50 %)."
    )
