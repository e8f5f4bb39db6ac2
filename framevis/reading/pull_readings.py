"""Reads the forces of a pull sweep: breakaway and running, one way and the other, along a carriage's travel.

Takes a CSV's path, its `PullSweep` and a `Door`; gives `PullReadings` in mm and N. `running_n`, `breakaway_n` are
pulls toward higher stations, `running_back_n`, `breakaway_back_n` toward lower ones; `reading_n` is a running force.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

from framevis.frame import PullReadings, PullSweep, locked
from framevis.reading.csv_columns import IGNORED, TEMPERATURE, Column
from framevis.reading.csv_numbers import Numbers
from framevis.reading.csv_table import UNITS, CsvTable, Row, label, read_table
from framevis.reading.door import Door, did_you_mean, quoted
from framevis.reading.reading_checks import Reading, check_doubles, check_forces, check_position, mean_temperature
from framevis.units import MM_PER_LENGTH_UNIT, N_PER_UNIT

_FORCE = re.compile(r"((?P<breakaway>breakaway)|running|reading)(?P<back>_back)?(_([2-9]|[1-9][0-9]))?")
NAMES = ("running", "running_back", "breakaway", "breakaway_back", "running_2", "running_back_2", "reading")


@dataclass(frozen=True)
class ForceColumn:
    """A column of forces: pulled toward lower stations (`back`) or not, breakaway or running."""

    column: Column
    back: bool
    breakaway: bool


@dataclass(frozen=True)
class PullColumns:
    station: Column
    forces: tuple[ForceColumn, ...]
    temperature: Column | None

    @property
    def last_needed(self) -> int:
        """The column up to which every row must have cells."""
        return max(self.station.index, min(each.column.index for each in self.forces))


@dataclass(frozen=True)
class Force:
    """One force with what its column says of it."""

    reading: Reading
    of: ForceColumn


def read_pull(path: Path, pull: PullSweep, door: Door) -> tuple[PullReadings | None, int]:
    """The forces in one file, None where there are none or something is wrong; how many rows are blank."""
    table = read_table(path, door)
    columns = None if table is None else pull_columns(table, door)
    if table is None or columns is None:
        return None, 0
    door.unit = columns.station.unit
    numbers = Numbers(table, door)
    forces: list[Force] = []
    blanks = 0
    for order, row in enumerate(table.rows):
        if row.count <= columns.last_needed:
            has = f"has {row.count} cell{'s' if row.count > 1 else ''}"
            what = f"{has} where the header names {len(table.columns)} columns"
            door.refuse_line(row.line, what, "give each row one cell for each column")
            continue
        forces.extend(_row_forces(row, order, columns, pull, numbers, door))
        blanks += not any(row.cells[each.column.index] for each in columns.forces)
    temperature = None if columns.temperature is None else columns.temperature.index
    temperature_c = mean_temperature(table, temperature, numbers, door)
    readings = [each.reading for each in forces]
    check_doubles(readings, door, again="running_2_n")
    check_forces(readings, pull.u_n, door)
    return (None if door.problems or not forces else _record(pull, forces, temperature_c, door)), blanks


def _record(pull: PullSweep, forces: list[Force], temperature_c: float | None, door: Door) -> PullReadings:
    back, breakaway = ([getattr(each.of, name) for each in forces] for name in ("back", "breakaway"))
    return PullReadings(
        pull=pull,
        station_mm=locked([each.reading.station_mm for each in forces]),
        force_n=locked([each.reading.value for each in forces]),
        back=locked(back) > 0.0,
        breakaway=locked(breakaway) > 0.0,
        line=tuple(each.reading.line for each in forces),
        temperature_c=temperature_c,
        file=door.file,
    )


def pull_columns(table: CsvTable, door: Door) -> PullColumns | None:
    """The columns of a file of pulls; None where something in its header is wrong."""
    seen, found = len(door.problems), dict[str, Column]()
    for index, name in enumerate(table.columns):
        column = None if name in IGNORED else _column(index, name, table.line, door)
        if column is None:
            continue
        what = label(name).replace("reading", "running") if name != TEMPERATURE else name
        if what in found:
            both = "stands twice" if found[what].name == name else f"says the same as {quoted(found[what].name)}"
            door.refuse_line(table.line, f"the column {quoted(name)} {both}", "keep one of the two")
        found[what] = column
    forces = tuple(_force(what, column) for what, column in found.items() if _FORCE.fullmatch(what))
    if len(door.problems) == seen:  # a misspelt column would be reported as a missing one too
        if "station" not in found:
            door.refuse_line(table.line, "there is no station column", "name it station_mm or station_in")
        if not forces:
            door.refuse_line(table.line, "there is no column of forces", "name it running_n or breakaway_n")
    if len(door.problems) > seen:
        return None
    return PullColumns(found["station"], forces, found.get(TEMPERATURE))


def _force(what: str, column: Column) -> ForceColumn:
    parts = _FORCE.fullmatch(what)
    assert parts is not None
    return ForceColumn(column, parts["back"] is not None, parts["breakaway"] is not None)


def _column(index: int, name: str, line: int, door: Door) -> Column | None:
    what = label(name)
    unit = name[len(what) + 1 :]
    if name == TEMPERATURE:
        return Column(index, name, 1.0)
    if what == "station" and unit in MM_PER_LENGTH_UNIT:
        return Column(index, name, MM_PER_LENGTH_UNIT[unit])
    if _FORCE.fullmatch(what) and unit in N_PER_UNIT:
        return Column(index, name, N_PER_UNIT[unit])
    if _FORCE.fullmatch(what) and unit in UNITS:
        todo = "use one of " + ", ".join(f"{what}_{each}" for each in N_PER_UNIT)
        door.refuse_line(line, f"{quoted(name)} is no force, but a pull sweep reads a force", todo)
        return None
    todo = did_you_mean(name, _possible()) if name else "name every column"
    door.refuse_line(line, f"unknown column {quoted(name)}", todo)
    return None


def _possible() -> list[str]:
    stations = [f"station_{unit}" for unit in MM_PER_LENGTH_UNIT]
    return [*stations, *(f"{what}_{unit}" for what in NAMES for unit in N_PER_UNIT), *IGNORED, TEMPERATURE]


def _row_forces(
    row: Row, order: int, columns: PullColumns, pull: PullSweep, numbers: Numbers, door: Door
) -> list[Force]:
    at = _position(row, columns.station, pull, numbers, door)
    forces = []
    for each in columns.forces:
        cell = row.cells[each.column.index]
        if not cell or (value := numbers.read(row, each.column.index)) is None or at is None:
            continue
        text = f"{quoted(cell)} ({each.column.unit})"
        forces.append(Force(Reading(at, value * each.column.factor, pull.u_n, order, row.line, text), each))
    return forces


def _position(row: Row, column: Column, pull: PullSweep, numbers: Numbers, door: Door) -> float | None:
    if not row.cells[column.index]:
        todo = "give the carriage's position along its travel, or take the row out"
        door.refuse_line(row.line, "the station is empty", todo)
        return None
    station = numbers.read(row, column.index)
    return None if station is None else check_position(station * column.factor, row.line, pull.carriage, door)
