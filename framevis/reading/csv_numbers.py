"""The numbers in a CSV table: decimal point or comma, and what is wrong with a cell that holds none.

Takes a `CsvTable` and a `Door`; gives floats in the unit of the column.
"""

from __future__ import annotations

import math
import re

from framevis.reading.csv_table import DECIMAL_COMMA, CsvTable, Row, label
from framevis.reading.door import Door, quoted

_NUMBER = re.compile(r"[+-]?([0-9]+(\.[0-9]*)?|\.[0-9]+)([eE][+-]?[0-9]{1,4})?")
_COMMA_NUMBER = re.compile(r"[+-]?([0-9]+,[0-9]*|,[0-9]+)([eE][+-]?[0-9]{1,4})?")
_THOUSANDS = re.compile(r"[+-]?[0-9]{1,3}([.,' \u00a0\u2009\u202f\u2019][0-9]{3})+([.,][0-9]*)?")
_WITH_UNIT = re.compile(r"[+-]?[0-9.,]+\s*[^\W0-9]{1,12}|[+-]?[0-9.,]+\s*[°\"'%/]+.{0,9}")
_NOT_FINITE = re.compile(r"[+-]?(nan|inf|infinity)", re.IGNORECASE)


class Numbers:
    """Reads the cells of one table as numbers, all with the same decimal sign."""

    def __init__(self, table: CsvTable, door: Door) -> None:
        self.table = table
        self.door = door
        self.decimal = "," if table.separator == ";" and _has_commas(table) else "."

    def read(self, row: Row, column: int) -> float | None:
        """The number in a cell; None where there is none, which is noted at the door."""
        text = row.cells[column].replace("−", "-")
        plain = text.replace(",", ".") if self.decimal == "," and _COMMA_NUMBER.fullmatch(text) else text
        is_mixed = self.decimal == "," and "." in text
        if _NUMBER.fullmatch(plain) and not is_mixed and math.isfinite(float(plain)):
            return float(plain)
        name = label(self.table.columns[column])
        what, todo = self._fault(text)
        self.door.refuse_line(row.line, f"{name} {quoted(row.cells[column])} {what}", todo)
        return None

    def _fault(self, text: str) -> tuple[str, str]:
        if _NUMBER.fullmatch(text) and self.decimal == ",":
            return "has a decimal point in a file of decimal commas", "use one decimal sign throughout"
        if _NUMBER.fullmatch(text) or _NOT_FINITE.fullmatch(text):
            return "is not a finite number", "correct it, or leave the cell empty"
        if self.table.separator == "," and ";" in text:
            return "is not a number", "the header has commas as separators: use the same in every row"
        if self.table.separator == "," and _COMMA_NUMBER.fullmatch(text):
            return "is not a number", DECIMAL_COMMA
        if _THOUSANDS.fullmatch(text):
            return "is not a number", "write thousands without a separator"
        if _WITH_UNIT.fullmatch(text):
            return "is not a number", "put the unit into the column's name and only the number into the cell"
        return "is not a number", "correct it, or leave the cell empty"


def _has_commas(table: CsvTable) -> bool:
    numeric = [i for i, column in enumerate(table.columns) if column != "note"]
    return any(_COMMA_NUMBER.fullmatch(row.cells[i].replace("−", "-")) for row in table.rows for i in numeric)
