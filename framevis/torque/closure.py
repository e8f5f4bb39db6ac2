"""Out-and-back closure: by how much the readings of a sweep differ where a station was read again on the way back.

Takes a sweep's readings, gives the differences and what is asked of them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from framevis.frame import Floats, SweepReadings

GOOD_UM, BAD_UM = 10.0, 20.0  # a return that differs by more than 10–20 µm is a bad run; common practice
LEVEL_FOOT_MM = 250.0  # usual foot of a level, over which the same lengths make an angle
GOOD_U, BAD_U = 3.0, 6.0  # for all but indicators and bridges, which may be coarser: standard uncertainties instead
FINE = ("indicator", "bridge")


@dataclass(frozen=True, eq=False)
class Closure:
    """Later reading less earlier one at the stations (N,) of two rows, µm or mrad; the limits that it is held against.

    `drift`: the difference at the station that the sweep began with, None where it was not read again.
    """

    readings: SweepReadings
    station_mm: Floats
    difference: Floats
    good: float
    bad: float
    drift: float | None

    @property
    def mean(self) -> float:
        return float(self.difference.mean())

    @property
    def worst(self) -> int:
        return int(np.argmax(np.abs(self.difference)))


def closure_of(readings: SweepReadings) -> Closure | None:
    """The closure of a sweep; None where no station was read in a second row."""
    stations, differences = [], []
    for station in np.unique(readings.station_mm):
        here = readings.station_mm == station
        rows = np.unique(readings.order[here])
        if rows.size > 1:
            first, last = (float(readings.values[here & (readings.order == row)].mean()) for row in rows[[0, -1]])
            stations.append(float(station))
            differences.append(last - first)
    if not stations:
        return None
    start = float(readings.station_mm[int(np.argmin(readings.order))])
    drift = differences[stations.index(start)] if start in stations else None
    return Closure(readings, np.array(stations), np.array(differences), *limits_of(readings), drift)


def limits_of(readings: SweepReadings) -> tuple[float, float]:
    """The difference up to which a run is good, and beyond which it is bad, µm or mrad."""
    sweep = readings.sweep
    foot_mm = (sweep.base_mm or LEVEL_FOOT_MM) if sweep.is_angle else 1.0
    good, bad = GOOD_UM / foot_mm, BAD_UM / foot_mm
    if sweep.kind in FINE:
        return good, bad
    return max(good, GOOD_U * sweep.u), max(bad, BAD_U * sweep.u)
