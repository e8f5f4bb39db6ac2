"""The cells of a spreadsheet (.xlsx, ISO/IEC 29500) as texts.

Takes the bytes of a file; gives rows of texts with decimal points, and the sheet's title. Needs openpyxl, an extra.
"""

from __future__ import annotations

import io
import warnings
import zipfile
from typing import Any

from framevis.errors import BadInput, Problem, problem
from framevis.reading.door import did_you_mean, quoted

MOST_INSIDE_BYTES = 20_000_000  # unpacked
MOST_ROWS, MOST_CELLS = 20_001, 201
Cells = list[tuple[str, ...]]


def is_workbook(raw: bytes) -> bool:
    """Whether a file is a zip archive, as a spreadsheet is."""
    return raw.startswith(b"PK\x03\x04")


def cells_of(raw: bytes, name: str, worksheet: str | None) -> tuple[Cells, str]:
    """All rows of one sheet: the named one, else the first."""
    try:
        import openpyxl
    except ImportError as missing:
        todo = "install openpyxl (pip install 'framevis[xlsx]'), or save the sheet as CSV"
        raise BadInput(problem(name, "is a spreadsheet, and openpyxl, which reads them, is missing", todo)) from missing
    _check_size(raw, name)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # openpyxl says what it leaves out: styles, validations
        try:
            book = openpyxl.load_workbook(io.BytesIO(raw), read_only=True, data_only=True)
            titles = [sheet.title for sheet in book.worksheets]
            title = worksheet if worksheet is not None else next(iter(titles), None)
            if title is None or title not in titles:
                raise BadInput(_no_sheet(name, title, titles))
            rows = book[title].iter_rows(max_row=MOST_ROWS, max_col=MOST_CELLS, values_only=True)
            return [_row(row) for row in rows], title
        except BadInput:
            raise
        except Exception as bad:  # openpyxl raises whatever its parsers do
            raise BadInput(_broken(name)) from bad


def _row(row: tuple[Any, ...]) -> tuple[str, ...]:
    cells = [_text(value) for value in row]
    while cells and not cells[-1]:
        cells.pop()
    return tuple(cells)


def _text(value: object) -> str:
    """A cell as text; numbers with as many digits as a spreadsheet keeps."""
    if value is None:
        return ""
    if isinstance(value, float):
        return f"{value:.15g}"
    return str(value).strip()


def _check_size(raw: bytes, name: str) -> None:
    """A small archive can unpack to a big one."""
    try:
        with zipfile.ZipFile(io.BytesIO(raw)) as archive:
            inside = sum(entry.file_size for entry in archive.infolist())
    except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError, IndexError) as bad:
        raise BadInput(_broken(name)) from bad
    if inside > MOST_INSIDE_BYTES:
        todo = f"at most {MOST_INSIDE_BYTES / 1e6:g} MB are read; is it the right file?"
        raise BadInput(problem(name, f"unpacks to {inside / 1e6:.0f} MB", todo))


def _broken(name: str) -> Problem:
    return problem(name, "is no spreadsheet that can be read", "save it again as .xlsx, or as CSV")


def _no_sheet(name: str, title: str | None, titles: list[str]) -> Problem:
    if title is None:
        return problem(name, "has no sheet", "is it the right file?")
    return problem(name, f"has no sheet {quoted(title)}", did_you_mean(title, titles), field="--worksheet")
