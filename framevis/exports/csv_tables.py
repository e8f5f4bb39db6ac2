"""A study as two tables: OUT.csv with the deviations, OUT_blocks.csv with what every block meets.

OUT.csv has a row for each rail and station: the rail's curves with their standard uncertainties, and its beam's
functions there. OUT_blocks.csv has a row for each block and position of its carriage. Units stand in the columns'
names; commas separate, the decimal mark is a point, the text is UTF-8.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable, Iterator
from pathlib import Path

from framevis.curves import beam_curves, rail_curves
from framevis.outfile import beside
from framevis.report_json import MISFIT_NAMES
from framevis.study import Study
from framevis.verdicts import CarriageAssessment

Cell = str | float
BEAM_COLUMNS = {
    "bow_lateral": "beam_bow_lateral_um",
    "bow_height": "beam_bow_height_um",
    "twist": "beam_twist_mrad",
    "opening": "beam_opening_mrad",
}
CURVE_COLUMNS = {"lateral": "um", "height": "um", "roll": "mrad"}
DEVIATION_COLUMNS = (
    "stage",
    "beam",
    "rail",
    "station_mm",
    *(column for name, unit in CURVE_COLUMNS.items() for column in (f"{name}_{unit}", f"{name}_u_{unit}")),
    *(f"{name}_measured" for name in CURVE_COLUMNS),
    *BEAM_COLUMNS.values(),
)
BLOCK_NUMBERS = ("drag_n", "drag_ratio", "drag_ratio_p95", "peak_pressure_mpa", "static_safety")
BLOCK_COLUMNS = (
    "stage",
    "carriage",
    "block",
    "rail",
    "verdict",
    "p_tight",
    "p_binding",
    "carriage_position_mm",
    "rail_station_mm",
    *(f"misfit_{name}" for name in MISFIT_NAMES),
    *BLOCK_NUMBERS,
)


def blocks_path(path: Path) -> Path:
    """OUT.csv → OUT_blocks.csv."""
    return path.with_name(f"{path.stem}_blocks{path.suffix}")


def write_tables(study: Study, path: Path) -> None:
    """Write both tables, or none."""
    with beside(path) as first, beside(blocks_path(path)) as second:
        _write(first, DEVIATION_COLUMNS, deviation_rows(study))
        _write(second, BLOCK_COLUMNS, block_rows(study))


def deviation_rows(study: Study) -> Iterator[list[Cell]]:
    """Rows of `DEVIATION_COLUMNS`, rail after rail."""
    for rail in study.frame.rails:
        curves = rail_curves(study, rail)
        three = (curves.lateral, curves.height, curves.roll)
        beam = beam_curves(study, rail.beam)
        for i, station in enumerate(curves.stations_mm):
            numbers = [value for curve in three for value in (curve.mean[i], curve.u[i])]
            measured = ["yes" if curve.is_measured else "no" for curve in three]
            functions = [beam[kind][i] for kind in BEAM_COLUMNS]
            yield [study.stage, rail.beam.name, rail.name, station, *numbers, *measured, *functions]


def block_rows(study: Study) -> Iterator[list[Cell]]:
    """Rows of `BLOCK_COLUMNS`, block after block."""
    for carriage in study.carriages:
        yield from _blocks_of(study.stage, carriage)


def _blocks_of(stage: str, carriage: CarriageAssessment) -> Iterator[list[Cell]]:
    for block in carriage.blocks:
        said: list[Cell] = [stage, carriage.name, block.name, block.block.rail.name, block.verdict]
        chances = [block.p_tight, block.p_binding]
        for i, position in enumerate(carriage.stations_mm):
            station = carriage.carriage.station(block.block, float(position))
            numbers = [getattr(block, name)[i] for name in BLOCK_NUMBERS]
            yield [*said, *chances, position, station, *block.misfit[:, i], *numbers]


def _write(path: Path, columns: Iterable[str], rows: Iterable[list[Cell]]) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(columns)
        writer.writerows([_cell(cell) for cell in row] for row in rows)


def _cell(value: Cell) -> str:
    """Numbers to 1e-6; a name that a spreadsheet would take for a formula is set off with an apostrophe."""
    if isinstance(value, str):
        return f"'{value}" if value[:1] in ("=", "+", "-", "@") else value
    return f"{round(float(value), 6) + 0.0:.10g}"
