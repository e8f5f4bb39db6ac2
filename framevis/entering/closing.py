"""Closure of a sheet: how far the way back says something else than the way out.

Takes a sweep's sheet; gives the same closure as the check before final torque, and what to make of it in words.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from framevis.entering.sheet import Sheet
from framevis.entering.slots import Slot, value_of
from framevis.frame import Sweep, SweepReadings, locked
from framevis.torque.closure import Closure, closure_of


def closure_in(sheet: Sheet, slots: Sequence[Slot], sweep: Sweep, factor: float) -> Closure | None:
    """The closure of a sheet; None where no station was read twice. `factor`: µm or mrad in the column's unit."""
    read = [(slot.row, sheet.station_mm(slot.row), value_of(sheet, slot)) for slot in slots]
    known = [(row, round(station, 6), value * factor) for row, station, value in read if value is not None]
    if not known:
        return None
    rows, stations, values = zip(*known, strict=True)
    return closure_of(
        SweepReadings(
            sweep=sweep,
            station_mm=locked(stations),
            values=locked(values),
            u=locked(np.full(len(rows), sweep.u)),
            order=locked(rows),
            line=rows,
        )
    )


def judged(closure: Closure, limits: str) -> str:
    """What to make of it. `limits`: good and bad in words, as 10 to 20 µm."""
    size = abs(float(closure.difference[closure.worst]))
    if size <= closure.good:
        return "a good run"
    if size <= closure.bad:
        return f"at the edge of a good run ({limits} at most): take it again if you can"
    return f"a bad run ({limits} at most): something moved; clean, let it settle, clamp, and take it again"
