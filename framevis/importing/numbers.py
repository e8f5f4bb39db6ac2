"""Numbers as files write them: decimal point or comma, thousands, a unit behind.

Takes cells of the columns that matter; gives the decimal sign of the file and exact decimals.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

_MINUS = str.maketrans({"−": "-", "‐": "-", "‑": "-", "–": "-", "\u00a0": " ", "\u202f": " ", "\u2009": " "})
_DIGITS = r"[+-]?[0-9.,]*[0-9][0-9.,]*(?: [0-9]{3}(?:[.,][0-9]*)?)*(?:[eE][+-]?[0-9]{1,2})?"
_PARTS = re.compile(rf"""({_DIGITS})\s*([^\W\d_][^\d]*|["'°′″’”][^\d]*)?""")
_PLAIN = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,2})?")
_GROUPED = {
    ".": re.compile(r"[+-]?[1-9][0-9]{0,2}(?:[, ][0-9]{3})+(?:\.[0-9]*)?"),
    ",": re.compile(r"[+-]?[1-9][0-9]{0,2}(?:[. ][0-9]{3})+(?:,[0-9]*)?"),
}
OTHER = {".": ",", ",": "."}
MOST_CHARACTERS = 80  # of a cell that may be a number
LONGEST = 12  # powers of ten


@dataclass(frozen=True)
class Number:
    """A cell's value, and the unit written behind it (empty: none)."""

    value: Decimal
    unit: str


@dataclass(frozen=True)
class Decision:
    """The decimal sign of a file. `sure`: a cell can only be read so; None in `sign`: cells contradict each other."""

    sign: str | None
    sure: bool
    example: str = ""


def parts(cell: str) -> tuple[str, str] | None:
    """Number and unit of a cell as they stand; None where there is no number."""
    found = _PARTS.fullmatch(cell.translate(_MINUS).strip()) if len(cell) <= MOST_CHARACTERS else None
    return None if found is None else (found[1], (found[2] or "").strip())


def is_number(cell: str) -> bool:
    """Whether a cell holds a number by either decimal sign: a date or a time is none."""
    return any(number(cell, sign) is not None for sign in OTHER)


def decimal_sign(cells: Iterable[str]) -> Decision:
    """What separates the decimals in these cells."""
    texts = [found[0] for cell in cells if (found := parts(cell))]
    possible = {sign: [text for text in texts if _read(text, sign) is None] for sign in OTHER}
    marked = [text for text in texts if set(text) & {".", ","}]
    good = [sign for sign, faults in possible.items() if not faults]
    if not marked or good == ["."]:
        return Decision(".", True)
    if good == [","]:
        return Decision(",", True)
    if not good:
        return Decision(None, False, next(iter(possible["."]), ""))
    uses = "," if any("," in text for text in marked) else "."  # all of them are like 1,234: either way makes sense
    return Decision(uses, False, marked[0]) if uses == "," else Decision(".", True)


def number(cell: str, sign: str) -> Number | None:
    """The number in a cell, None where there is none."""
    found = parts(cell)
    value = None if found is None else _read(found[0], sign)
    if found is None or value is None or (value and not -LONGEST <= value.adjusted() <= LONGEST):
        return None
    return Number(value, found[1])


def _read(text: str, sign: str) -> Decimal | None:
    if _GROUPED[sign].fullmatch(text):
        text = text.replace(OTHER[sign], "").replace(" ", "")
    plain = text.replace(",", ".") if sign == "," and "." not in text else text
    return Decimal(plain) if _PLAIN.fullmatch(plain) and (sign == "." or "." not in text) else None
