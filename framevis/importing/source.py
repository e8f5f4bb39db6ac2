"""A file from a gauge or a spreadsheet as rows of texts, whatever wrote it.

Takes a path; gives the rows, and in words how they were read. Raises `BadInput` with one sentence where nothing can.
"""

from __future__ import annotations

import codecs
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from framevis.errors import BadInput, Problem, problem
from framevis.importing import workbook
from framevis.importing.splitting import split_text
from framevis.reading.door import quoted

MOST_BYTES = 4_000_000
MOST_ROWS = 20_000
MOST_CHARACTERS = 20_000  # in one line
MOST_CELLS = 200  # in one row
TEXT_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)


@dataclass(frozen=True)
class Row:
    """The cells of a line (or a spreadsheet's row), with its number, from 1."""

    line: int
    cells: tuple[str, ...]


@dataclass(frozen=True)
class Source:
    """The rows that hold something. `how`: how the file was read; `decimal`: known where the file itself says it."""

    name: str
    raw: bytes
    rows: tuple[Row, ...]
    how: str
    decimal: str | None
    row_word: str = "line"


def read_source(
    path: Path,
    separator: str | None = None,
    worksheet: str | None = None,
    *,
    alone: bool = False,
    decimal: str | None = None,
) -> Source:
    """What stands in a file: text in any usual encoding, or a spreadsheet (.xlsx).

    `separator`: a mark of `splitting.NAMES`, None: found out; `alone`: readings without
    stations; `decimal`: as the user says it.
    """
    name = quoted(path.name, 120)
    raw = _bytes(path, name)
    if workbook.is_workbook(raw):
        cells, title = workbook.cells_of(raw, name, worksheet)
        rows = tuple(Row(n, row) for n, row in enumerate(cells, 1) if any(row))
        return _checked(Source(path.name, raw, rows, f"spreadsheet, sheet {quoted(title)}", ".", "row"), name)
    if worksheet is not None:
        raise BadInput(problem("--worksheet", f"{name} is no spreadsheet", "leave it out"))
    text, encoding = decoded(raw, name)
    if text.count("\n") + text.count("\r") > 2 * MOST_ROWS:
        raise BadInput(_too_many_rows(name))
    if max(map(len, text.splitlines()), default=0) > MOST_CHARACTERS:
        raise BadInput(problem(name, f"has a line of more than {MOST_CHARACTERS} characters", "is it the right file?"))
    lines, how = split_text(text, separator, alone=alone, decimal=decimal)
    rows = tuple(Row(number, cells) for number, cells in lines)
    return _checked(Source(path.name, raw, rows, f"{encoding} text, {how}", None), name)


def _checked(source: Source, name: str) -> Source:
    if not source.rows:
        raise BadInput(problem(name, "holds nothing", "is it the right file?"))
    if len(source.rows) > MOST_ROWS:
        raise BadInput(_too_many_rows(name))
    if max(len(row.cells) for row in source.rows) > MOST_CELLS:
        raise BadInput(problem(name, f"has more than {MOST_CELLS} columns", "is it the right file?"))
    return source


def _too_many_rows(name: str) -> Problem:
    return problem(name, f"has more than {MOST_ROWS} rows", "is it the right file?")


def _bytes(path: Path, name: str) -> bytes:
    try:
        if not path.exists():
            raise BadInput(problem(name, "there is no such file", "correct its name"))
        if not path.is_file():
            raise BadInput(problem(name, "is not an ordinary file", "give a file of readings"))
        if (size := path.stat().st_size) > MOST_BYTES:
            todo = f"at most {MOST_BYTES / 1e6:g} MB are read; is it the right file?"
            raise BadInput(problem(name, f"has {size / 1e6:.0f} MB", todo))
        return path.read_bytes()
    except (OSError, ValueError) as bad:
        why = bad.strerror if isinstance(bad, OSError) else "its name is not valid"
        raise BadInput(problem(name, f"can't be read ({why})", "check its name and its permissions")) from bad


def decoded(raw: bytes, name: str) -> tuple[str, str]:
    """The text in some bytes and the name of its encoding."""
    for mark, encoding in TEXT_MARKS:
        if raw.startswith(mark):
            return _text(raw, (encoding,), name)
    if b"\x00" in raw:
        return _text(raw, _utf16(raw), name)
    return _text(raw, ("utf-8", "cp1252"), name)


def _utf16(raw: bytes) -> Sequence[str]:
    """UTF-16 without its mark: zeros stand at every other place, where the text is mostly ASCII."""
    zeros = raw[0::2].count(0), raw[1::2].count(0)
    if max(zeros) < 0.3 * len(raw) / 2 or min(zeros) > 0.05 * len(raw):
        return ()
    return ("utf-16-le",) if zeros[1] > zeros[0] else ("utf-16-be",)


def _text(raw: bytes, encodings: Sequence[str], name: str) -> tuple[str, str]:
    for encoding in encodings:
        try:
            text = raw.decode(encoding)
        except UnicodeDecodeError:
            continue
        if "\x00" not in text:
            return text, encoding.upper().removesuffix("-SIG")
    raise BadInput(problem(name, "is not a text file", "export it as text (CSV), or give an .xlsx file"))
