"""An elastic strip of given length: the cubic B-splines in which every unknown function of s is written.

Takes a length and places along it, gives the values of an offset, a slope and the strip's own bending shapes.
The bending shapes are those of a free strip (they solve P v = λ M v, with P the bending energy ∫f″² and M the
mean square), so "prior with bending energy" is independent coefficients with variance ∝ 1/λ, and one number, the
rms about the best-fit straight line, says how wide the prior is. The posterior mean under it is a smoothing
spline (Wahba 1978).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.interpolate import BSpline
from scipy.linalg import eigh

from framevis.frame import Floats, locked

KNOT_SPACING_MM = 50.0  # a rail can't kink between screws, and stations nearer than this are rare
FEWEST_INTERVALS, MOST_INTERVALS = 10, 96
LINEAR = 2  # the first two columns: offset, slope


@dataclass(frozen=True)
class Strip:
    """A strip of `length_mm`. Columns of `shapes`: offset 1, slope from −½ to +½, then bending shapes.

    The bending shapes are scaled so that independent unit normals give an rms of 1 about the best-fit line.
    """

    length_mm: float

    @property
    def intervals(self) -> int:
        return int(np.clip(np.ceil(round(self.length_mm / KNOT_SPACING_MM, 6)), FEWEST_INTERVALS, MOST_INTERVALS))

    @property
    def size(self) -> int:
        return self.intervals + 3

    def shapes(self, stations_mm: Floats, derivative: int = 0) -> Floats:
        """Values, or derivatives by s (1/mm), of all shapes at stations (N,): (N, size)."""
        knots, modes = _modes(self.intervals)
        x = np.clip(np.asarray(stations_mm, dtype=np.float64) / self.length_mm, 0.0, 1.0)
        spline = BSpline(knots, modes, 3)
        return np.asarray(spline(x, nu=derivative)) / self.length_mm**derivative


@lru_cache(maxsize=128)
def _modes(intervals: int) -> tuple[Floats, Floats]:
    """Knots on [0, 1] and the B-spline coefficients of all shapes as columns (intervals + 3, same)."""
    knots = np.concatenate([np.zeros(3), np.linspace(0.0, 1.0, intervals + 1), np.ones(3)])
    mass, bending = _energies(knots, intervals)
    eigenvalue, vector = eigh(bending, mass)
    spread = 1.0 / np.sqrt(eigenvalue[LINEAR:])
    spread /= np.sqrt(np.sum(spread**2))
    greville = np.array([knots[i + 1 : i + 4].mean() for i in range(intervals + 3)])
    columns = [np.ones_like(greville), greville - 0.5, *(vector[:, LINEAR:] * spread).T]
    return locked(knots), locked(np.column_stack(columns))


def _energies(knots: Floats, intervals: int) -> tuple[Floats, Floats]:
    """∫BᵢBⱼ and ∫Bᵢ″Bⱼ″ over [0, 1], exact by four Gauss points an interval."""
    node, weight = np.polynomial.legendre.leggauss(4)
    width = 1.0 / intervals
    x = ((np.arange(intervals)[:, None] + (node + 1.0) / 2.0) * width).ravel()
    w = np.tile(weight * width / 2.0, intervals)
    basis = BSpline(knots, np.eye(intervals + 3), 3)
    value, curvature = basis(x), basis(x, nu=2)
    return value.T @ (value * w[:, None]), curvature.T @ (curvature * w[:, None])
