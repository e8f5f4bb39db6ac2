"""What a file is understood to say: its stations and readings, in the units of the readings file that it becomes.

Takes a `Source`, what the user says about it, and the sweep; gives `Understood`, or raises `BadInput` with everything
that is wrong, each with its line.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from framevis.entering.unit_words import dimension_of, trimmed
from framevis.errors import BadInput, problem
from framevis.frame import Frame, PullSweep, Sweep
from framevis.importing.cells import cell, read_rows
from framevis.importing.columns import Found, find_columns
from framevis.importing.headings import first_data_row, headings
from framevis.importing.numbers import Decision, decimal_sign
from framevis.importing.source import Row, Source
from framevis.importing.units_found import find_units
from framevis.importing.wishes import Wishes
from framevis.reading.door import Door, quoted
from framevis.units import MM_PER_LENGTH_UNIT

USUAL_STEP = {"mm": Decimal(100), "in": Decimal(4)}  # common practice
NOTHING = "holds no readings", "is it the right file, and the right column?"


@dataclass(frozen=True)
class Entry:
    """One row: its line in the file, its station, its readings (None: empty), its note."""

    line: int
    station: Decimal
    readings: tuple[Decimal | None, ...]
    note: str


@dataclass(frozen=True)
class Understood:
    """The rows in the order of the file; `labels` and units as the readings file will name them.

    `told`: how the file was understood, a line each; `doubts`: what could as well be meant otherwise.
    """

    source: Source
    entries: tuple[Entry, ...]
    labels: tuple[str, ...]
    unit: str
    station_unit: str
    told: tuple[str, ...]
    doubts: tuple[str, ...]


def understand(source: Source, frame: Frame, sweep: Sweep | PullSweep, wishes: Wishes) -> Understood:
    """What a file says. Raises `BadInput`."""
    dimension, door = dimension_of(sweep), Door(quoted(source.name, 120))
    data = first_data_row(source.rows)
    rows = source.rows[data:]
    if not rows:
        raise BadInput(problem(door.file, *NOTHING))
    found = find_columns(door.file, rows, headings(source.rows, data, dimension), sweep, wishes)
    sign = _sign(source, rows, found, wishes)
    if sign.sign is None:
        what = f"decimal points and commas are mixed ({quoted(sign.example)} is among its numbers)"
        raise BadInput(problem(door.file, what, "give --decimal . or --decimal ,"))
    read = read_rows(rows, found, sign.sign, _first_and_step(wishes, frame), door)
    _close(door)
    if not any(reading for each in read for reading in each.readings):
        raise BadInput(problem(door.file, *NOTHING))
    units = find_units(read, found, dimension, wishes, frame.length_unit, door)
    entries = tuple(
        Entry(
            each.line,
            _from_start(units.station_of(each.station), units.station_unit, sweep, wishes),
            tuple(units.reading(reading, column) for column, reading in enumerate(each.readings)),
            each.note,
        )
        for each in read
    )
    told = (*_told(source, found, sign, rows), *units.told, *_turned_told(wishes))
    return Understood(source, entries, found.labels, units.unit, units.station_unit, told, _doubts(sign))


def _close(door: Door) -> None:
    if door.problems:
        raise BadInput(door.listed(8))


def _sign(source: Source, rows: tuple[Row, ...], found: Found, wishes: Wishes) -> Decision:
    """The decimal sign: as the user says, as a spreadsheet has it, or found out."""
    if wishes.decimal is not None:
        return Decision(wishes.decimal, True)
    columns = [*found.readings, *([] if found.station is None else [found.station])]
    cells = [cell(row, column) for row in rows for column in columns]
    if source.decimal is not None and not any("," in each for each in cells):
        return Decision(source.decimal, True)
    return decimal_sign(cells)


def _doubts(sign: Decision) -> tuple[str, ...]:
    if sign.sure:
        return ()
    return (f"{quoted(sign.example)} is taken for a decimal comma; --decimal , says so, --decimal . that it is not",)


def _first_and_step(wishes: Wishes, frame: Frame) -> tuple[Decimal, Decimal] | None:
    """First station and step where the file has none."""
    if wishes.start is None:
        return None
    step = USUAL_STEP[frame.length_unit] if wishes.step is None else Decimal(repr(wishes.step))
    return trimmed(Decimal(repr(wishes.start))), trimmed(step)


def _from_start(station: Decimal, unit: str, sweep: Sweep | PullSweep, wishes: Wishes) -> Decimal:
    """A station counted from the beam's start."""
    if not wishes.reverse:
        return station
    beam = sweep.carriage.beam if isinstance(sweep, PullSweep) else sweep.station_beam
    return trimmed(Decimal(repr(round(beam.length_mm / MM_PER_LENGTH_UNIT[unit], 6))) - station)


def _told(source: Source, found: Found, sign: Decision, rows: tuple[Row, ...]) -> tuple[str, ...]:
    decimals = "" if source.decimal else f", decimal {'comma' if sign.sign == ',' else 'point'}"
    stations = "counted" if found.station is None else f"from {found.shown(found.station)}"
    readings = ", ".join(found.shown(column) for column in found.readings)
    used = {found.station, found.note, *found.readings}
    left = [found.shown(i) for i, head in enumerate(found.names) if i not in used and head.shown]
    return (
        f"{source.how}{decimals}; data from {source.row_word} {rows[0].line} on",
        f"stations {stations}; readings from {readings}",
        *([f"left out: {', '.join(left[:10])}{', …' if len(left) > 10 else ''}"] if left else []),
    )


def _turned_told(wishes: Wishes) -> tuple[str, ...]:
    if not wishes.reverse:
        return ()
    return ("stations are counted from the beam's end and turned; signs stay, plus as seen from the beam's start",)
