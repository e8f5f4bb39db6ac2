"""The calibrated error of a straightedge or wire, from the CSV that a sweep names.

Takes the frame's folder and a path inside it; gives an `ErrorCurve` in mm and µm, or notes at the door why not.
"""

from __future__ import annotations

from pathlib import Path

from framevis.frame import ErrorCurve, locked
from framevis.reading.csv_numbers import Numbers
from framevis.reading.csv_table import CsvTable, read_table
from framevis.reading.door import Door, did_you_mean, one_line, quoted
from framevis.reading.toml_lines import KeyPath
from framevis.units import MM_PER_LENGTH_UNIT, UM_PER_UNIT

STATION = {f"station_{unit}": factor for unit, factor in MM_PER_LENGTH_UNIT.items()}
ERROR = {f"error_{unit}": factor for unit, factor in UM_PER_UNIT.items()}
MOST_UM = 1e7
MOST_MM = 1e6


def read_error_curve(folder: Path, name: str, path: KeyPath, door: Door) -> ErrorCurve | None:
    """The curve in `folder`/`name`; problems of that file are noted under its own name."""
    if not _is_inside(folder, name):
        what = f"{quoted(name)} lies outside the frame's folder"
        door.refuse(path, what, "give a file in this folder, by its path from here")
        return None
    own = Door(one_line(name))
    table = read_table(folder / name, own)
    curve = None if table is None else _curve(table, own)
    if table is None and not own.problems:
        own.refuse_line(None, "is empty", "give it the columns station_mm and error_um")
    door.problems.extend(own.listed(20))
    return curve


def _is_inside(folder: Path, name: str) -> bool:
    try:
        return (folder / name).resolve().is_relative_to(folder.resolve())
    except (OSError, ValueError, RuntimeError):
        return False


def _curve(table: CsvTable, door: Door) -> ErrorCurve | None:
    allowed = (*STATION, *ERROR, "note")
    for column in table.columns:
        if column not in allowed:
            door.refuse_line(table.line, f"unknown column {quoted(column)}", did_you_mean(column, allowed))
    stations = [i for i, column in enumerate(table.columns) if column in STATION]
    errors = [i for i, column in enumerate(table.columns) if column in ERROR]
    if len(stations) != 1 or len(errors) != 1:
        todo = "name them station_mm (or station_in) and error_um (or error_mm, error_in, error_thou)"
        door.refuse_line(table.line, "there must be one column of stations and one of errors", todo)
        return None
    numbers, at, by = Numbers(table, door), stations[0], errors[0]
    pairs = [(numbers.read(row, at), numbers.read(row, by), row.line) for row in table.rows]
    known = [(station, error, line) for station, error, line in pairs if station is not None and error is not None]
    station_mm = [station * STATION[table.columns[at]] for station, _, _ in known]
    error_um = [error * ERROR[table.columns[by]] for _, error, _ in known]
    _check(station_mm, error_um, [line for _, _, line in known], door)
    return None if door.problems else ErrorCurve(locked(station_mm), locked(error_um))


def _check(station_mm: list[float], error_um: list[float], lines: list[int], door: Door) -> None:
    for index, line in enumerate(lines):
        if abs(station_mm[index]) > MOST_MM or abs(error_um[index]) > MOST_UM:
            door.refuse_line(line, "the numbers are too large to be real", "are they in the right unit?")
        if index and station_mm[index] <= station_mm[index - 1]:
            door.refuse_line(line, "the stations don't rise from row to row", "put them in order, each once")
    if len(lines) < 2 and not door.problems:
        door.refuse_line(None, "has fewer than two rows", "an error curve needs at least its two ends")
