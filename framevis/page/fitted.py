"""What each reading says of a rail's curve: the curve there, plus what the reading is off from the estimate.

Takes a study, gives points for the rail charts: readings carried by or laid across one rail, and the second rail of
a bridge. Their offsets and slopes, which no reading knows, are those of the estimate.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from framevis.curves import Curve, RailCurves
from framevis.deviations import Component
from framevis.frame import Rail, SweepReadings
from framevis.observe import view
from framevis.study import Study

KINDS = ("indicator", "level_across", "bridge")


@dataclass(frozen=True)
class Point:
    """One reading on a rail's curve, µm or mrad with its standard uncertainty."""

    sweep: str
    station_mm: float
    value: float
    u: float
    suspect: bool


def points(study: Study, curves: RailCurves, component: Component) -> list[Point]:
    """All readings that look at one component of a rail."""
    curve: Curve = {"lateral": curves.lateral, "height": curves.height, "roll": curves.roll}[component]
    found: list[Point] = []
    for checked in study.posterior.checked:
        readings, suspect = checked.readings, checked.suspect
        weight = _weight(readings, curves.rail, component)
        if abs(weight) < 0.5:
            continue
        on_curve = np.interp(readings.station_mm, curves.stations_mm, curve.mean)
        for i in range(readings.values.size):
            value = float(on_curve[i] + checked.residual[i] / weight)
            station, u = float(readings.station_mm[i]), float(readings.u[i])
            found.append(Point(readings.sweep.name, station, value, u, bool(suspect[i])))
    return found


def _weight(readings: SweepReadings, rail: Rail, component: Component) -> float:
    """How strongly a sweep's readings follow the rail's own part of a component; 0 where they don't show it."""
    sweep = readings.sweep
    shown = sweep.rails[-1].name == rail.name if sweep.rails else False
    seen = "roll" if sweep.kind == "level_across" and len(sweep.rails) == 1 else sweep.direction
    if sweep.kind not in KINDS or not shown or seen != component:
        return 0.0
    key, parts = (f"own_{component}", rail.name), view(sweep, readings.station_mm).parts
    return sum(weight for part in parts for name, weight in part.weights.items() if name == key)
