"""What the columns of a file are: which row names them, which holds stations, readings, notes, and their units.

Takes rows of cells; gives the first row of data, and `Heading`s.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from framevis.entering.unit_words import Dimension, unit_of
from framevis.importing.numbers import is_number
from framevis.importing.source import Row

STATION = ("station", "position", "pos", "place", "location", "distance", "along", "at", "s", "x")
READING = (
    "reading", "value", "measurement", "measured", "measure", "deviation", "indicator", "gauge", "dial", "result",
    "lateral", "height", "level", "roll", "tilt", "mouth", "gap", "force", "pull", "y", "z",
)  # fmt: skip
NOTE = ("note", "notes", "remark", "remarks", "comment", "comments")
FORCE_WORDS = {
    "running": "running", "run": "running", "running back": "running_back", "back": "running_back",
    "breakaway": "breakaway", "breakaway back": "breakaway_back",
}  # fmt: skip
GAP_WORDS = {"go": "go", "no go": "no_go", "nogo": "no_go", "not go": "no_go"}
MOST_CHARACTERS = 120
LOOKED_AT = 1000  # rows that tell what a column is
_BRACKET = re.compile(r"(.*?)\s*[\[(<{]\s*([^\])>}]+?)\s*[\])>}]\s*")
_BEHIND = re.compile(r"(.*?)[\s_,/:]+(?:in\s+)?(mm_per_m|in_per_ft|um_per_m|\S+)")


@dataclass(frozen=True)
class Heading:
    """A column's name without its unit, folded; the unit as written (empty: none)."""

    shown: str
    name: str
    unit: str


def first_data_row(rows: Sequence[Row]) -> int:
    """The first row with numbers: two of them, or one where most rows have one."""
    counts = [sum(is_number(cell) for cell in row.cells) for row in rows[:LOOKED_AT]]
    usual = Counter(count for count in counts if count)
    needed = min(2, max(usual, key=lambda count: (usual[count], count), default=1))
    return next((i for i, count in enumerate(counts) if count >= needed), len(rows))


def headings(rows: Sequence[Row], data: int, dimension: Dimension) -> tuple[Heading, ...]:
    """The names of the columns, from the row above the data, and its units from a row of their own if there is one."""
    width = max((len(row.cells) for row in rows[data:]), default=0)
    above = rows[data - 1].cells if data else ()
    if data >= 2 and _are_units(above, dimension):
        names = [_heading(cell, dimension) for cell in rows[data - 2].cells]
        units = [*(cell.strip("[]() ") for cell in above), *[""] * width]
        names = [Heading(name.shown, name.name, name.unit or unit) for name, unit in zip(names, units, strict=False)]
    elif _are_units(above, dimension):
        names = [Heading(cell, "", cell.strip("[]() ")) for cell in above]
    else:
        names = [_heading(cell, dimension) for cell in above]
    return (*names, *[Heading("", "", "")] * (width - len(names)))[: max(width, 1)]


def _are_units(cells: Sequence[str], dimension: Dimension) -> bool:
    words = [cell.strip("[]() ") for cell in cells if cell]
    return bool(words) and all(known_unit(word, dimension) for word in words)


def known_unit(word: str, dimension: Dimension) -> tuple[str, Decimal] | None:
    """A unit of the reading's dimension or of a station."""
    return unit_of(word, dimension) or unit_of(word, "station")


def _heading(cell: str, dimension: Dimension) -> Heading:
    """Reading [mm], Reading (mm), reading_mm, Reading in mm, Reading / mm, or a name or a unit alone."""
    cell = cell[:MOST_CHARACTERS]
    if len(cell) > 1 and unit_of(cell, dimension):
        return Heading(cell, "", cell)
    found = _BRACKET.fullmatch(cell)
    if found:
        return Heading(cell, folded(found[1]), found[2])
    behind = _BEHIND.fullmatch(cell.strip())
    if behind and behind[1] and any(known_unit(behind[2], each) for each in (dimension, "length", "angle", "force")):
        return Heading(cell, folded(behind[1]), behind[2])
    return Heading(cell, folded(cell), "")


def folded(name: str) -> str:
    """A name as it is compared: no capitals, no marks between words."""
    return " ".join(re.sub(r"[\W_]+", " ", name.casefold()).split())
