"""Whether readings can be what was meant: on the beam, each station once, in the right unit.

Takes readings in mm and µm (mrad for levels), their sweep and a `Door`; notes what is wrong.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from framevis.frame import Beam, Carriage, Floats, Sweep
from framevis.reading.csv_numbers import Numbers
from framevis.reading.csv_table import CsvTable
from framevis.reading.door import Door, quoted

SLACK_MM = 0.01  # stations in inches are rounded
SAME_MM = 1e-6
WILD_FACTOR = 1000.0  # a slip of the unit is a factor of 25 or more, mostly 1000
FLOOR_U = 5.0  # a quieter sweep than so many uncertainties is luck
LEAST_READINGS = 4
MOST_SPREAD_UM = 20_000.0
MOST_UM = 1e7
MOST_MRAD = 1600.0  # a right angle
MOST_N = 1e4  # a tonne on a spring scale
COLDEST_C, HOTTEST_C = -50.0, 150.0
UNIT = "is it in the right unit?"


@dataclass(frozen=True)
class Reading:
    """One reading: station in mm, value and standard uncertainty in µm, mrad or N, row from 0, line, as written."""

    station_mm: float
    value: float
    u: float
    order: int
    line: int
    text: str


def check_station(station_mm: float, line: int, sweep: Sweep, door: Door) -> float | None:
    """The station, moved onto the beam where only rounding put it off; None where it is off."""
    beam = sweep.station_beam
    half = (sweep.base_mm or 0.0) / 2.0 if sweep.kind == "level_along" else 0.0
    low, high = half, beam.length_mm - half
    if not low - SLACK_MM <= station_mm <= high + SLACK_MM:
        if half and 0.0 <= station_mm <= beam.length_mm:
            what = f"at station {door.length(station_mm)} a foot of the level ({door.length(2 * half)} long) stands off"
        else:
            what = f"station {door.length(station_mm)} is off"
        todo = "measure stations from the beam's start, in the unit of the column's name"
        door.refuse_line(line, f"{what} the beam, which is {door.length(beam.length_mm)} long", todo)
        return None
    for other in _others(sweep):
        at = other.station_of(beam.point(station_mm))
        if not -SLACK_MM <= at <= other.length_mm + SLACK_MM:
            what = f"station {door.length(station_mm)} has nothing beside it on the other rail's beam"
            todo = f"that beam is {door.length(other.length_mm)} long and stands there at {door.length(at)}"
            door.refuse_line(line, what, todo)
            return None
    return min(max(station_mm, low), high)


def check_position(position_mm: float, line: int, carriage: Carriage, door: Door) -> float | None:
    """A carriage's position, moved into its travel where only rounding put it off; None where it is outside."""
    low, high = carriage.travel_mm
    if not low - SLACK_MM <= position_mm <= high + SLACK_MM:
        travel = f"{door.length(low)} to {door.length(high)}"
        what = f"station {door.length(position_mm)} is outside the travel of carriage {quoted(carriage.name)}, {travel}"
        door.refuse_line(line, what, "give the carriage's position along its travel, in the unit of the column's name")
        return None
    return min(max(position_mm, low), high)


def _others(sweep: Sweep) -> list[Beam]:
    beams = {rail.beam.name: rail.beam for rail in sweep.rails if rail.beam.name != sweep.station_beam.name}
    return list(beams.values())


def check_doubles(readings: list[Reading], door: Door, again: str = "reading_2_um") -> None:
    """A station may come again where the run goes out and back, or where the first one is repeated to see drift.

    `again`: the column in which further readings of one station belong.
    """
    rows = list({each.order: each for each in readings}.values())
    stations = [row.station_mm for row in rows]
    once = [station for i, station in enumerate(stations) if i == 0 or abs(station - stations[0]) > SAME_MM]
    if len(rows) > 2 and abs(stations[1] - stations[0]) <= SAME_MM:
        what = f"station {door.length(stations[0])} appears twice in a row (lines {rows[0].line} and {rows[1].line})"
        todo = f"repeat the first station at the end to see drift, or give further readings as {again}"
        door.refuse_line(rows[1].line, what, todo)
        return
    if not rows or _goes_out_and_back(stations) or _goes_out_and_back(once):
        return
    first: dict[float, int] = {round(stations[0], 6): rows[0].line}
    for row in rows[1:]:
        key = round(row.station_mm, 6)
        if key == round(stations[0], 6):
            continue
        if key in first:
            what = f"station {door.length(row.station_mm)} appears twice (lines {first[key]} and {row.line})"
            todo = f"give further readings of one station as {again}, or correct the station"
            door.refuse_line(row.line, what, todo)
        first.setdefault(key, row.line)


def _goes_out_and_back(stations: list[float]) -> bool:
    """Whether the steps go one way, then the other way; the turning point may be read twice."""
    steps = [0 if abs(b - a) <= SAME_MM else (1 if b > a else -1) for a, b in pairwise(stations)]
    if not steps or steps[0] == 0:
        return len(steps) < 1
    turn = next((i for i, step in enumerate(steps) if step != steps[0]), len(steps))
    if turn < len(steps) and steps[turn] == 0:
        turn += 1
        if turn == len(steps):
            return False
    return all(step == -steps[0] for step in steps[turn:])


def check_values(readings: list[Reading], sweep: Sweep, door: Door) -> bool:
    """Note readings that are absurd or a thousand times the rest; whether there were any."""
    return _check_size_of_each(readings, MOST_MRAD if sweep.is_angle else MOST_UM, sweep.u, door)


def check_forces(readings: list[Reading], u_n: float, door: Door) -> bool:
    """The same for forces, which have no sign."""
    seen = len(door.problems)
    for each in readings:
        if each.value < 0.0:
            what = f"the force {each.text} is negative"
            door.refuse_line(each.line, what, "give its size; pulls the other way have columns of their own, …_back")
    return _check_size_of_each(readings, MOST_N, u_n, door) or len(door.problems) > seen


def _check_size_of_each(readings: list[Reading], most: float, u: float, door: Door) -> bool:
    values, seen = np.array([each.value for each in readings]), len(door.problems)
    for index in np.flatnonzero(np.abs(values) > most):
        _ask(readings[index], "is larger than anything on a machine", door)
    if len(door.problems) == seen and len(values) >= LEAST_READINGS:
        for place in _wild(values, FLOOR_U * u):
            _ask(readings[place], f"is more than {WILD_FACTOR:g} times as far out as the rest", door)
    return len(door.problems) > seen


def _ask(reading: Reading, what: str, door: Door) -> None:
    door.refuse_line(reading.line, f"reading {reading.text} {what}", UNIT)


def _wild(values: Floats, floor: float) -> list[int]:
    """Places of values (N,) further than 1000 times the typical spread of the others from their median."""
    farthest: list[int] = np.argsort(-np.abs(values - np.median(values)), kind="stable")[:20].tolist()
    wild = []
    for index in farthest:
        rest = np.delete(values, index)
        middle = np.median(rest)
        spread = max(float(np.median(np.abs(rest - middle))), floor)
        if abs(values[index] - middle) > WILD_FACTOR * spread:
            wild.append(index)
    return sorted(wild)


def check_size(readings: list[Reading], sweep: Sweep, line: int, door: Door) -> None:
    """Ask about the unit where readings of lengths spread over centimetres about their best line."""
    if sweep.is_angle or len(readings) < 2:
        return
    stations = np.array([each.station_mm for each in readings])
    values = np.array([each.value for each in readings])
    away = values - values.mean()
    if np.ptp(stations) > SAME_MM:
        along = stations - stations.mean()
        away = away - along * (along @ away) / (along @ along)
    spread_um = float(np.ptp(away))
    if spread_um > MOST_SPREAD_UM:
        inches = f"{spread_um / 25_400.0:.2f} in"
        what = f"the readings spread over {f'{spread_um / 1000.0:.1f} mm' if door.unit == 'mm' else inches}"
        door.refuse_line(line, what, "is the unit in the column's name right?")


def mean_temperature(table: CsvTable, column: int | None, numbers: Numbers, door: Door) -> float | None:
    """Mean of a column of temperatures, °C; None where none is given."""
    if column is None:
        return None
    given = [(row, numbers.read(row, column)) for row in table.rows if row.cells[column]]
    for row, value in given:
        if value is not None and not COLDEST_C <= value <= HOTTEST_C:
            door.refuse_line(row.line, f"{value:g} °C is no temperature of a workshop", "give degrees Celsius")
    values = [value for _, value in given if value is not None]
    return float(np.mean(values)) if values else None
