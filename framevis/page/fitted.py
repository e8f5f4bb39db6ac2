"""What each reading says of a rail's curve: the curve there, plus what the reading is off from the estimate.

Takes a study, gives points for the rail charts: readings carried by or laid across one rail, and the second rail of
a bridge. Their offsets and slopes, which no reading knows, are those of the estimate.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from scipy.linalg import cho_solve

from framevis.curves import Curve, RailCurves
from framevis.deviations import Component
from framevis.estimate import Solved
from framevis.frame import Flags, Floats, Rail, SweepReadings
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


def residuals(solved: Solved) -> Floats:
    """Reading less what the estimate, unknowns of the sweeps included, says it should be (N,)."""
    reduced = solved.reduced
    left = reduced.y - np.asarray(cho_solve((solved.lower, True), reduced.y))
    fitted = (reduced.q_free @ reduced.y_free + reduced.q_rest @ left) * reduced.u
    return np.asarray(reduced.rows.values - fitted)


def points(study: Study, curves: RailCurves, component: Component) -> list[Point]:
    """All readings that look at one component of a rail."""
    curve: Curve = {"lateral": curves.lateral, "height": curves.height, "roll": curves.roll}[component]
    found: list[Point] = []
    for readings, off, aside in _sweeps(study):
        weight = _weight(readings, curves.rail, component)
        if abs(weight) < 0.5:
            continue
        on_curve = np.interp(readings.station_mm, curves.stations_mm, curve.mean)
        for i in range(readings.values.size):
            value = float(on_curve[i] + off[i] / weight)
            station, u = float(readings.station_mm[i]), float(readings.u[i])
            found.append(Point(readings.sweep.name, station, value, u, bool(aside[i])))
    return found


def _sweeps(study: Study) -> Iterator[tuple[SweepReadings, Floats, Flags]]:
    for solved, aside in zip(study.posterior.groups, study.posterior.aside, strict=True):
        off, start = residuals(solved), 0
        for readings in solved.reduced.rows.sweeps:
            stop = start + readings.values.size
            yield readings, off[start:stop], aside[start:stop]
            start = stop


def _weight(readings: SweepReadings, rail: Rail, component: Component) -> float:
    """How strongly a sweep's readings follow the rail's own part of a component; 0 where they don't show it."""
    sweep = readings.sweep
    shown = sweep.rails[-1].name == rail.name if sweep.rails else False
    seen = "roll" if sweep.kind == "level_across" and len(sweep.rails) == 1 else sweep.direction
    if sweep.kind not in KINDS or not shown or seen != component:
        return 0.0
    key, parts = (f"own_{component}", rail.name), view(sweep, readings.station_mm).parts
    return sum(weight for part in parts for name, weight in part.weights.items() if name == key)
