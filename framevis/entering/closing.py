"""Closure: how far the way back says something else than the way out.

Takes a finished sheet; gives mean and largest difference over the stations that were read both ways.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

from framevis.entering.sheet import Sheet
from framevis.entering.slots import Slot, value_of

GOOD_UM, BAD_UM = 10.0, 20.0  # common practice: a return that differs by more than 10–20 µm is a bad run
WIDE = 3.0


@dataclass(frozen=True)
class Closure:
    """Back minus out, in µm or mrad: mean, the largest with its station (mm), over so many stations."""

    mean: float
    largest: float
    station_mm: float
    count: int


def closure_of(sheet: Sheet, slots: Sequence[Slot], factor: float) -> Closure | None:
    """The closure of a sheet; None where no station was read twice. `factor`: µm or mrad in the column's unit."""
    first: dict[float, float] = {}
    differences: dict[float, float] = {}
    for slot in slots:
        value, station = value_of(sheet, slot), round(sheet.station_mm(slot.row), 6)
        if value is None:
            continue
        if station in first:
            differences[station] = (value - first[station]) * factor
        else:
            first[station] = value
    if not differences:
        return None
    worst = max(differences, key=lambda station: abs(differences[station]))
    mean = sum(differences.values()) / len(differences)
    return Closure(mean, differences[worst], worst, len(differences))


def judged(closure: Closure, u: float, is_angle: bool) -> str:
    """What to make of it: for lengths by common practice, for levels by their own uncertainty (mrad)."""
    scatter = WIDE * sqrt(2.0) * u
    good, bad = (scatter, 2.0 * scatter) if is_angle else (GOOD_UM, BAD_UM)
    if abs(closure.largest) <= good:
        return "a good run"
    source = "by the level's own scatter" if is_angle else "common practice: 10 to 20 µm at most"
    if abs(closure.largest) <= bad:
        return f"at the edge of a good run ({source}): take it again if you can"
    return f"a bad run ({source}): something moved; clean, let it settle, clamp, and take it again"
