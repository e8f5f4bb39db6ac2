"""The sheets of one stage: a blank CSV for every sweep, and one HTML page to print and write on by hand.

Takes a frame, a stage and how far apart stations stand; writes files that aren't there yet, the page whole or not
at all. The page has no script and asks for nothing; every name from a file is escaped.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from framevis.errors import BadInput, problem
from framevis.frame import Frame
from framevis.outfile import beside, check_target
from framevis.reading.door import did_you_mean, one_line, quoted
from framevis.reading.readings import FOLDER
from framevis.sheets.blank_csv import blank_csv, rows_of
from framevis.sheets.order import in_order
from framevis.sheets.sheet_page import page
from framevis.sheets.stations import AnySweep, Every, run
from framevis.sheets.words import plus


@dataclass(frozen=True, eq=False)
class Planned:
    """One sweep with the rows of its CSV, in the frame's own unit. `kept`: its file was there and stays as it is."""

    sweep: AnySweep
    rows: tuple[float, ...]
    path: Path
    kept: bool


def planned(frame: Frame, stage: str, every: Every = None) -> tuple[Planned, ...]:
    """All sweeps in the order of the work. Raises `BadInput` before anything is written."""
    if stage not in frame.stages:
        what = f"there is no stage {quoted(stage)} in frame.toml"
        raise BadInput(problem("frame.toml", what, did_you_mean(stage, frame.stages), field="stages"))
    if not frame.sweeps and not frame.pulls:
        raise BadInput(problem("frame.toml", "there are no sweeps", "describe a way of measuring under [sweep.NAME]"))
    assert frame.folder is not None
    there = _there(frame.folder / FOLDER / stage)
    return tuple(_planned(frame, stage, sweep, there, every) for sweep in in_order(frame))


def _there(folder: Path) -> dict[str, Path]:
    """The CSV files of a stage by the name of their sweep."""
    try:
        found = sorted(folder.iterdir())
    except OSError:
        return {}
    return {path.name[:-4]: path for path in found if path.suffix.lower() == ".csv"}


def _planned(frame: Frame, stage: str, sweep: AnySweep, there: dict[str, Path], every: Every) -> Planned:
    assert frame.folder is not None
    path = there.get(sweep.name)
    if path is not None:
        shown = one_line(f"{FOLDER}/{stage}/{path.name}")
        return Planned(sweep, rows_of(path, sweep, frame, shown), path, True)
    return Planned(sweep, run(frame, sweep, every), frame.folder / FOLDER / stage / f"{sweep.name}.csv", False)


def write_sheets(frame: Frame, stage: str, out: Path, every: Every = None) -> tuple[Planned, ...]:
    """Write the page and the CSV files that are missing. Raises `BadInput` where something can't be written."""
    all_of_them = planned(frame, stage, every)
    check_target(out, (".html",), "a sheet")
    content = page(frame, stage, [(each.sweep, each.rows) for each in all_of_them])
    new = [each for each in all_of_them if not each.kept]
    if new:
        _make_folder(new[0].path.parent)
    for each in new:
        _write(each.path, blank_csv(frame, each.sweep, each.rows, plus(frame, each.sweep)))
    with beside(out) as hidden:
        hidden.write_text(content, encoding="utf-8", newline="\n")
    return all_of_them


def _make_folder(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        why = error.strerror or str(error)
        raise BadInput(problem(one_line(str(folder)), "can't be made", why)) from error


def _write(path: Path, content: str) -> None:
    """A new file, whole or not at all; one that appeared meanwhile stays."""
    check_target(path, (".csv",), "a sweep's readings")
    with beside(path) as hidden:
        hidden.write_text(content, encoding="utf-8", newline="\n")
        if path.exists():
            raise BadInput(problem(one_line(str(path)), "appeared meanwhile", "look at it, then try again"))


def said(frame: Frame, stage: str, done: Sequence[Planned], out: Path) -> list[str]:
    """What was written and what was kept, a sentence each."""
    new, kept = ([each for each in done if each.kept is was] for was in (False, True))
    where = one_line(f"{FOLDER}/{stage}/")
    lines = [f"{one_line(str(out))}: {len(done)} sheets to print, in the order of the work"]
    if new:
        lines.append(f"{where}: {len(new)} blank CSV file{'s' * (len(new) > 1)} written, readings to be filled in")
    if kept:
        names = ", ".join(one_line(each.path.name) for each in kept)
        lines.append(f"{where}: kept as {'they are' if len(kept) > 1 else 'it is'}: {names}")
    return lines
