"""In which steps a sweep was read: from the digits in its CSV.

Takes the file of a sweep's readings, gives the step in µm, or mrad for levels.
"""

from __future__ import annotations

from decimal import Decimal, InvalidOperation
from math import gcd
from pathlib import Path

from framevis.frame import Frame, SweepReadings
from framevis.reading.csv_columns import Column, columns_of
from framevis.reading.csv_table import CsvTable, read_table
from framevis.reading.door import Door

ENOUGH = 8  # readings from which all being multiples of a step is no chance
USUAL = (1, 2, 5)  # instruments are divided in these, times powers of ten


def step_of(frame: Frame, readings: SweepReadings) -> float | None:
    """The finest step in which readings were written down; None where their file can't tell."""
    if frame.folder is None or not readings.file:
        return None
    door = Door(readings.file)
    table = read_table(Path(frame.folder) / readings.file, door)
    columns = None if table is None else columns_of(table, readings.sweep, door)
    if table is None or columns is None:
        return None
    steps = [_step(_texts(table, column)) for column in columns.readings]
    found = [step * column.factor for step, column in zip(steps, columns.readings, strict=True) if step is not None]
    return min(found, default=None)


def _texts(table: CsvTable, column: Column) -> list[str]:
    return [row.cells[column.index] for row in table.rows if row.cells[column.index]]


def _step(texts: list[str]) -> float | None:
    """The last digit that was written, or a usual multiple of it where all readings are such."""
    try:
        numbers = [Decimal(text.replace("−", "-").replace(",", ".")) for text in texts]
    except InvalidOperation:
        return None
    if not numbers:
        return None
    last = min(int(number.as_tuple().exponent) for number in numbers)
    whole = [int(number.scaleb(-last)) for number in numbers]
    common = gcd(*whole)
    shares = len(numbers) >= ENOUGH and len(set(whole)) > 2
    return float(_usual(common) if shares and common > 1 else 1) * 10.0**last


def _usual(common: int) -> int:
    """The largest usual step that divides a number."""
    ladder: list[int] = [step * int(10**power) for power in range(len(str(common))) for step in USUAL]
    return max(step for step in ladder if common % step == 0)
