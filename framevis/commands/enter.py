"""The commands that get readings in: typed at the machine, or imported from a file."""

from __future__ import annotations

import io
import shutil
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

from cyclopts import Parameter

from framevis.commands.common import app
from framevis.errors import BadInput, problem

if TYPE_CHECKING:
    from framevis.entering.state import State
    from framevis.frame import Frame, PullSweep, Sweep
    from framevis.importing.understanding import Understood

StageToFill = Annotated[str, Parameter(help="Stage that the readings belong to, as listed in frame.toml.")]


@app.command
def enter(
    folder: Path,
    /,
    *,
    stage: StageToFill,
    sweep: Annotated[str | None, Parameter(help="Sweep to enter; default: asks which.")] = None,
) -> None:
    """Type readings at the machine, one station after another; each is on the disk before the next is asked for."""
    from framevis.entering.choosing import check_stage, find_sweep
    from framevis.reading.frame_file import read_frame

    frame = read_frame(folder)
    check_stage(frame, stage)
    lines = _typed_lines()
    try:
        if sweep is not None:
            _enter(frame, stage, find_sweep(frame, sweep), lines)
            return
        while (chosen := _chosen(frame, stage, lines)) is not None:
            _enter(frame, stage, chosen, lines)
    except KeyboardInterrupt:
        print("\nStopped. Everything that was typed is on the disk: start again to go on.", file=sys.stderr)
        sys.exit(130)


def _enter(frame: Frame, stage: str, sweep: Sweep | PullSweep, lines: Iterator[str]) -> None:
    """One sweep, from the first blank station to where the user stops."""
    from framevis.entering import disk
    from framevis.entering.choosing import begun
    from framevis.entering.conversation import converse
    from framevis.reading.readings import problems_of

    assert frame.folder is not None
    path = disk.file_of(disk.stage_folder(frame.folder, stage), sweep.name)
    with disk.held(path):
        state = begun(frame, stage, sweep, path)
        check = lambda beside: problems_of(beside, sweep, disk.shown(path))  # noqa: E731
        end = converse(state, lines, lambda sheet: disk.keep(path, sheet.text.encode(), check), _show)
        there = f"{sum(end.filled)} of {len(end.slots)} readings stand in {disk.shown(path)}."
        print(there if path.exists() else f"Nothing was typed: {disk.shown(path)} is not begun.")


def _show(state: State) -> None:
    from framevis.entering.screen import lines_of, prompt_of

    looks_on = sys.stdout.isatty()
    if looks_on:
        print("\x1b[2J\x1b[H", end="")
    width = shutil.get_terminal_size((100, 40)).columns
    print(*lines_of(state, width, is_big=looks_on), sep="\n")
    print(prompt_of(state), end="" if sys.stdin.isatty() else "\n", flush=True)


def _typed_lines() -> Iterator[str]:
    """Lines from the keyboard, a gauge that acts as one, or a pipe; undecodable bytes don't stop the work."""
    if isinstance(sys.stdin, io.TextIOWrapper):
        sys.stdin.reconfigure(errors="replace")
    return iter(sys.stdin.readline, "")


def _chosen(frame: Frame, stage: str, lines: Iterator[str]) -> Sweep | PullSweep | None:
    """The sweep that the user wants, by its number or name; None to stop."""
    from framevis.entering.choosing import find_sweep, overview

    listing = overview(frame, stage)
    print(*listing, sep="\n")
    print("Which sweep? Its number or name; q: stop > ", end="" if sys.stdin.isatty() else "\n", flush=True)
    for line in lines:
        wanted = line.strip()
        if wanted.casefold() in ("q", "quit", "stop", "exit"):
            return None
        if wanted:
            try:
                return find_sweep(frame, wanted)
            except BadInput as bad:
                print(*bad.problems, sep="\n")
    return None


@app.command(name="import")
def import_readings(
    folder: Path,
    file: Path,
    /,
    *,
    stage: StageToFill,
    sweep: Annotated[str, Parameter(help="Sweep that the readings belong to.")],
    station: Annotated[str | None, Parameter(help="Column of the stations: its heading, or its number from 1.")] = None,
    reading: Annotated[
        tuple[str, ...], Parameter(help="Column of the readings, heading or number; may be given several times.")
    ] = (),
    unit: Annotated[str | None, Parameter(help="Unit of the readings, where the file doesn't say it.")] = None,
    station_unit: Annotated[str | None, Parameter(help="Unit of the stations: mm, cm, m, in or ft.")] = None,
    separator: Annotated[
        Literal["tab", "semicolon", "comma", "bar", "blank"] | None,
        Parameter(help="What separates the columns; default: found out."),
    ] = None,
    decimal: Annotated[Literal[".", ","] | None, Parameter(help="Decimal sign; default: found out.")] = None,
    worksheet: Annotated[str | None, Parameter(help="Sheet of a spreadsheet; default: its first.")] = None,
    reverse: Annotated[bool, Parameter(negative="", help="Stations count from the beam's end.")] = False,
    start: Annotated[float | None, Parameter(help="First station, where the file has readings only.")] = None,
    step: Annotated[float | None, Parameter(help="From station to station then; default: 100 mm or 4 in.")] = None,
    replace: Annotated[bool, Parameter(negative="", help="Take the place of readings that are there.")] = False,
    yes: Annotated[bool, Parameter(negative="", help="Don't ask whether it is right.")] = False,
) -> None:
    """Take readings from a gauge's or spreadsheet's file (text or .xlsx), after a look at what was understood."""
    from framevis.entering.choosing import check_stage, find_sweep
    from framevis.importing.echo import echo
    from framevis.importing.source import read_source
    from framevis.importing.splitting import BY_NAME
    from framevis.importing.understanding import understand
    from framevis.importing.wishes import Wishes
    from framevis.reading.frame_file import read_frame

    frame = read_frame(folder)
    check_stage(frame, stage)
    wanted = find_sweep(frame, sweep)
    wishes = Wishes(station, reading, unit, station_unit, decimal, reverse, start, step)
    wishes.check()
    mark = BY_NAME[separator] if separator else None
    source = read_source(file, mark, worksheet, alone=start is not None, decimal=decimal)
    found = understand(source, frame, wanted, wishes)
    print(*echo(found, wanted.name, stage, shutil.get_terminal_size((100, 40)).columns), sep="\n")
    _take(found, frame, stage, wanted, yes=yes, replacing=replace)


def _take(found: Understood, frame: Frame, stage: str, sweep: Sweep | PullSweep, *, yes: bool, replacing: bool) -> None:
    """Ask whether it is right, then write."""
    from framevis.entering import disk
    from framevis.importing import placing

    assert frame.folder is not None
    path = disk.file_of(disk.stage_folder(frame.folder, stage), sweep.name)
    with disk.held(path):
        placing.check(found, sweep, path, replacing=replacing)
        if yes and found.doubts:
            raise BadInput(problem("--yes", f"it isn't certain what the file means: {found.doubts[0]}", "say it"))
        if not yes and not _is_right():
            print("Nothing was written.")
            return
        kept = placing.place(found, path)
    print(f"Written: {disk.shown(path)}; {'; '.join(kept)}.")


def _is_right() -> bool:
    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        what = "there is no terminal to ask whether this is right"
        raise BadInput(problem("import", what, "look at it, then run it again with --yes"))
    try:
        return input("Is that right? [y/N] ").strip().casefold() in ("y", "yes")
    except (EOFError, KeyboardInterrupt):
        print()
        return False
