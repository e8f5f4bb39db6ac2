"""The CSV of a sweep with its stations filled in and its readings left blank, and the stations of one that is there.

Takes a frame and a sweep; gives text whose columns the reader takes, in µm and mm or thou and inch.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from framevis.frame import Frame, PullSweep
from framevis.reading.csv_columns import columns_of
from framevis.reading.csv_numbers import Numbers
from framevis.reading.csv_table import read_table
from framevis.reading.door import Door, one_line
from framevis.reading.pull_readings import pull_columns
from framevis.sheets.stations import AnySweep
from framevis.units import MM_PER_LENGTH_UNIT

UNITS = {  # of the readings, in a frame in mm and in one in inches
    "indicator": ("um", "thou"),
    "bridge": ("um", "thou"),
    "gap": ("um", "thou"),
    "mouth": ("mm", "in"),
    "level_along": ("mm_per_m", "in_per_ft"),
    "level_across": ("mm_per_m", "in_per_ft"),
    "pull": ("n", "lbf"),
}
SHOWN = {"um": "µm", "mm_per_m": "mm/m", "in_per_ft": "in/ft", "n": "N"}
FORCES = ("breakaway", "running", "breakaway_back", "running_back")


def reading_unit(frame: Frame, sweep: AnySweep) -> str:
    """The unit in which readings are to be written, as in a column's name."""
    kind = "pull" if isinstance(sweep, PullSweep) else sweep.kind
    return UNITS[kind][0 if frame.length_unit == "mm" else 1]


def shown_unit(unit: str) -> str:
    return SHOWN.get(unit, unit)


def columns(frame: Frame, sweep: AnySweep) -> tuple[str, ...]:
    """The names of the columns for readings."""
    unit = reading_unit(frame, sweep)
    if isinstance(sweep, PullSweep):
        return tuple(f"{force}_{unit}" for force in FORCES)
    return (f"go_{unit}", f"no_go_{unit}") if sweep.kind == "gap" else (f"reading_{unit}",)


def blank_csv(frame: Frame, sweep: AnySweep, rows: Sequence[float], plus: str) -> str:
    """The file as text. `plus`: what a positive reading means, for a comment line."""
    readings = columns(frame, sweep)
    header = (f"station_{frame.length_unit}", *readings, "note", "temperature_c")
    blanks = "," * (len(header) - 1)
    lines = [f"# {one_line(plus)}", ",".join(header), *(f"{at:.10g}{blanks}" for at in rows)]
    return "\n".join(lines) + "\n"


def rows_of(path: Path, sweep: AnySweep, frame: Frame, shown: str) -> tuple[float, ...]:
    """The stations of a file that is there, row by row, in the frame's own unit. Raises `BadInput` if it is wrong."""
    door = Door(shown)
    table = read_table(path, door)
    found = None
    if table is not None:
        found = pull_columns(table, door) if isinstance(sweep, PullSweep) else columns_of(table, sweep, door)
    if table is None or found is None:
        door.close()
        return ()
    numbers, at = Numbers(table, door), found.station
    read = [numbers.read(row, at.index) for row in table.rows if row.cells[at.index]]
    door.close()
    factor = at.factor / MM_PER_LENGTH_UNIT[frame.length_unit]
    return tuple(round(each * factor, 4) for each in read if each is not None)
