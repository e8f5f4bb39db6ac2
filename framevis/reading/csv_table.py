"""A CSV file as a table of texts: bytes, separators, quotes, comments and columns, but no meaning yet.

Takes a path and a `Door`; gives the header and the rows with their line numbers. Points, commas and the
meaning of numbers are for `csv_numbers`.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from framevis.reading.door import Door, quoted
from framevis.units import MRAD_PER_UNIT, N_PER_UNIT, UM_PER_UNIT

MOST_BYTES = 4_000_000
MOST_ROWS = 100_000
MOST_PROBLEMS = 1000  # lines that are wrong, after which a file is given up
UNITS = {**UM_PER_UNIT, **MRAD_PER_UNIT, **N_PER_UNIT}
_UNIT_END = re.compile("_(?:" + "|".join(sorted(UNITS, key=len, reverse=True)) + ")$")
_HALF_NUMBER = re.compile(r"[+\-−]?[0-9]+")
_BLANK = re.compile(r'[\s,;"]*')
OPEN_QUOTE = ("a quotation mark is not closed", "close it on the same line")
DECIMAL_COMMA = "with a decimal comma the separators must be semicolons"


@dataclass(frozen=True)
class Row:
    """The cells of a line, filled up with empty ones to as many as the header has; `count` stand in the line."""

    line: int
    cells: tuple[str, ...]
    count: int


@dataclass(frozen=True)
class CsvTable:
    """Column names and rows, in the order of the file."""

    columns: tuple[str, ...]
    line: int  # of the header
    rows: tuple[Row, ...]
    separator: str


def label(column: str) -> str:
    """What a column is about: its name without the unit."""
    return _UNIT_END.sub("", column)


def read_table(path: Path, door: Door) -> CsvTable | None:
    """The table in a file; None where there is none, noted at the door unless it holds nothing but comments."""
    text = read_text(path, door, MOST_BYTES)
    if text is not None and not text.strip():
        door.refuse_line(None, "is empty", "put its header and readings in, or take the file out")
        return None
    return None if text is None else _table(text, door)


def read_text(path: Path, door: Door, most_bytes: int) -> str | None:
    """The text of a file in UTF-8, or None and why not."""
    raw = _bytes(path, door, most_bytes)
    if raw is None:
        return None
    if raw[:2] in {b"\xff\xfe", b"\xfe\xff"}:
        door.refuse_line(None, "is UTF-16 text", "save it as UTF-8")
        return None
    if b"\x00" in raw:
        door.refuse_line(None, "is not a text file", "save it as plain text in UTF-8")
        return None
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as bad:
        line = raw.count(b"\n", 0, bad.start) + 1
        door.refuse_line(line, "is not UTF-8 text", "save the file as plain text in UTF-8")
        return None


def _bytes(path: Path, door: Door, most_bytes: int) -> bytes | None:
    try:
        if path.is_dir():
            door.refuse_line(None, "is a folder", "there should be a file of this name")
        elif not path.exists():
            door.refuse_line(None, "there is no such file", "add it, or correct its name")
        elif not path.is_file():
            door.refuse_line(None, "is not an ordinary file", "put a plain file in its place")
        elif (size := path.stat().st_size) > most_bytes:
            todo = f"at most {most_bytes / 1e6:g} MB are read; is it the right file?"
            door.refuse_line(None, f"has {size / 1e6:.0f} MB", todo)
        else:
            return path.read_bytes()
    except (OSError, ValueError) as bad:
        why = bad.strerror if isinstance(bad, OSError) else None
        door.refuse_line(None, f"can't be read ({why or 'its name is not valid'})", "check its permissions")
    return None


def _table(text: str, door: Door) -> CsvTable | None:
    lines = re.split("\r\n|\n|\r", text)
    start = next((i for i, line in enumerate(lines) if not _BLANK.fullmatch(line.split("#", 1)[0])), None)
    separator = None if start is None else _separator(lines[start], start + 1, door)
    if start is None or separator is None:
        return None
    columns = _cells(lines[start], separator)
    if columns is None:
        door.refuse_line(start + 1, *OPEN_QUOTE)
        return None
    while columns and columns[-1] == "":
        columns.pop()
    rows: list[Row] = []
    for number, line in enumerate(lines[start + 1 :], start + 2):
        if not line.split("#", 1)[0].strip(f" \t{separator}"):  # nothing but blanks, separators, a comment
            continue
        row = _row(line, number, columns, separator, door)
        rows.extend([row] if row else [])
        if len(door.problems) > MOST_PROBLEMS:
            return None
        if len(rows) > MOST_ROWS:
            door.refuse_line(number, f"has more than {MOST_ROWS} rows", "is it the right file?")
            return None
    return CsvTable(tuple(columns), start + 1, tuple(rows), separator)


def _separator(header: str, line: int, door: Door) -> str | None:
    text = header.split("#", 1)[0]
    if ";" in text:
        return ";"
    if "\t" in text.strip() and "," not in text:
        door.refuse_line(line, "the columns are separated by tabs", "save the file with commas or semicolons")
        return None
    return ","


def _cells(line: str, separator: str) -> list[str] | None:
    """The cells of a line, blanks and comment taken off; None where a quotation mark is not closed."""
    if '"' not in line:
        return [cell.strip() for cell in line.split("#", 1)[0].split(separator)]
    cells, cell, inside = [], "", False
    for mark in line:
        if mark == '"':
            inside = not inside
            cell += mark
        elif inside or mark not in {separator, "#"}:
            cell += mark
        elif mark == "#":
            break
        else:
            cells.append(cell)
            cell = ""
    return None if inside else [_unquoted(each) for each in (*cells, cell)]


def _unquoted(cell: str) -> str:
    text = cell.strip()
    if len(text) >= 2 and text[0] == text[-1] == '"':
        return text[1:-1].replace('""', '"').strip()
    return text


def _row(line: str, number: int, columns: Sequence[str], separator: str, door: Door) -> Row | None:
    """One row, None where the line is empty or wrong."""
    cells = _cells(line, separator)
    if cells is None:
        door.refuse_line(number, *OPEN_QUOTE)
        return None
    count = len(cells)
    while cells and cells[-1] == "":
        cells.pop()
    if not cells:
        return None
    if len(cells) > len(columns):
        door.refuse_line(number, *_too_many(cells, columns, separator))
        return None
    return Row(number, (*cells, *[""] * (len(columns) - len(cells))), count)


def _too_many(cells: Sequence[str], columns: Sequence[str], separator: str) -> tuple[str, str]:
    """Why a row has more cells than the header: mostly because decimal commas were split."""
    extra = len(cells) - len(columns)
    halves = [
        i for i in range(len(columns)) if _HALF_NUMBER.fullmatch(cells[i]) and re.fullmatch("[0-9]+", cells[i + 1])
    ]
    if separator == "," and halves and extra <= len(columns):
        reading = [i for i in halves if label(columns[i]) not in {"station", "note", "temperature_c"}]
        at = reading[0] if reading and extra == 1 else halves[0]
        whole = f"{cells[at]},{cells[at + 1]}"
        return f"{label(columns[at])} {quoted(whole)} is not a number", DECIMAL_COMMA
    what = f"has {len(cells)} cells where the header names {len(columns)} columns"
    return what, "give each row one cell for each column"
