"""The natural cubic spline: how an elastic beam lies on points of unequal height.

Takes places and heights, gives the curve and its derivatives. The moments at the points are those of the three-moment
equation (Clapeyron; Timoshenko, Strength of Materials), zero at both ends; between points they run straight.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.linalg import solve_banded

from framevis.frame import Floats


@dataclass(frozen=True, eq=False)
class NaturalSpline:
    """Through `heights` (n,) or (n, K: K curves at once) at increasing `places` (n,), n ≥ 2."""

    places: Floats
    heights: Floats

    def __call__(self, s: Floats, derivative: int = 0) -> Floats:
        """Values, or derivatives up to the third, at s (N,) between the ends: (N,) or (N, K)."""
        left = np.clip(np.searchsorted(self.places, s, side="right") - 1, 0, self.places.size - 2)
        t = np.reshape(s - self.places[left], np.shape(s) + (1,) * (self.heights.ndim - 1))
        value, slope, half, sixth = (part[left] for part in self._cubics)
        if derivative == 0:
            return np.asarray(value + t * (slope + t * (half + t * sixth)))
        if derivative == 1:
            return np.asarray(slope + t * (2.0 * half + 3.0 * t * sixth))
        return np.asarray(2.0 * half + 6.0 * t * sixth if derivative == 2 else 6.0 * sixth)

    @cached_property
    def curvatures(self) -> Floats:
        """f″ at the points (n,) or (n, K)."""
        gap, rise = np.diff(self.places), self._rises
        curvature = np.zeros(self.heights.shape)
        if gap.size > 1:
            bands = np.stack([gap[:-1], 2.0 * (gap[:-1] + gap[1:]), gap[1:]])
            bands[0, 1:], bands[2, :-1] = gap[1:-1], gap[1:-1]
            curvature[1:-1] = solve_banded((1, 1), bands, 6.0 * np.diff(rise, axis=0))
        return curvature

    @cached_property
    def _rises(self) -> Floats:
        return np.diff(self.heights, axis=0) / self._gap

    @cached_property
    def _gap(self) -> Floats:
        return np.reshape(np.diff(self.places), (-1,) + (1,) * (self.heights.ndim - 1))

    @cached_property
    def _cubics(self) -> tuple[Floats, Floats, Floats, Floats]:
        """Coefficients of 1, t, t², t³ on every interval."""
        bend, gap = self.curvatures, self._gap
        slope = self._rises - gap * (2.0 * bend[:-1] + bend[1:]) / 6.0
        return self.heights[:-1], slope, bend[:-1] / 2.0, np.diff(bend, axis=0) / (6.0 * gap)
