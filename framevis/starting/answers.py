"""What a new frame is made of: the answers to its questions, and how a typed answer is read.

Takes what somebody typed; gives values in the frame's own unit, or raises `Refused` with what is wrong and what to do.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from framevis.frame import Arrangement, Mouth, Shape
from framevis.reading.door import did_you_mean, quoted
from framevis.units import MM_PER_LENGTH_UNIT

Unit = Literal["mm", "in"]
Kind = Literal["portal", "single"]
MM_PER_TYPED = {**MM_PER_LENGTH_UNIT, "cm": 10.0, "m": 1000.0, '"': 25.4}
_TYPED = re.compile(r'([0-9]{1,9}(?:[.,][0-9]{0,9})?|[.,][0-9]{1,9})\s*(mm|cm|m|in|")?', re.IGNORECASE)


class Refused(Exception):
    """An answer that can't be used: what is wrong, and what to do."""

    def __init__(self, what: str, todo: str) -> None:
        self.what, self.todo = what, todo
        super().__init__(f"{what}: {todo}")


@dataclass(frozen=True)
class Answers:
    """A whole set of answers. Lengths in `unit`; `mouth`, `wall` and `span` None where there is no such thing."""

    unit: Unit
    name: str
    kind: Kind
    guide_size: int
    arrangement: Arrangement
    section: Shape
    mouth: Mouth | None
    length: float
    width: float
    depth: float
    wall: float | None
    span: float | None
    stage: str

    @property
    def mm(self) -> float:
        """mm in one unit of these lengths."""
        return MM_PER_LENGTH_UNIT[self.unit]


def number(value: float) -> str:
    """A length as it is written into the file: at most four decimals, none that say nothing."""
    return f"{value:.4f}".rstrip("0").rstrip(".")


def read_length(typed: str, unit: Unit) -> float:
    """A length in `unit`: decimal point or comma; another unit may stand behind it."""
    found = _TYPED.fullmatch(typed.strip())
    if found is None:
        raise Refused(f"{quoted(typed)} is not a length", f"give one number in {unit}, such as {_example(unit)}")
    given = float(found[1].replace(",", "."))
    per = MM_PER_TYPED[found[2].lower()] / MM_PER_LENGTH_UNIT[unit] if found[2] else 1.0
    return round(given * per, 4)


def _example(unit: Unit) -> str:
    return "1500 or 62.5" if unit == "mm" else "60 or 2.5"


def between(value: float, low_mm: float, high_mm: float, unit: Unit, why: str = "") -> float:
    """The value, where it lies within limits given in mm."""
    mm = MM_PER_LENGTH_UNIT[unit]
    if value * mm < low_mm - 1e-9:
        least = number(-(-low_mm / mm // (1.0 if unit == "mm" else 0.05)) * (1.0 if unit == "mm" else 0.05))
        raise Refused(f"{number(value)} {unit} is too little{why}", f"give at least {least} {unit}")
    if value * mm > high_mm + 1e-9:
        most = number(int(high_mm / mm * 100.0 + 1e-6) / 100.0)
        raise Refused(f"{number(value)} {unit} is too much", f"give at most {most} {unit}")
    return value


def read_choice(typed: str, choices: Sequence[str]) -> str:
    """One of a few words; its beginning is enough, capitals don't matter."""
    text = typed.strip().replace("-", "_").replace(" ", "_").casefold()
    exact = [each for each in choices if each.casefold() == text]
    found = exact or [each for each in choices if text and each.casefold().startswith(text)]
    if len(found) != 1:
        near = did_you_mean(typed.strip(), choices)
        todo = near if near.startswith("did") else f"give one of {', '.join(choices)}"
        raise Refused(f"{quoted(typed)} is not one of the answers", todo)
    return found[0]
