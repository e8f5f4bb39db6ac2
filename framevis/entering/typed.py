"""What a typed line means: a reading with or without its unit, as fingers or a gauge with a keyboard's plug type it.

Takes one line; gives exact decimals in the unit that was typed, or a sentence that says what is wrong.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal

from framevis.entering.unit_words import Dimension, converted, listed, unit_of
from framevis.reading.door import quoted

MOST_CHARACTERS = 60
LONGEST = 12  # powers of ten
_NUMBER = r"[+-]?(?:[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+)(?:[eE][+-]?[0-9]{1,2})?"
_UNIT = r"(?!to\b)[^\s\d.,;/+-][^\d;]*?"
_READING = re.compile(rf"({_NUMBER})\s*({_UNIT})?")
_PAIR = re.compile(rf"({_NUMBER})\s*({_UNIT})?(?:\s+to\s+|\s*[;/]\s*|\s+)({_NUMBER})\s*({_UNIT})?")
_THOUSANDS = re.compile(r"[+-]?[0-9]{1,3}(?:[.,' ][0-9]{3})+(?:[.,][0-9]*)?\s*\D*")
_MINUS = str.maketrans({"−": "-", "‐": "-", "‑": "-", "–": "-", "＋": "+", "\u00a0": " "})


@dataclass(frozen=True)
class Typed:
    """Values in the file's unit `unit`, all in the same; `with_unit`: the line named it."""

    values: tuple[Decimal, ...]
    unit: str
    with_unit: bool


def cleaned(line: str) -> str:
    """A line without what a gauge or a terminal may put around it."""
    return "".join(mark for mark in line if mark.isprintable() or mark == "\t").replace("\t", " ").strip()


def typed(line: str, count: int, unit: str, dimension: Dimension) -> Typed | str:
    """`count` readings (1, or 2 for go and no-go) from a line; a bare number is in `unit`. A sentence where not."""
    text = line.translate(_MINUS)
    if len(text) > MOST_CHARACTERS:
        return "That line is too long for a reading: type it again."
    found = _PAIR.fullmatch(text) if count == 2 else _READING.fullmatch(text)
    if found is None:
        return _fault(text, count)
    numbers = found.groups()[::2] if count == 2 else found.groups()[:1]
    words = [(word or "").strip() for word in (found.groups()[1::2])]
    units = [_unit(word or words[-1], unit, dimension) for word in words]
    for word, known in zip(words, units, strict=True):
        if known is None:
            shown = quoted(word or words[-1], 20)
            return f"{shown} is no unit of {_what(dimension)}: use one of {listed(dimension)}, or none."
    values = [
        Decimal(number.replace(",", ".")) * known[1] for number, known in zip(numbers, units, strict=True) if known
    ]
    if any(value and not -LONGEST <= value.adjusted() <= LONGEST for value in values):
        return f"{quoted(text, 40)} can't be a reading: type it again."
    unit_typed = next(known[0] for known in units if known)
    turned = [
        converted(value, known[0], unit_typed, dimension) for value, known in zip(values, units, strict=True) if known
    ]
    return Typed(tuple(turned), unit_typed, bool(words[-1]))


def _unit(word: str, unit: str, dimension: Dimension) -> tuple[str, Decimal] | None:
    return unit_of(word, dimension) if word else (unit, Decimal(1))


def _what(dimension: Dimension) -> str:
    return {"length": "a length", "angle": "a level's reading", "force": "a force", "station": "a station"}[dimension]


def _fault(text: str, count: int) -> str:
    if _THOUSANDS.fullmatch(text) and count == 1:
        return f"{quoted(text, 40)} is not a number: write thousands without a separator."
    if count == 2 and _READING.fullmatch(text):
        return "Type both feelers: the thickest that goes in, the thinnest that doesn't, as 20 30."
    if count == 2:
        return f"{quoted(text, 40)} is no pair of feelers: type go and no-go, as 20 30."
    return f"{quoted(text, 40)} is not a number: type the reading again, or ? for help."


def plain(value: Decimal) -> str:
    """A value as the file holds it: no exponent, a point."""
    return format(value, "f")
