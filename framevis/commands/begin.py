"""Commands that begin: a new frame, and the sheets to take to the machine."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter

from framevis.commands.common import app
from framevis.errors import BadInput, problem

if TYPE_CHECKING:
    from framevis.sheets.stations import Every
    from framevis.starting.answers import Unit

STOPPED = "nothing was written"
Option = str | None


def _said(help_text: str) -> Parameter:
    return Parameter(help=help_text)


@app.command
def new(
    folder: Path,
    /,
    *,
    unit: Annotated[Option, _said("Unit of all lengths: mm or in.")] = None,
    name: Annotated[Option, _said("Name of the machine.")] = None,
    kind: Annotated[Option, _said("portal (two side beams and a crossbeam) or single (one beam).")] = None,
    guide_size: Annotated[Option, _said("Width of the rails in mm: 9, 12, 15, 20 or 25.")] = None,
    arrangement: Annotated[Option, _said("How the balls touch: gothic, O or X.")] = None,
    section: Annotated[Option, _said("Section of the beams: channel, box or plate.")] = None,
    mouth: Annotated[Option, _said("Of a channel: away_from_rails or toward_rails.")] = None,
    length: Annotated[Option, _said("Length of the beam, of a portal's side beams.")] = None,
    width: Annotated[Option, _said("Width of the section, across.")] = None,
    depth: Annotated[Option, _said("Depth of the section.")] = None,
    wall: Annotated[Option, _said("Wall of a channel or box.")] = None,
    span: Annotated[Option, _said("Of a portal: distance between the side beams, middle to middle.")] = None,
    stage: Annotated[Option, _said("First stage of readings, as_found by default.")] = None,
) -> None:
    """Begin a frame: ask for what isn't given (on a terminal; else take what is usual), write FOLDER/frame.toml."""
    from framevis.starting.begin import check_new, write_new
    from framevis.starting.questions import answered
    from framevis.starting.toml_text import toml_text

    given = {
        "unit": unit,
        "name": name,
        "kind": kind,
        "guide_size": guide_size,
        "arrangement": arrangement,
        "section": section,
        "mouth": mouth,
        "length": length,
        "width": width,
        "depth": depth,
        "wall": wall,
        "span": span,
        "stage": stage,
    }
    check_new(folder)
    there = sys.stdin is not None and sys.stdin.isatty() and sys.stdout.isatty()
    try:
        answers = answered(given, _ask if there else None, print)
    except EOFError:
        print()
        raise BadInput(problem("new", "the input ended before the last answer", STOPPED)) from None
    except KeyboardInterrupt:
        print(f"\nframevis: new: stopped: {STOPPED}", file=sys.stderr)
        sys.exit(130)
    path = write_new(folder, toml_text(answers), answers.stage)
    _say_what_next(path, answers.stage)


def _ask(prompt: str) -> str:
    """One answer from the terminal. Raises `EOFError` where the input ends."""
    print(prompt, end="", flush=True)
    line = sys.stdin.readline()
    if not line:
        raise EOFError
    return line.rstrip("\r\n")


def _say_what_next(path: Path, stage: str) -> None:
    import shlex

    from framevis.reading.door import one_line

    folder, named = one_line(shlex.quote(str(path.parent))), one_line(shlex.quote(stage))
    print(f"{one_line(str(path))} is written. Its guides and uncertainties are generic, its layout a first guess:")
    print("  1. correct it against your machine and the makers' data sheets (any text editor)")
    print(f"  2. framevis sheets {folder} --stage {named}    what to measure where, to print and take along")
    print(f"  3. framevis assess {folder} --stage {named}    once readings are in")


@app.command
def sheets(
    folder: Path,
    /,
    *,
    stage: Annotated[str, _said("Stage that is going to be measured, as listed in frame.toml.")],
    every: Annotated[
        Option,
        _said("Distance of stations in the frame's unit, or screw: one at each rail screw. Usual: 100 mm, 4 in."),
    ] = None,
    out: Annotated[Path | None, _said("Name of the page; default: FOLDER/sheets_STAGE.html.")] = None,
) -> None:
    """Write a blank CSV for every sweep, and one page to print: sketches, signs, zero, room to write."""
    from framevis.reading.frame_file import read_frame
    from framevis.sheets.write import said, write_sheets

    frame = read_frame(folder)
    target = folder / f"sheets_{stage}.html" if out is None else out
    done = write_sheets(frame, stage, target, _every(every, frame.length_unit))
    for line in said(frame, stage, done, target):
        print(line)


def _every(typed: str | None, unit: str) -> Every:
    """How far apart stations stand, mm, or "screw"; None for what is usual."""
    from framevis.starting.answers import Refused, between, read_length
    from framevis.units import MM_PER_LENGTH_UNIT

    if typed is None or typed.strip().lower() in {"screw", "screws"}:
        return None if typed is None else "screw"
    try:
        own: Unit = "in" if unit == "in" else "mm"
        return between(read_length(typed, own), 1.0, 10_000.0, own) * MM_PER_LENGTH_UNIT[unit]
    except Refused as bad:
        raise BadInput(problem("--every", bad.what, f"{bad.todo}, or screw")) from None
