"""Which sweep is entered, and where it stands.

Takes a frame, a stage and a name; gives the sweep, its `State`, or raises `BadInput` with one sentence.
"""

from __future__ import annotations

from pathlib import Path

from framevis.entering import disk
from framevis.entering.dialogue import begin
from framevis.entering.sheet import Sheet, new_sheet, sheet_from
from framevis.entering.slots import is_filled, slots_of
from framevis.entering.state import State
from framevis.errors import BadInput, Problem, problem
from framevis.frame import Frame, PullSweep, Sweep
from framevis.reading.door import did_you_mean, one_line, quoted
from framevis.reading.readings import FOLDER, problems_of
from framevis.sheets import blank_csv, stations


def all_sweeps(frame: Frame) -> tuple[Sweep | PullSweep, ...]:
    return (*frame.sweeps, *frame.pulls)


def check_stage(frame: Frame, stage: str) -> None:
    """Raises `BadInput` where the frame file doesn't list the stage."""
    if stage not in frame.stages:
        what = f"there is no stage {quoted(stage)} in frame.toml"
        raise BadInput(Problem("frame.toml", None, "stages", what, did_you_mean(stage, frame.stages)))


def find_sweep(frame: Frame, wanted: str) -> Sweep | PullSweep:
    """A sweep by its name, or by its number in the overview."""
    sweeps = all_sweeps(frame)
    for sweep in sweeps:
        if sweep.name == wanted:
            return sweep
    if wanted.isascii() and wanted.isdigit() and 1 <= int(wanted[:6]) <= len(sweeps):
        return sweeps[int(wanted[:6]) - 1]
    what = f"there is no sweep {quoted(wanted)} in frame.toml"
    raise BadInput(problem("frame.toml", what, did_you_mean(wanted, [sweep.name for sweep in sweeps]), field="sweep"))


def overview(frame: Frame, stage: str) -> list[str]:
    """One line a sweep: its number, its name, how much of it is read."""
    lines = [f"{one_line(frame.name)}, stage {one_line(stage)}"]
    for number, sweep in enumerate(all_sweeps(frame), 1):
        lines.append(f"{number:>4}  {_progress(frame, stage, sweep):<16}{one_line(sweep.name)}")
    return lines


def _progress(frame: Frame, stage: str, sweep: Sweep | PullSweep) -> str:
    assert frame.folder is not None
    path = disk.file_of(frame.folder / FOLDER / stage, sweep.name)
    try:
        sheet = _sheet(path, sweep)
    except BadInput:
        return "can't be read"
    if sheet is None:
        return "not begun"
    slots = slots_of(sheet, sweep)
    done = sum(is_filled(sheet, slot) for slot in slots)
    return "complete" if done == len(slots) else f"{done} of {len(slots)} read"


def begun(frame: Frame, stage: str, sweep: Sweep | PullSweep, path: Path) -> State:
    """Where a sweep stands: in its file, or with stations of its own where there is none yet."""
    sheet = _sheet(path, sweep) or _blank(frame, sweep)
    return begin(sweep, stage, frame.length_unit, sheet)


def _blank(frame: Frame, sweep: Sweep | PullSweep) -> Sheet:
    """A new file's sheet: the stations and columns that a prepared one would have."""
    at = [f"{station:.10g}" for station in stations.run(frame, sweep)]
    return new_sheet(at, frame.length_unit, blank_csv.columns(frame, sweep))


def _sheet(path: Path, sweep: Sweep | PullSweep) -> Sheet | None:
    """The sheet in a sweep's file, None where there is none; raises what its reader would refuse."""
    raw = disk.read_bytes(path)
    if raw is None:
        return None
    wrong = problems_of(path, sweep, disk.shown(path))
    if wrong:
        raise BadInput(wrong)
    sheet = sheet_from(raw)
    if sheet.is_empty or not sheet.rows:
        raise BadInput(problem(disk.shown(path), "has no stations", "add rows with stations, or take the file out"))
    return sheet
