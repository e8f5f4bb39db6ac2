"""A readings file that is being filled in: cells change, everything else stays as it stands.

Takes the text of a file that its reader has found sound, or stations for a new one; gives the text to write. Lines,
comments, columns, separators and decimal sign are those of the file.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import cached_property

from framevis.reading.csv_table import label
from framevis.units import MM_PER_LENGTH_UNIT

_COMMA_NUMBER = re.compile(r"[+-]?([0-9]+,[0-9]*|,[0-9]+)([eE][+-]?[0-9]{1,4})?")
_BLANK = re.compile(r'[\s,;"]*')
_LINES = re.compile("\r\n|\n|\r")


@dataclass(frozen=True)
class Sheet:
    """The lines of a file, which of them is the header, and which are rows."""

    lines: tuple[str, ...]
    newline: str = "\n"
    mark: str = ""  # the byte order mark, where the file has one

    @property
    def text(self) -> str:
        return self.mark + self.newline.join(self.lines)

    @cached_property
    def header(self) -> int:
        """The line that names the columns."""
        return next(i for i, line in enumerate(self.lines) if not _BLANK.fullmatch(line.split("#", 1)[0]))

    @property
    def is_empty(self) -> bool:
        """Whether there are nothing but comments."""
        return all(_BLANK.fullmatch(line.split("#", 1)[0]) for line in self.lines)

    @cached_property
    def separator(self) -> str:
        return ";" if ";" in self.lines[self.header].split("#", 1)[0] else ","

    @cached_property
    def columns(self) -> tuple[str, ...]:
        found = _split(self.lines[self.header], self.separator)[0]
        while found and not found[-1]:
            found.pop()
        return tuple(found)

    @cached_property
    def rows(self) -> tuple[int, ...]:
        """The lines that are rows, in the file's order."""
        below = range(self.header + 1, len(self.lines))
        return tuple(i for i in below if any(_split(self.lines[i], self.separator)[0]))

    @cached_property
    def decimal(self) -> str:
        """The decimal sign: a comma only where semicolons separate and a comma stands already."""
        numeric = [column for column in self.columns if column != "note"]
        found = any(_COMMA_NUMBER.fullmatch(self.cell(row, name)) for row in range(len(self.rows)) for name in numeric)
        return "," if self.separator == ";" and found else "."

    def cells(self, row: int) -> list[str]:
        """The cells of a row, as many as there are columns."""
        found = _split(self.lines[self.rows[row]], self.separator)[0]
        return [*found, *[""] * (len(self.columns) - len(found))][: len(self.columns)]

    def cell(self, row: int, column: str) -> str:
        return self.cells(row)[self.columns.index(column)]

    def value(self, row: int, column: str) -> float | None:
        """The number in a cell, in the column's unit; None where it is empty."""
        text = self.cell(row, column).replace("−", "-").replace(",", ".")
        return float(text) if text else None

    def station_mm(self, row: int) -> float:
        name = self.station_column
        return (self.value(row, name) or 0.0) * MM_PER_LENGTH_UNIT[name.removeprefix("station_")]

    @property
    def station_column(self) -> str:
        return next(column for column in self.columns if label(column) == "station")

    def with_values(self, row: int, values: Mapping[str, Decimal | None]) -> Sheet:
        """The same with numbers in some cells of a row, None: empty."""
        texts = {
            column: "" if value is None else format(value, "f").replace(".", self.decimal)
            for column, value in values.items()
        }
        return self.with_texts(row, texts)

    def with_texts(self, row: int, texts: Mapping[str, str]) -> Sheet:
        cells = self.cells(row)
        for column, text in texts.items():
            cells[self.columns.index(column)] = text
        comment = _split(self.lines[self.rows[row]], self.separator)[1]
        return self._with_line(self.rows[row], _joined(cells, self.separator, comment))

    def with_note(self, row: int, note: str) -> Sheet:
        """The same with a note at a row, after the one that stands there; in a new last column if there is none."""
        sheet = self if "note" in self.columns else self.with_header((*self.columns, "note"))
        there = sheet.cell(row, "note")
        return sheet.with_texts(row, {"note": f"{there}; {note}" if there else note})

    def with_header(self, columns: Sequence[str]) -> Sheet:
        comment = _split(self.lines[self.header], self.separator)[1]
        return self._with_line(self.header, _joined(columns, self.separator, comment))

    def with_comment(self, row: int, comment: str) -> Sheet:
        """The same with a comment line before a row."""
        at = self.rows[row]
        return replace(self, lines=(*self.lines[:at], f"# {comment}", *self.lines[at:]))

    def comment_before(self, row: int, start: str) -> str | None:
        """The last comment line before a row that starts so."""
        before = [line[2:] for line in self.lines[: self.rows[row]] if line.startswith(f"# {start}")]
        return before[-1] if before else None

    def _with_line(self, at: int, line: str) -> Sheet:
        return replace(self, lines=(*self.lines[:at], line, *self.lines[at + 1 :]))


def sheet_from(raw: bytes) -> Sheet:
    """The sheet in a file that its reader has found sound."""
    text = raw.decode("utf-8")
    mark = "\ufeff" if text.startswith("\ufeff") else ""
    newline = next(iter(_LINES.findall(text)), "\n")
    return Sheet(tuple(_LINES.split(text.removeprefix(mark))), newline, mark)


def new_sheet(stations: Sequence[str], station_unit: str, columns: Sequence[str]) -> Sheet:
    """A sheet with its stations (as texts in `station_unit`) and nothing read yet."""
    rows = [",".join([station, *[""] * len(columns)]) for station in stations]
    return Sheet((",".join([f"station_{station_unit}", *columns]), *rows, ""))


def _split(line: str, separator: str) -> tuple[list[str], str]:
    """Cells, blanks and quotation marks taken off, and the comment behind them, by the reader's own rules."""
    cells: list[str] = []
    cell, inside = "", False
    for place, mark in enumerate(line):
        if mark == "#" and not inside:
            return [_unquoted(each) for each in (*cells, cell)], line[place:]
        inside ^= mark == '"'
        if mark == separator and not inside:
            cells.append(cell)
            cell = ""
        else:
            cell += mark
    return [_unquoted(each) for each in (*cells, cell)], ""


def _unquoted(cell: str) -> str:
    text = cell.strip()
    if len(text) >= 2 and text[0] == text[-1] == '"':
        return text[1:-1].replace('""', '"').strip()
    return text


def _joined(cells: Sequence[str], separator: str, comment: str) -> str:
    return separator.join(_quoted(cell, separator) for cell in cells) + (f" {comment}" if comment else "")


def _quoted(cell: str, separator: str) -> str:
    """A cell, between quotation marks where it needs them; decimal commas stand bare, as elsewhere in such a file."""
    if not set(cell) & {",", ";", "#", '"'} or (separator == ";" and _COMMA_NUMBER.fullmatch(cell.replace("−", "-"))):
        return cell
    return '"' + cell.replace('"', '""') + '"'
