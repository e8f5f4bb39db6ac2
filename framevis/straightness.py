"""Straightness of a measured line by the three reference lines of the standards.

Takes heights at stations, gives the end-point, least-squares and minimum-zone lines and the straightness by each:
the distance between the two parallels that enclose all points (ISO 230-1, 3.4 and ISO 12780-1).
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from framevis.frame import Floats


@dataclass(frozen=True)
class ReferenceLine:
    """value = intercept + slope · station, and the spread (same unit as the values) of the points about it."""

    slope: float
    intercept: float
    straightness: float


@dataclass(frozen=True)
class Straightness:
    end_point: ReferenceLine
    least_squares: ReferenceLine
    minimum_zone: ReferenceLine


def straightness(stations: Floats, values: Floats) -> Straightness:
    """All three lines for values (N,) at increasing stations (N,), N ≥ 2."""
    x, y = np.asarray(stations, dtype=np.float64), np.asarray(values, dtype=np.float64)
    ends = (y[-1] - y[0]) / (x[-1] - x[0])
    centred = x - x.mean()
    fitted = float(centred @ (y - y.mean()) / (centred @ centred))
    return Straightness(_about(x, y, float(ends)), _about(x, y, fitted, mean=True), _about(x, y, _zone_slope(x, y)))


def _about(x: Floats, y: Floats, slope: float, *, mean: bool = False) -> ReferenceLine:
    """The line of a slope: through the mean of the points, or through the first of them."""
    rest = y - slope * x
    return ReferenceLine(slope, float(rest.mean() if mean else rest[0]), float(np.ptp(rest)))


def _zone_slope(x: Floats, y: Floats) -> float:
    """Slope of the narrowest zone: it lies along an edge of the convex hull, upper or lower."""
    edges = [*_hull_slopes(x, y), *(-slope for slope in _hull_slopes(x, -y))]
    spread = [float(np.ptp(y - slope * x)) for slope in edges]
    return edges[int(np.argmin(spread))]


def _hull_slopes(x: Floats, y: Floats) -> list[float]:
    """Slopes of the lower convex hull's edges, left to right (Andrew's monotone chain)."""
    hull: list[tuple[float, float]] = []
    for point in zip(x.tolist(), y.tolist(), strict=True):
        while len(hull) > 1 and _turns_right(hull[-2], hull[-1], point):
            hull.pop()
        hull.append(point)
    return [(b[1] - a[1]) / (b[0] - a[0]) for a, b in pairwise(hull)]


def _turns_right(a: tuple[float, float], b: tuple[float, float], c: tuple[float, float]) -> bool:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]) <= 0.0
