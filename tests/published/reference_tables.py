"""Reads the tables of published values that stand beside these tests."""

from __future__ import annotations

import csv
from pathlib import Path

DATA = Path(__file__).parent / "data"


def table(name: str) -> list[dict[str, str]]:
    """The rows of a table, all cells as text: a blank cell is a value that the source doesn't give."""
    with (DATA / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def columns(name: str, *wanted: str) -> list[list[float]]:
    """Columns of a table that has no blanks, as numbers."""
    rows = table(name)
    return [[float(row[column]) for row in rows] for column in wanted]
