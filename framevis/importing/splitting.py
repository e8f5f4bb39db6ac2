"""Lines of text into cells: which separator a file has, found by which gives the most even columns of numbers.

Takes the text of a file; gives rows of cells with their line numbers, and the separator in words.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence

from framevis.entering.unit_words import WORDS

BLANKS = "blank"
NAMES = {"\t": "tabs", ";": "semicolons", "|": "bars", ",": "commas", BLANKS: "blanks"}
BY_NAME = {"tab": "\t", "semicolon": ";", "comma": ",", "bar": "|", "blank": BLANKS}
LOOKED_AT = 400
MOST_CHARACTERS = 80  # of a cell that may be a number
_LINES = re.compile("\r\n|\n|\r")
_NUMBER = re.compile(r"[+-]?([0-9]+([.,][0-9]*)?|[.,][0-9]+)([eE][+-]?[0-9]{1,3})?")
_COMMA_NUMBER = re.compile(r"[+-]?[0-9]*,[0-9]+")
_UNIT_WORDS = {word for table in WORDS.values() for word in table}
Lines = list[tuple[int, tuple[str, ...]]]


def split_text(
    text: str, separator: str | None = None, *, alone: bool = False, decimal: str | None = None
) -> tuple[Lines, str]:
    """The rows that hold something, # comments left out; `separator` None: found out; `alone`: readings only."""
    lines = [(n, line) for n, line in enumerate(_LINES.split(text), 1) if line.strip() and line.lstrip()[0] != "#"]
    sample = [line for _, line in lines[:LOOKED_AT]]
    mark = _best(sample, alone, decimal) if separator is None else separator
    rows = [(n, tuple(cells_of(line, mark)) if mark else (_unquoted(line),)) for n, line in lines]
    how = f"columns separated by {NAMES[mark]}" if mark else "one column"
    return [(n, cells) for n, cells in rows if any(cells)], how


def _best(sample: Sequence[str], alone: bool, decimal: str | None) -> str | None:
    """The separator that gives the most lines of equally many cells with two or more numbers; None: one column."""
    no_commas = decimal == "," or _is_one_column(sample, alone)
    marks = [mark for mark in NAMES if mark != "," or not no_commas]
    scores = {mark: _score([cells_of(line, mark) for line in sample], mark) for mark in marks}
    best = max(scores, key=lambda mark: scores[mark])
    return best if scores[best][0] else None


def _is_one_column(sample: Sequence[str], alone: bool) -> bool:
    """Whether commas stand for decimals in lines of one number: no stations are asked for, or none would differ."""
    halves = [cells_of(line, ",") for line in sample if _COMMA_NUMBER.fullmatch(_bare(line))]
    most = 0.8 * sum(any(letter.isdigit() for letter in line) for line in sample)
    if not halves or len(halves) < most:
        return False
    wholes = [half[0] for half in halves]  # of stations: none is negative, hardly any comes twice
    return alone or any(whole.startswith("-") for whole in wholes) or len(set(wholes)) < 0.5 * len(wholes)


def _score(rows: Sequence[Sequence[str]], mark: str) -> tuple[int, int]:
    """How many lines of the commonest width hold numbers, whole ones first; how many cells of theirs are numbers."""
    numeric = [[bool(_NUMBER.fullmatch(_bare(cell))) for cell in row] for row in rows]
    if mark == ",":  # where semicolons or tabs stand too, commas are decimals
        marked = [any(set(cell) & {";", "\t"} for cell in row) for row in rows]
        numeric = [[] if other else row for row, other in zip(numeric, marked, strict=True)]
    widths = Counter(len(row) for row in numeric if len(row) >= 2 and sum(row) >= 1)
    if not widths:
        return 0, 0
    width = max(widths, key=lambda each: (widths[each], each))
    chosen = [row for row in numeric if len(row) == width]
    return len(chosen), sum(map(sum, chosen))


def _bare(cell: str) -> str:
    """A cell without sign marks of typesetting and without a unit behind it."""
    if len(cell) > MOST_CHARACTERS:
        return cell
    return re.sub(r"\s*[^\W\d_][^\d\s]{0,8}$", "", cell.strip().replace("−", "-"))


def cells_of(line: str, mark: str) -> list[str]:
    """The cells of a line, blanks and quotation marks taken off. An open quotation mark is a letter like others."""
    if mark == BLANKS:
        return _joined_units(line.split())
    if line.count('"') % 2 or '"' not in line:
        return [_unquoted(cell) for cell in line.split(mark)]
    cells: list[str] = []
    cell, inside = "", False
    for letter in line:
        inside ^= letter == '"'
        if letter == mark and not inside:
            cells.append(cell)
            cell = ""
        else:
            cell += letter
    return [_unquoted(each) for each in (*cells, cell)]


def _joined_units(cells: Sequence[str]) -> list[str]:
    """Units that stand apart go to the cell before: 12.5 mm, Reading [um]."""
    found: list[str] = []
    for cell in cells:
        unit_behind = bool(found) and _NUMBER.fullmatch(found[-1]) and cell.casefold() in _UNIT_WORDS
        if found and (unit_behind or cell[:1] in "[("):
            found[-1] += f" {cell}"
        else:
            found.append(cell)
    return found


def _unquoted(cell: str) -> str:
    text = cell.strip()
    if len(text) >= 2 and text[0] == text[-1] == '"':
        return text[1:-1].replace('""', '"').strip()
    return text
