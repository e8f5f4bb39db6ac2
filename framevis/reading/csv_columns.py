"""What the columns of a readings file are: stations, readings, go and no-go, temperature, with their units.

Takes a `CsvTable`, the sweep that it belongs to and a `Door`; gives `Columns`, or notes at the door why not.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from framevis.frame import Sweep
from framevis.reading.csv_table import UNITS, CsvTable, label
from framevis.reading.door import Door, a_sweep, did_you_mean, quoted
from framevis.units import MM_PER_LENGTH_UNIT, MRAD_PER_UNIT, N_PER_UNIT, UM_PER_UNIT

IGNORED = {"note"}
TEMPERATURE = "temperature_c"
_READING = re.compile(r"reading(_([2-9]|[1-9][0-9]))?")


@dataclass(frozen=True)
class Column:
    """One column: its place, its name, and what one of its units is in mm, µm or mrad."""

    index: int
    name: str
    factor: float

    @property
    def unit(self) -> str:
        return self.name.removeprefix(label(self.name) + "_")


@dataclass(frozen=True)
class Columns:
    station: Column
    readings: tuple[Column, ...]
    go: Column | None
    no_go: Column | None
    temperature: Column | None

    @property
    def last_needed(self) -> int:
        """The column up to which every row must have cells."""
        if self.go is None or self.no_go is None:
            return max(self.station.index, self.readings[0].index)
        return max(self.station.index, self.go.index, self.no_go.index)


def columns_of(table: CsvTable, sweep: Sweep, door: Door) -> Columns | None:
    """The columns of a readings file; None where something in its header is wrong."""
    seen = len(door.problems)
    units = MRAD_PER_UNIT if sweep.is_angle else UM_PER_UNIT
    found: dict[str, Column] = {}
    for index, name in enumerate(table.columns):
        what = label(name) if name != TEMPERATURE else name
        column = _column(index, name, what, sweep, units, table.line, door)
        if column is None:
            continue
        if what in found:
            both = "stands twice" if found[what].name == name else f"says the same as {quoted(found[what].name)}"
            door.refuse_line(table.line, f"the column {quoted(name)} {both}", "keep one of the two")
        found[what] = column
    if len(door.problems) == seen:  # a misspelt column would be reported as a missing one too
        _check_set(table.line, found, sweep, units, door)
    if len(door.problems) > seen:
        return None
    readings = tuple(found[what] for what in found if _READING.fullmatch(what))
    return Columns(found["station"], readings, found.get("go"), found.get("no_go"), found.get(TEMPERATURE))


def _column(
    index: int, name: str, what: str, sweep: Sweep, units: Mapping[str, float], line: int, door: Door
) -> Column | None:
    unit = name[len(what) + 1 :]
    if name in IGNORED:
        return None
    if name == TEMPERATURE:
        return Column(index, name, 1.0)
    if what == "station" and unit in MM_PER_LENGTH_UNIT:
        return Column(index, name, MM_PER_LENGTH_UNIT[unit])
    if unit in UNITS and (_READING.fullmatch(what) or what in {"go", "no_go"}):
        if unit in units:
            return Column(index, name, units[unit])
        door.refuse_line(line, *_wrong_dimension(name, what, unit, sweep, units))
        return None
    todo = did_you_mean(name, _possible(sweep, units)) if name else "name every column"
    door.refuse_line(line, f"unknown column {quoted(name)}", todo)
    return None


def _possible(sweep: Sweep, units: Mapping[str, float]) -> list[str]:
    stations = [f"station_{unit}" for unit in MM_PER_LENGTH_UNIT]
    whats = ("reading", "reading_2", "reading_3", *(("go", "no_go") if sweep.kind == "gap" else ()))
    return [*stations, *(f"{what}_{unit}" for what in whats for unit in units), *IGNORED, TEMPERATURE]


def _wrong_dimension(name: str, what: str, unit: str, sweep: Sweep, units: Mapping[str, float]) -> tuple[str, str]:
    is_a = "a force" if unit in N_PER_UNIT else "a length" if unit in UM_PER_UNIT else "an angle"
    reads = "an angle" if sweep.is_angle else "a length"
    listed = ", ".join(f"{what}_{each}" for each in units)
    return f"{quoted(name)} is {is_a}, but {a_sweep(sweep.kind)} reads {reads}", f"use one of {listed}"


def _check_set(line: int, found: Mapping[str, Column], sweep: Sweep, units: Mapping[str, float], door: Door) -> None:
    if "station" not in found:
        door.refuse_line(line, "there is no station column", "name it station_mm or station_in")
    pair = {"go", "no_go"}.intersection(found)
    if pair and sweep.kind != "gap":
        what = f"go and no-go readings belong to a gap sweep, and {quoted(sweep.name)} is of kind {sweep.kind}"
        door.refuse_line(line, what, f"name the column reading_{next(iter(units))}")
    elif len(pair) == 1:
        has = next(iter(pair))
        door.refuse_line(line, f"there is a {has} column without its partner", "a gap needs both go and no_go")
    if not pair and not any(_READING.fullmatch(what) for what in found):
        door.refuse_line(line, "there is no reading column", f"name it reading_{next(iter(units))} or another unit")
