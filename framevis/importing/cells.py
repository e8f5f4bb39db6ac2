"""The numbers in the columns that were found, row by row, as they stand in the file.

Takes rows, columns and the decimal sign; gives `Read` rows, and notes at the door which cells are none.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from framevis.importing.columns import Found
from framevis.importing.numbers import Number, number
from framevis.importing.source import Row
from framevis.reading.door import Door, quoted


@dataclass(frozen=True)
class Read:
    """One row: its line, its station with the unit behind it, its readings (None: empty), its note."""

    line: int
    station: Number
    readings: tuple[Number | None, ...]
    note: str


def read_rows(
    rows: Sequence[Row], found: Found, sign: str, given: tuple[Decimal, Decimal] | None, door: Door
) -> list[Read]:
    """All rows that have a station or, where first station and step are `given`, a reading."""
    read: list[Read] = []
    for row in rows:
        texts = [cell(row, column) for column in found.readings]
        at = "" if found.station is None else cell(row, found.station)
        if not at and not any(texts):
            continue
        readings = tuple(_number(row, column, sign, door) for column in found.readings)
        station = _station(row, found, sign, door) if given is None else Number(given[0] + given[1] * len(read), "")
        if station is not None:
            read.append(Read(row.line, station, readings, "" if found.note is None else cell(row, found.note)))
    return read


def cell(row: Row, column: int) -> str:
    return row.cells[column] if column < len(row.cells) else ""


def _station(row: Row, found: Found, sign: str, door: Door) -> Number | None:
    assert found.station is not None
    if not cell(row, found.station):
        door.refuse_line(row.line, "the station is empty", "give the station, or take the row out")
        return None
    return _number(row, found.station, sign, door)


def _number(row: Row, column: int, sign: str, door: Door) -> Number | None:
    text = cell(row, column)
    found = number(text, sign) if text else None
    if text and found is None:
        what = f"{quoted(text)} in column {column + 1} is not a number"
        door.refuse_line(row.line, what, "correct it, or empty the cell, or name other columns")
    return found
