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
from math import ceil, perm

import numpy as np
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
        return min(max(ceil(round(self.length_mm / KNOT_SPACING_MM, 6)), FEWEST_INTERVALS), MOST_INTERVALS)

    @property
    def size(self) -> int:
        return self.intervals + 3

    def shapes(self, stations_mm: Floats, derivative: int = 0) -> Floats:
        """Values, or derivatives by s (1/mm), of all shapes at stations (N,): (N, size)."""
        intervals = self.intervals
        x = np.asarray(stations_mm, dtype=np.float64) * (intervals / self.length_mm)
        x = np.minimum(np.maximum(x, 0.0), intervals)
        interval = np.minimum(x.astype(np.intp), intervals - 1)
        powers = _powers(x - interval, derivative)
        values = np.matmul(powers[:, None, :], _shape_cubics(intervals)[interval])[:, 0]
        return np.asarray(values * (intervals / self.length_mm) ** derivative)


def _powers(t: Floats, derivative: int) -> Floats:
    """1, t, t², t³ (N, 4), or their derivatives by t."""
    powers = np.zeros((t.size, 4))
    for exponent in range(derivative, 4):
        powers[:, exponent] = perm(exponent, derivative) * t ** (exponent - derivative)
    return powers


@lru_cache(maxsize=128)
def _shape_cubics(intervals: int) -> Floats:
    """Every shape on every interval as a cubic in t, 0 ≤ t ≤ 1 from knot to knot (intervals, 4, intervals + 3)."""
    splines = _spline_cubics(intervals)
    mass, bending = _energies(splines)
    eigenvalue, vector = eigh(bending, mass)
    spread = 1.0 / np.sqrt(eigenvalue[LINEAR:])
    spread /= np.sqrt(np.sum(spread**2))
    knots = _knots(intervals)
    greville = np.array([knots[i + 1 : i + 4].mean() for i in range(intervals + 3)])  # their straight line is x itself
    columns = [np.ones_like(greville), greville - 0.5, *(vector[:, LINEAR:] * spread).T]
    return locked(splines @ np.column_stack(columns))


def _energies(splines: Floats) -> tuple[Floats, Floats]:
    """∫BᵢBⱼ and ∫Bᵢ″Bⱼ″ over [0, 1] of B-splines given as cubics, exact by four Gauss points an interval."""
    intervals = len(splines)
    node, weight = np.polynomial.legendre.leggauss(4)
    w = np.tile(weight / (2.0 * intervals), intervals)
    value, curvature = (
        (_powers((node + 1.0) / 2.0, order) @ splines).reshape(w.size, -1) * intervals**order for order in (0, 2)
    )
    return value.T @ (value * w[:, None]), curvature.T @ (curvature * w[:, None])


def _knots(intervals: int) -> Floats:
    return np.concatenate([np.zeros(3), np.linspace(0.0, 1.0, intervals + 1), np.ones(3)])


def _spline_cubics(intervals: int) -> Floats:
    """The cubic B-splines on evenly spaced knots over [0, 1] as cubics in t (intervals, 4, intervals + 3).

    Four values fix a cubic; they come from the recursion of Cox and de Boor.
    """
    t = np.array([0.1, 0.35, 0.65, 0.9])
    x = ((np.arange(intervals)[:, None] + t) / intervals).reshape(-1, 1)
    knots = _knots(intervals)
    basis = ((knots[:-1] <= x) & (x < knots[1:])).astype(np.float64)
    for degree in (1, 2, 3):
        rise, fall = knots[degree:-1] - knots[: -degree - 1], knots[degree + 1 :] - knots[1:-degree]
        left = np.divide(x - knots[: -degree - 1], rise, out=np.zeros((x.size, rise.size)), where=rise > 0.0)
        right = np.divide(knots[degree + 1 :] - x, fall, out=np.zeros((x.size, fall.size)), where=fall > 0.0)
        basis = left * basis[:, :-1] + right * basis[:, 1:]
    return np.asarray(np.linalg.solve(_powers(t, 0), basis.reshape(intervals, 4, -1)))
