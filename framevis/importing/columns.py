"""Which columns of a file hold the stations, the readings and the notes.

Takes rows, headings and what the user says; gives `Found`, or raises `BadInput` that says how to name them.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from framevis.errors import BadInput, Problem, problem
from framevis.frame import PullSweep, Sweep
from framevis.importing.headings import FORCE_WORDS, GAP_WORDS, LOOKED_AT, NOTE, READING, STATION, Heading, folded
from framevis.importing.numbers import is_number
from framevis.importing.source import Row
from framevis.importing.wishes import Wishes
from framevis.reading.door import did_you_mean, quoted

_AGAIN = re.compile(r"reading(?: [2-9]| [1-9][0-9])?")
NEVER = ("no", "nr", "number", "index", "time", "date", "temperature", "temp", "serial", "id")


@dataclass(frozen=True)
class Found:
    """Places of columns from 0. `labels`: what the readings are called in the readings file, one a column."""

    station: int | None
    readings: tuple[int, ...]
    labels: tuple[str, ...]
    note: int | None
    names: tuple[Heading, ...]

    def heading(self, column: int) -> Heading:
        return self.names[column]

    def shown(self, column: int) -> str:
        """A column as it is told to the user."""
        name = self.names[column].shown
        return f"column {column + 1}" + (f" {quoted(name, 40)}" if name else "")


def find_columns(
    file: str, rows: Sequence[Row], names: tuple[Heading, ...], sweep: Sweep | PullSweep, wishes: Wishes
) -> Found:
    """The columns of a file: those that the user names, those whose headings say it, or the only ones possible."""
    numeric = [column for column in _numeric(rows, names) if names[column].name not in NEVER]
    has_stations = wishes.start is None
    note = next((i for i, head in enumerate(names) if head.name in NOTE), None)
    station = _resolved(wishes.station, "--station", names) if wishes.station else None
    if station is None and has_stations:
        station = next((i for i in numeric if names[i].name in STATION), None)
    readings = [_resolved(each, "--reading", names) for each in wishes.readings]
    labels = _labels(sweep, len(readings))
    if not readings:
        by_heading = _by_heading([i for i in numeric if i != station], names, sweep)
        readings, labels = list(by_heading), tuple(by_heading.values())
    left = [i for i in numeric if i not in (station, *readings)]
    if station is None and has_stations and left and len(left) + len(readings) == 1 + max(len(readings), 1):
        station = left.pop(0)
    if not readings and len(left) == 1:
        readings, labels = left, _labels(sweep, 1)
    if not readings or (station is None and has_stations):
        raise BadInput(_unclear(file, numeric, names, sweep, station))
    if station in readings or len(set(readings)) < len(readings):
        raise BadInput(problem(file, "one column is named for two things", "name each by --station or --reading once"))
    return Found(station, tuple(readings), labels, note, names)


def _numeric(rows: Sequence[Row], names: Sequence[Heading]) -> list[int]:
    """The columns that hold mostly numbers."""
    found = []
    for column in range(len(names)):
        cells = [row.cells[column] for row in rows[:LOOKED_AT] if column < len(row.cells) and row.cells[column]]
        if cells and 2 * sum(is_number(cell) for cell in cells) > len(cells):
            found.append(column)
    return found


def _by_heading(columns: Sequence[int], names: Sequence[Heading], sweep: Sweep | PullSweep) -> dict[int, str]:
    """Columns whose headings say that they are readings, each with its label; empty where they don't settle it."""
    if isinstance(sweep, PullSweep):
        forces = {i: FORCE_WORDS[names[i].name] for i in columns if names[i].name in FORCE_WORDS}
        if forces and len(set(forces.values())) == len(forces):
            return forces
    elif sweep.kind == "gap":
        feelers = {i: GAP_WORDS[names[i].name] for i in columns if names[i].name in GAP_WORDS}
        if set(feelers.values()) == {"go", "no_go"} and len(feelers) == 2:
            return feelers
    again = [i for i in columns if _AGAIN.fullmatch(names[i].name)]
    if again and not isinstance(sweep, PullSweep) and sweep.kind != "gap":
        return dict(zip(again, _labels(sweep, len(again)), strict=True))
    named = [i for i in columns if names[i].name.split(" ")[0] in READING]
    return dict.fromkeys(named, _labels(sweep, 1)[0]) if len(named) == 1 else {}


def _labels(sweep: Sweep | PullSweep, count: int) -> tuple[str, ...]:
    """What so many columns of readings are called in the readings file."""
    if isinstance(sweep, PullSweep):
        usual = ("running", "running_back", "breakaway", "breakaway_back")
        return usual[:count] if count <= len(usual) else (*usual, *(f"running_{n}" for n in range(2, count - 2)))
    if sweep.kind == "gap" and count == 2:
        return "go", "no_go"
    return tuple("reading" if n == 1 else f"reading_{n}" for n in range(1, count + 1))


def _resolved(wish: str, option: str, names: Sequence[Heading]) -> int:
    """The column that a heading or a number from 1 names."""
    wanted = folded(wish)
    same = [i for i, head in enumerate(names) if wanted and wanted in (head.name, folded(head.shown))]
    if len(same) == 1:
        return same[0]
    if wish.isascii() and wish.isdigit() and 1 <= int(wish[:6]) <= len(names):
        return int(wish[:6]) - 1
    if same:
        what = f"{len(same)} columns are headed {quoted(wish)}"
        raise BadInput(problem(option, what, "name it by its number, counted from 1"))
    headed = [head.shown for head in names if head.shown]
    todo = f"{did_you_mean(wish, headed)}, or a number from 1 to {len(names)}" if headed else "name it by its number"
    raise BadInput(problem(option, f"there is no column {quoted(wish)}", todo))


def _unclear(
    file: str, numeric: Sequence[int], names: Sequence[Heading], sweep: Sweep | PullSweep, station: int | None
) -> Problem:
    if len(numeric) <= 1 and station is None:
        return problem(file, "has one column of numbers and no stations", "give --start and --step of its stations")
    listed = ", ".join(f"{i + 1} {quoted(names[i].shown, 30)}" if names[i].shown else f"{i + 1}" for i in numeric[:12])
    what = f"it isn't clear which of its columns of numbers ({listed}) are meant"
    todo = "name them by --station and --reading; with decimal commas the separator must be another mark"
    return problem(file, what, todo)
