"""Reads the readings of one stage: every CSV of readings/STAGE/ with its sweep, in µm or mrad.

Takes a frame and a stage's name; gives a `Stage`, or raises `BadInput` with everything that is wrong with all
its files at once. Readings stay as the instrument showed them: `Sweep.sign` is applied by who uses them.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, sqrt
from pathlib import Path

from framevis.errors import BadInput, Problem
from framevis.frame import Frame, PullReadings, PullSweep, Stage, Sweep, SweepReadings, locked
from framevis.reading.csv_columns import Columns, columns_of
from framevis.reading.csv_numbers import Numbers
from framevis.reading.csv_table import CsvTable, Row, read_table
from framevis.reading.door import Door, did_you_mean, one_line, quoted
from framevis.reading.pull_readings import read_pull
from framevis.reading.reading_checks import (
    Reading,
    check_doubles,
    check_size,
    check_station,
    check_values,
    mean_temperature,
)

FOLDER = "readings"
MOST_PROBLEMS = 20
Value = tuple[float, float, str]  # value, standard uncertainty, as it was written


@dataclass(frozen=True)
class Taken:
    """What one file gave: its readings, None where there is none, and what should be said about it."""

    readings: SweepReadings | PullReadings | None
    warnings: tuple[str, ...]


def stages_present(frame: Frame) -> tuple[str, ...]:
    """The stages that have at least one CSV, in the order in which they happened."""
    return tuple(stage for stage in frame.stages if _files(frame, stage))


def read_stage(frame: Frame, stage: str) -> Stage:
    """The readings of one stage. Raises `BadInput` with every problem of all its files."""
    _check_stage(frame, stage)
    known: dict[str, Sweep | PullSweep] = {sweep.name: sweep for sweep in frame.sweeps}
    known |= {pull.name: pull for pull in frame.pulls}
    problems: list[Problem] = []
    taken: dict[str, Taken] = {}
    for path in _files(frame, stage):
        door = Door(one_line(f"{FOLDER}/{stage}/{path.name}"))
        name = path.name[:-4]
        if name not in known:
            door.refuse_line(None, f"there is no sweep {quoted(name)} in frame.toml", did_you_mean(name, known))
        elif name in taken:
            door.refuse_line(None, f"there are two files for sweep {quoted(name)}", "keep one of them")
        else:
            taken[name] = _read_sweep(path, known[name], door)
        problems.extend(door.listed(MOST_PROBLEMS))
    found = [taken[name].readings for name in known if name in taken]
    sweeps = tuple(each for each in found if isinstance(each, SweepReadings))
    pulls = tuple(each for each in found if isinstance(each, PullReadings))
    if not sweeps and not problems:
        problems.append(Problem(one_line(f"{FOLDER}/{stage}"), None, None, *_nothing_to_go_by(bool(pulls))))
    if problems:
        raise BadInput(problems)
    return Stage(stage, sweeps, tuple(warning for each in taken.values() for warning in each.warnings), pulls)


def problems_of(path: Path, sweep: Sweep | PullSweep, file: str) -> tuple[Problem, ...]:
    """What `read_stage` would refuse in one file, said of `file`; empty where it can be read."""
    door = Door(one_line(file))
    _read_sweep(path, sweep, door)
    return tuple(door.listed(MOST_PROBLEMS))


def _nothing_to_go_by(pulled: bool) -> tuple[str, str]:
    if pulled:
        what = "there are only pull readings in this stage, and they tell nothing of the frame's shape by themselves"
        return what, "put the readings of at least one sweep of the rails or beams there too"
    return "there are no readings in this stage", "put the readings of at least one sweep there, as SWEEP.csv"


def _files(frame: Frame, stage: str) -> list[Path]:
    """The CSV files of a stage, by name; hidden ones are somebody else's."""
    if frame.folder is None:
        return []
    try:
        inside = sorted((frame.folder / FOLDER / stage).iterdir())
    except OSError:
        return []
    return [path for path in inside if path.suffix.lower() == ".csv" and not path.name.startswith((".", "~"))]


def _check_stage(frame: Frame, stage: str) -> None:
    place = one_line(f"{FOLDER}/{stage}")
    if stage not in frame.stages:
        what = f"there is no stage {quoted(stage)} in frame.toml"
        raise BadInput(Problem("frame.toml", None, "stages", what, did_you_mean(stage, frame.stages)))
    if frame.folder is None:
        raise BadInput(Problem(place, None, None, "this frame has no folder", "save it in one, with its readings"))
    if not (frame.folder / FOLDER / stage).is_dir():
        there = ", ".join(quoted(each) for each in stages_present(frame)) or "none yet"
        what = f"there is no such folder; stages with readings: {there}"
        raise BadInput(Problem(place, None, None, what, "add the folder, or take another stage"))


def _read_sweep(path: Path, sweep: Sweep | PullSweep, door: Door) -> Taken:
    """The readings in one file."""
    if isinstance(sweep, PullSweep):
        pulled, blanks = read_pull(path, sweep, door)
        return _left_out(door) if pulled is None else Taken(pulled, _skipped(blanks, door))
    table = read_table(path, door)
    columns = None if table is None else columns_of(table, sweep, door)
    if table is None or columns is None:
        return _left_out(door)
    door.unit = columns.station.name.removeprefix("station_")
    numbers = Numbers(table, door)
    readings: list[Reading] = []
    blanks = 0
    for order, row in enumerate(table.rows):
        found, blank = _row_readings(table, row, order, columns, sweep, numbers, door)
        readings.extend(found)
        blanks += blank
    at = None if columns.temperature is None else columns.temperature.index
    temperature_c = mean_temperature(table, at, numbers, door)
    check_doubles(readings, door)
    if not check_values(readings, sweep, door):
        check_size(readings, sweep, table.line, door)
    if door.problems or not readings:
        return _left_out(door)
    return Taken(_record(sweep, readings, temperature_c, door), _skipped(blanks, door))


def _skipped(blanks: int, door: Door) -> tuple[str, ...]:
    rows = "1 row has" if blanks == 1 else f"{blanks} rows have"
    return (f"{door.file}: {rows} no reading yet",) if blanks else ()


def _left_out(door: Door) -> Taken:
    return Taken(None, () if door.problems else (f"{door.file}: has no readings, the sweep is left out",))


def _record(sweep: Sweep, readings: list[Reading], temperature_c: float | None, door: Door) -> SweepReadings:
    return SweepReadings(
        sweep=sweep,
        station_mm=locked([each.station_mm for each in readings]),
        values=locked([each.value for each in readings]),
        u=locked([each.u for each in readings]),
        order=locked([each.order for each in readings]),
        line=tuple(each.line for each in readings),
        temperature_c=temperature_c,
        file=door.file,
    )


def _row_readings(
    table: CsvTable, row: Row, order: int, columns: Columns, sweep: Sweep, numbers: Numbers, door: Door
) -> tuple[list[Reading], bool]:
    """The readings of a row, and whether all its reading cells are blank."""
    if row.count <= columns.last_needed:
        what = f"has {row.count} cell{'s' if row.count > 1 else ''} where the header names {len(table.columns)} columns"
        door.refuse_line(row.line, what, "give each row one cell for each column")
        return [], False
    station_mm = _station(row, columns, sweep, numbers, door)
    values: list[Value] = []
    cells = [column.index for column in (*columns.readings, columns.go, columns.no_go) if column is not None]
    blank = not any(row.cells[index] for index in cells)
    for column in columns.readings:
        if not row.cells[column.index] or (value := numbers.read(row, column.index)) is None:
            continue
        if sweep.kind == "gap" and value < 0.0:
            what = f"the gap {quoted(row.cells[column.index])} is negative"
            door.refuse_line(row.line, what, "a gap is zero or more")
        else:
            values.append((value * column.factor, sweep.u, f"{quoted(row.cells[column.index])} ({column.unit})"))
    values.extend(_gap(row, columns, sweep, numbers, door))
    if station_mm is None:
        return [], False
    return [Reading(station_mm, value, u, order, row.line, text) for value, u, text in values], blank


def _station(row: Row, columns: Columns, sweep: Sweep, numbers: Numbers, door: Door) -> float | None:
    if not row.cells[columns.station.index]:
        door.refuse_line(row.line, "the station is empty", "give the station along the beam, or take the row out")
        return None
    station = numbers.read(row, columns.station.index)
    return None if station is None else check_station(station * columns.station.factor, row.line, sweep, door)


def _gap(row: Row, columns: Columns, sweep: Sweep, numbers: Numbers, door: Door) -> list[Value]:
    """The middle between go and no-go with its uncertainty: a rectangular distribution (GUM 4.3.7)."""
    if columns.go is None or columns.no_go is None:
        return []
    texts = [row.cells[each.index] for each in (columns.go, columns.no_go)]
    if not any(texts):
        return []
    if not all(texts):
        door.refuse_line(row.line, "only one of go and no-go is given", "give both, or leave both empty")
        return []
    go, no_go = numbers.read(row, columns.go.index), numbers.read(row, columns.no_go.index)
    if go is None or no_go is None:
        return []
    low, high = go * columns.go.factor, no_go * columns.no_go.factor
    if low > high:
        what = f"go {quoted(texts[0])} is more than no_go {quoted(texts[1])}"
        door.refuse_line(row.line, what, "go is the thickest feeler that fits, no_go the thinnest that doesn't")
        return []
    if low < 0.0:
        door.refuse_line(row.line, f"the gap {quoted(texts[0])} is negative", "a gap is zero or more")
        return []
    text = f"{quoted(texts[0])} to {quoted(texts[1])} ({columns.go.unit})"
    return [((low + high) / 2.0, hypot(sweep.u, (high - low) / sqrt(12.0)), text)]
