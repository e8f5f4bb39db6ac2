"""The order in which readings are asked for: one slot after another, out and back.

Takes a sheet and its sweep; gives slots. A geometric sweep goes down its rows; a pull goes out over the columns of
pulls toward higher stations, then back over the others.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from itertools import pairwise

from framevis.entering.sheet import Sheet
from framevis.frame import PullSweep, Sweep
from framevis.reading.csv_table import UNITS, label

_FORCE = re.compile(r"(breakaway|running|reading)(_back)?")


@dataclass(frozen=True)
class Slot:
    """One thing to read: a row, its cells (two for go and no-go), whether it belongs to the way back."""

    row: int
    columns: tuple[str, ...]
    back: bool

    @property
    def what(self) -> str:
        """What is read here, in words."""
        name = label(self.columns[0])
        return {"go": "go and no-go"}.get(name, name.replace("_back", "").replace("running", "running force"))


def slots_of(sheet: Sheet, sweep: Sweep | PullSweep) -> tuple[Slot, ...]:
    """All slots of a sheet in the order of work."""
    rows = range(len(sheet.rows))
    if isinstance(sweep, PullSweep):
        forces = [column for column in sheet.columns if _FORCE.fullmatch(label(column))]
        out = [column for column in forces if "_back" not in column]
        back = [column for column in forces if "_back" in column]
        there = [Slot(row, (column,), False) for row in rows for column in out]
        return (*there, *(Slot(row, (column,), True) for row in reversed(rows) for column in back))
    columns = _reading_columns(sheet)
    returning = _returning([sheet.station_mm(row) for row in rows])
    return tuple(Slot(row, columns, returning[row]) for row in rows)


def _reading_columns(sheet: Sheet) -> tuple[str, ...]:
    by_label = {label(column): column for column in sheet.columns}
    if "go" in by_label:
        return by_label["go"], by_label["no_go"]
    first = min(name for name in by_label if name.startswith("reading"))
    return (by_label[first],)


def _returning(stations: list[float]) -> list[bool]:
    """Whether each row belongs to the way back: from the first step that goes the other way."""
    steps = [b - a for a, b in pairwise(stations)]
    first = next((step for step in steps if step), 0.0)
    turn = next((i + 1 for i, step in enumerate(steps) if step * first < 0.0), len(stations))
    return [row >= turn for row in range(len(stations))]


def is_filled(sheet: Sheet, slot: Slot) -> bool:
    return all(sheet.cell(slot.row, column) for column in slot.columns)


def value_of(sheet: Sheet, slot: Slot) -> float | None:
    """The reading in a slot in its (first) column's unit, the middle of go and no-go; None where there is none."""
    values = [(column, sheet.value(slot.row, column)) for column in slot.columns]
    sizes = [value * UNITS[unit_of_column(column)] for column, value in values if value is not None]
    whole = len(sizes) == len(values)
    return sum(sizes) / len(sizes) / UNITS[unit_of_column(slot.columns[0])] if whole else None


def written(sheet: Sheet, slot: Slot) -> str:
    """What stands in a slot, as it is written: 12.5, or 20 to 30."""
    return " to ".join(sheet.cell(slot.row, column) for column in slot.columns)


def unit_of_column(column: str) -> str:
    """The unit in a column's name."""
    return column.removeprefix(label(column) + "_")
